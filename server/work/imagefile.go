package work

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"maps"
	"strconv"
	"strings"
	"time"

	"courson/geo/format"
	"courson/geo/raster"
	"courson/store"
)

// ImageAnswers say how an image is to be read, where it does not show it.
type ImageAnswers struct {
	Index      string    // "" the band itself; "ndvi" or "ratio" of two bands
	Band, Red  int       // from 1; near infrared and red of an index
	NoValue    []float64 // stored numbers that mean no value
	Factor     float64   // value = stored number x factor + add; 0: as the file says
	Add        float64
	Sensor     string  // what took it, as the map names it
	NoLayer    bool    // do not keep it as a layer of the map
	HalfStripM float64 // how far the strip of vines reaches to each side of the row, m; 0: half the row spacing
	NoBeyond   bool    // values beyond -1 to 1 are no values
	Sure       bool    // the numbers are as they should be: nothing is asked
}

func (a ImageAnswers) pick(band int) raster.Pick {
	p := raster.Pick{Band: band, NoData: a.NoValue}
	if a.NoBeyond {
		p.Range = &[2]float64{-1, 1}
	}
	if a.Factor != 0 || a.Add != 0 {
		factor := a.Factor
		if factor == 0 {
			factor = 1
		}
		p.Scale, p.Offset = &factor, &a.Add
	}
	return p
}

func (a ImageAnswers) source() (raster.Source, error) {
	s := raster.Source{Band: a.pick(a.Band)}
	switch a.Index {
	case "":
		return s, nil
	case "ndvi":
		s.Index = raster.NDVI
	case "ratio":
		s.Index = raster.Ratio
	default:
		return s, &format.Problem{Feature: format.None, Field: "index", What: "not an index of two bands", Found: format.Quote(a.Index), Wanted: "ndvi, ratio, or nothing for the band itself"}
	}
	if a.Red < 1 {
		return s, imageAsk("red", nil, "an index of two bands, and the red one is not said", "", "the number of the red band (red; on the command line --red) beside the near infrared one (band)")
	}
	s.Red = a.pick(a.Red)
	return s, nil
}

func imageAsk(option string, choices []string, what, found, wanted string) *format.Problem {
	return &format.Problem{Feature: format.None, Field: option, What: what, Found: found, Wanted: wanted, Ask: &format.Question{Option: option, Choices: choices}}
}

// image takes an image to the vines, and puts the table of what it says of each in
// its place.
func (u *unfolding) image(name string, at io.ReaderAt, size int64) error {
	job := u.job
	switch {
	case job.As != Auto && job.As != Raster && job.As != Measures && job.As != Detections:
		return &format.Problem{Feature: format.None, What: fmt.Sprintf("an image cannot be a file of %s", job.As), Wanted: "it taken in as an image (raster) or as detections"}
	case len(job.Files) != 1:
		return &format.Problem{Feature: format.None, What: "an image comes alone", Found: fmt.Sprintf("%d files", len(job.Files)), Wanted: "one file, of one day"}
	}
	image, err := u.imageJob(name, at, size)
	if err != nil {
		return err
	}
	got, err := SampleImage(u.ctx, u.st, image)
	if err != nil {
		return imageProblem(err)
	}
	u.in.notices.Add(name, "", format.None, 0, fmt.Sprintf("values for %d vines in %d blocks", got.Vines, got.Blocks))
	for _, text := range got.Notices {
		u.in.notices.Add(name, "", format.None, 0, text)
	}
	f := File{Name: name, Open: func() (io.ReadSeeker, error) { return bytes.NewReader(got.Table), nil },
		layer: layer{form: FormImage, system: got.System, places: got.Places}}
	if job.As != Detections && !job.Image.NoLayer {
		f.picture = func(season int, now time.Time) (*KeptImage, map[string][]byte, error) {
			return image.picture(Keeping{Index: job.Units["canopy_index"], Sensor: job.Image.Sensor, By: job.By, Season: season, Area: got.Area, Now: now})
		}
	}
	u.out = append(u.out, f)
	job.CRS, job.Block = "", "" // the table names vines by their ids
	if job.As != Detections {
		job.As = Measures
	}
	return nil
}

