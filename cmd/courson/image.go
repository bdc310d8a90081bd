package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"courson/geo/raster"
	"courson/server/work"
	"courson/store"
)

// asRaster is the kind of an image.
const asRaster = "raster"

// isImage tells whether a file of detections is an image, by its name.
func isImage(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	return ext == ".tif" || ext == ".tiff"
}

// imageFlags say how an image is to be read.
type imageFlags struct {
	Index     string    `enum:"band,ndvi,ratio" default:"band" help:"Of an image: the band itself, or an index of two bands: ${enum}."`
	Band      int       `placeholder:"N" default:"1" help:"Of an image: the band; near infrared of an index."`
	Red       int       `placeholder:"N" help:"Of an image: the red band of an index."`
	NoValue   []float64 `placeholder:"NUMBER" help:"Of an image: a stored number that means no value, where the file does not say."`
	Factor    float64   `placeholder:"NUMBER" help:"Of an image: value = stored number x this, where the file does not say: 0.0001."`
	Add       float64   `placeholder:"NUMBER" help:"Of an image: added to that."`
	HalfStrip float64   `placeholder:"M" help:"Of an image: how far the strip of vines reaches to each side of the row, so that the alley stays out; without it half the row spacing."`
	Sensor    string    `placeholder:"NAME" help:"Of an image: what took it, as the map names it beside the day."`
	MapLayer  bool      `negatable:"" default:"true" help:"Of an image: keep it as a layer of the map too."`
	Sure      bool      `help:"Of an image: its numbers are as they should be; ask nothing."`
}

func (f imageFlags) pick(band int) raster.Pick {
	p := raster.Pick{Band: band, NoData: f.NoValue}
	if f.Factor != 0 || f.Add != 0 {
		factor := f.Factor
		if factor == 0 {
			factor = 1
		}
		p.Scale, p.Offset = &factor, &f.Add
	}
	return p
}

func (f imageFlags) source() (raster.Source, error) {
	s := raster.Source{Band: f.pick(f.Band)}
	switch f.Index {
	case "ndvi":
		s.Index = raster.NDVI
	case "ratio":
		s.Index = raster.Ratio
	}
	if s.Index != raster.Plain {
		if f.Red < 1 {
			return s, fmt.Errorf("--index %s wants the red band beside the near infrared one (--band): --red N: %w", f.Index, errUsage)
		}
		s.Red = f.pick(f.Red)
	}
	return s, nil
}

// sampled is an image whose values at the vines are about to be taken in.
type sampled struct {
	file *os.File
	job  work.ImageJob
	keep work.Keeping
}

// keepLayer keeps the image as a layer of the map, once its values are in.
func (c *importCommand) keepLayer(p *program, st store.Store, s *sampled) error {
	if s.keep.Index == "" || !c.MapLayer || c.DryRun {
		return nil
	}
	_, said, err := work.KeepImage(p.ctx, st, s.job, s.keep)
	if err != nil {
		return fmt.Errorf("the values of the vines are in, but the image was not kept as a layer of the map (--no-map-layer leaves that out): %w", err)
	}
	fmt.Fprintf(p.stderr, "%s: %s\n", s.job.Name, said)
	return nil
}

// sample puts the table of what an image says of each vine in the place of the
// image, which stays open.
func (c *importCommand) sample(p *program, st store.Store, job *work.ImportJob) (out *sampled, err error) {
	if len(c.Files) != 1 || job.Date.IsZero() {
		return nil, fmt.Errorf("an image comes alone, with the day it was taken (--date): %w", errUsage)
	}
	score := job.As == work.Detections
	if !score && job.Units["canopy_index"] == "" {
		name, ok := map[string]string{"ndvi": "NDVI", "ratio": "NIR/red"}[c.Index]
		if !ok {
			return nil, fmt.Errorf("--as raster wants to know what index the image holds, since indices of different names are never compared: --unit canopy_index=NDVI: %w", errUsage)
		}
		units := map[string]string{"canopy_index": name}
		for k, v := range job.Units {
			units[k] = v
		}
		job.Units = units
	}
	image := work.ImageJob{Name: filepath.Base(c.Files[0]), CRS: c.CRS, Sure: c.Sure, Set: raster.Settings{HalfStripM: c.HalfStrip, Meta: raster.Meta{Date: job.Date, Scale: job.Units["canopy_index"]}}}
	if score {
		image.Column = "score"
	}
	if image.Source, err = c.source(); err != nil {
		return nil, err
	}
	var only []string
	if c.Block != "" {
		only = []string{c.Block}
	}
	if image.Blocks, err = work.BlocksOf(p.ctx, st, only); err != nil {
		return nil, err
	}
	file, err := os.Open(c.Files[0])
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			_ = file.Close()
		}
	}()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	image.Image, image.Size = file, info.Size()
	got, err := work.SampleImage(p.ctx, st, image)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(p.stderr, "%s: values for %d vines in %d blocks\n", image.Name, got.Vines, got.Blocks)
	for _, n := range got.Notices {
		fmt.Fprintf(p.stderr, "  %s\n", n)
	}
	job.CRS, job.Block = "", ""
	job.Files = []work.File{{Name: image.Name, Open: func() (io.ReadSeeker, error) { return bytes.NewReader(got.Table), nil }}}
	out = &sampled{file: file, job: image, keep: work.Keeping{Sensor: c.Sensor, By: c.By, Season: c.Season, Area: got.Area, Now: p.now()}}
	if !score {
		out.keep.Index = job.Units["canopy_index"]
	}
	return out, nil
}