// imageJob settles what must be known of an image.
func (u *unfolding) imageJob(name string, at io.ReaderAt, size int64) (out ImageJob, err error) {
	job := u.job
	if job.Date.IsZero() {
		return out, imageAsk("date", nil, "an image, and not of which day", "", "the day it was taken (date; on the command line --date): 2027-01-31")
	}
	if job.As != Detections && job.Units["canopy_index"] == "" {
		index, ok := map[string]string{"ndvi": "NDVI", "ratio": "NIR/red"}[job.Image.Index]
		if !ok {
			return out, imageAsk("canopy_index", nil, "an image, and not which index it holds, since indices of different names are never compared", "", "the name of the index, such as NDVI (on the command line --unit canopy_index=NDVI)")
		}
		job.Units = maps.Clone(job.Units)
		if job.Units == nil {
			job.Units = map[string]string{}
		}
		job.Units["canopy_index"] = index
	}
	out = ImageJob{Name: name, Image: at, Size: size, CRS: job.CRS, Sure: job.Image.Sure,
		Set: raster.Settings{HalfStripM: job.Image.HalfStripM, Meta: raster.Meta{Date: job.Date, Scale: job.Units["canopy_index"]}}}
	if job.As == Detections {
		out.Column = "score"
	}
	if out.Source, err = job.Image.source(); err != nil {
		return out, err
	}
	var only []string
	if job.Block != "" {
		only = []string{job.Block}
	}
	out.Blocks, err = BlocksOf(u.ctx, u.st, only)
	if errors.Is(err, store.ErrNotFound) {
		return out, &format.Problem{Feature: format.None, Field: "block", What: "a block that is not known", Found: format.Quote(job.Block), Wanted: "the code of a block that is stored"}
	}
	if err == nil && len(out.Blocks) == 0 {
		return out, &format.Problem{Feature: format.None, What: "there are no vines to sample an image for", Wanted: "blocks, rows and vines imported first"}
	}
	return out, err
}

// imageProblem makes a problem of what is wrong with an image, or a question of
// what it leaves open.
func imageProblem(err error) error {
	var doubt *ImageDoubt
	switch {
	case errors.As(err, &doubt):
		return doubt.ask()
	case errors.Is(err, errNoImageCRS):
		return imageAsk("crs", nil, err.Error(), "", "the coordinate system stated: EPSG:32632")
	case errors.Is(err, ErrImage):
		return &format.Problem{Feature: format.None, What: strings.TrimPrefix(err.Error(), ErrImage.Error()+" "), Wanted: "another image, or another answer"}
	}
	return err
}

// ask makes a question of a doubt.
func (d *ImageDoubt) ask() *format.Problem {
	what := fmt.Sprintf("band %d: %s", d.Band, d.Text)
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	var choices []string
	switch d.Doubt {
	case raster.DoubtNoData:
		for _, p := range d.Proposed {
			list := make([]string, len(p.NoData))
			for i, v := range p.NoData {
				list[i] = number(v)
			}
			choices = append(choices, strings.Join(list, " "))
		}
		return imageAsk("no_value", append(choices, "sure"), what, "", "the numbers that mean no value (no_value; on the command line --no-value), or that all are values (sure)")
	case raster.DoubtScale:
		for _, p := range d.Proposed {
			text := number(*p.Scale)
			if *p.Offset != 0 {
				text += " " + number(*p.Offset)
			}
			choices = append(choices, text)
		}
		return imageAsk("factor", choices, what, "", "the factor (factor; on the command line --factor), and what is added to it (add), or that the numbers are right as they are (sure)")
	case raster.DoubtOutside:
		return imageAsk("no_beyond", []string{"yes", "sure"}, what, "", "that values beyond are none (no_beyond; on the command line --no-beyond), another factor, or that they are right (sure)")
	}
	return &format.Problem{Feature: format.None, What: what, Wanted: "another band, or another image"}
}

// keepPicture keeps an image as a layer of the map, in the transaction in which
// its values come in.
func (m *merge) keepPicture() error {
	for _, f := range m.job.Files {
		if f.picture == nil || m.job.DryRun {
			continue
		}
		k, parts, err := f.picture(m.season, m.now)
		if err != nil {
			return fmt.Errorf("keep the image as a layer of the map: %w", err)
		}
		id := k.ID
		said, err := k.save(m.ctx, m.tx, parts)
		if err != nil {
			return err
		}
		m.notices.Add(f.Name, "", format.None, 0, said)
		if k.ID == id {
			m.journal.image, m.report.layer = id, true
		}
	}
	return nil
}
