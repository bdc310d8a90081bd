package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"courson/server/work"
	"courson/store"
)

type importCommand struct {
	dataFlags
	estateFlags
	imageFlags
	pointFlags
	readFlags
	undoFlags
	Files []string `arg:"" optional:"" name:"file" help:"Files of blocks, rows and vines in any order: GeoJSON, shapefile, GeoPackage, KML, GPX, CSV, XLSX, NMEA; or one GeoTIFF image (--as raster, or detections whose band is the score)."`

	As           string            `placeholder:"KIND" enum:"auto,blocks,rows,vines,measures,raster,survey,detections" default:"auto" help:"What the files hold: ${enum}."`
	Season       int               `placeholder:"N" help:"Harvest year that the records belong to."`
	CRS          string            `name:"crs" placeholder:"EPSG:N" help:"Coordinate system of files that do not name one; without it longitude and latitude."`
	Decimal      string            `placeholder:"MARK" enum:",point,comma" default:"" help:"Decimal mark of tables that do not show it: point or comma."`
	Unit         map[string]string `placeholder:"WHAT=UNIT" mapsep:"none" help:"Unit of a quantity whose column names none: pruning_weight=kg; the name of a canopy index: canopy_index=NDVI; the scale of a score: visual_score=0-10. May be given several times."`
	Block        string            `placeholder:"CODE" help:"Block of files that do not name one."`
	VineSpacing  float64           `placeholder:"M" help:"Planting distance for rows that do not give one, m."`
	RowSpacing   float64           `placeholder:"M" help:"Distance between rows for blocks that do not give one, m."`
	Offset       float64           `placeholder:"M" help:"From the numbering end to vine 1, m."`
	NumberingEnd string            `placeholder:"WORD" help:"End where vine 1 stands, for rows that do not say: N, NE, E … or first."`
	Date         string            `placeholder:"DAY" help:"Day of the records, for those that do not say: 2027-01-31."`
	By           string            `placeholder:"NAME" help:"Who recorded it."`
	DryRun       bool              `help:"Say what would be made, changed and left out; store nothing."`
	JSON         bool              `name:"json" help:"Write the report as JSON."`
}

// estateFlags describe an estate that an import makes.
type estateFlags struct {
	Name  string `placeholder:"NAME" help:"Name of an estate that is made by this import."`
	Zone  string `placeholder:"ZONE" help:"Time zone of an estate that is made by this import, such as Europe/Rome."`
	South bool   `help:"The estate that is made lies in the southern hemisphere: its seasons turn in May."`
	US    bool   `name:"us-units" help:"The estate that is made is shown in feet, pounds and acres."`
	Score string `name:"score-scale" placeholder:"SCALE" default:"1-5" help:"Scale of visual scores, such as 1-5."`
}

// pointFlags say how surveyed or detected points are to be read.
type pointFlags struct {
	Shift     string  `enum:"ask,take-off,leave" default:"ask" help:"Of a survey whose points all seem moved by about a row or a vine: ${enum}."`
	WholeRows bool    `help:"Of a survey: each row that has a point was measured from end to end; without it only stretches with points."`
	Accuracy  float64 `placeholder:"M" help:"Of points: their error, m, where neither fix nor accuracy is in the file."`
}

// Run takes the files in, in one transaction, and prints the report.
func (c *importCommand) Run(p *program) (err error) {
	if c.List || c.Undo != "" {
		return c.past(p)
	}
	if len(c.Files) == 0 {
		return fmt.Errorf("name the files to take in: %w", errUsage)
	}
	job, err := c.job(p)
	if err != nil {
		return err
	}
	st, done, err := c.store(p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, done()) }()
	b := newBar(p.stderr, "reading", p.now)
	job.Progress = func(stage string, done, total int64) {
		b.what = stage
		b.set(int(done), int(total))
	}
	report, err := work.Import(p.ctx, st, job)
	b.end()
	if e := c.print(p, report); e != nil {
		return errors.Join(err, e)
	}
	if errors.Is(err, work.ErrRefused) {
		return errQuiet // the report has said why
	}
	return err
}

// print writes the report: to stdout where all went well, else to stderr.
func (c *importCommand) print(p *program, r work.Report) error {
	w := p.stdout
	if r.Refused && !c.JSON {
		w = p.stderr
	}
	if !c.JSON {
		return r.WriteText(w)
	}
	return c.asJSON(p, r)
}

func (c *importCommand) job(p *program) (work.ImportJob, error) {
	as, err := work.ParseKind(c.As)
	if err != nil {
		return work.ImportJob{}, fmt.Errorf("--as %w: %w", err, errUsage)
	}
	job := work.ImportJob{
		As: as, Season: c.Season, CRS: c.CRS, Block: c.Block, VineSpacingM: c.VineSpacing, RowSpacingM: c.RowSpacing,
		WholeRows: c.WholeRows, PointErrorM: c.Accuracy, Image: c.answers(),
		OffsetM: c.Offset, NumberingEnd: c.NumberingEnd, DryRun: c.DryRun, Look: c.DryRun, By: c.By, Units: c.Unit, Now: p.now,
	}
	if job.Shift, err = work.ParseShiftAnswer(c.Shift); err != nil {
		return work.ImportJob{}, fmt.Errorf("--shift %w: %w", err, errUsage)
	}
	switch c.Decimal {
	case "point":
		job.Decimal = '.'
	case "comma":
		job.Decimal = ','
	}
	if c.Date != "" {
		if job.Date, err = time.Parse(time.DateOnly, c.Date); err != nil {
			return work.ImportJob{}, fmt.Errorf("--date %s: write the day as 2027-01-31: %w", c.Date, errUsage)
		}
	}
	if err := c.apply(&job); err != nil {
		return work.ImportJob{}, err
	}
	for _, name := range withParts(c.Files) {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return work.ImportJob{}, fmt.Errorf("%s: there is no such file", name)
		}
		if err != nil {
			return work.ImportJob{}, err
		}
		if info.IsDir() {
			return work.ImportJob{}, fmt.Errorf("%s is a folder, a file is wanted", name)
		}
		job.Files = append(job.Files, work.File{
			Name: filepath.Base(name),
			Open: func() (io.ReadSeeker, error) { return os.Open(name) },
		})
	}
	return job, nil
}

// store opens the estate to import into. One that is not there is made; a dry
// run into one that is not there uses a place that is gone afterwards. Where an
// import fails that made the file, the file goes too.
func (c *importCommand) store(p *program) (store.Store, func() error, error) {
	data, fresh := c.dataFlags, false
	if !isDatabase(data.Data) {
		_, err := os.Stat(data.Data)
		fresh = errors.Is(err, fs.ErrNotExist)
	}
	cleanUp := func() error { return nil }
	if fresh && c.DryRun {
		dir, err := os.MkdirTemp("", "courson-dry-run-")
		if err != nil {
			return nil, nil, err
		}
		data.Data = filepath.Join(dir, "dry-run.gpkg")
		cleanUp = func() error { return os.RemoveAll(dir) }
	}
	st, err := data.open(p.ctx, p, true, false)
	if err != nil {
		return nil, nil, errors.Join(err, cleanUp())
	}
	if err := c.describe(p.ctx, st); err != nil {
		return nil, nil, errors.Join(err, st.Close(), cleanUp())
	}
	return st, func() error {
		empty := false
		if fresh && !c.DryRun {
			blocks, err := st.Blocks(context.WithoutCancel(p.ctx))
			empty = err == nil && len(blocks) == 0
		}
		err := st.Close()
		if empty {
			err = errors.Join(err, os.Remove(data.Data))
		}
		return errors.Join(err, cleanUp())
	}, nil
}

// describe names an estate that has no name yet.
func (c *importCommand) describe(ctx context.Context, st store.Store) error {
	e, err := st.Estate(ctx)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	blocks, err := st.Blocks(ctx)
	if err != nil || len(blocks) > 0 {
		return err
	}
	if c.Zone != "" {
		if _, err := time.LoadLocation(c.Zone); err != nil {
			return fmt.Errorf("--zone %s: not a time zone such as Europe/Rome: %w", c.Zone, errUsage)
		}
	}
	e.South, e.Zone, e.USUnits, e.ScoreScale = c.South, c.Zone, c.US, c.Score
	switch {
	case c.Name != "":
		e.Name = c.Name
	case c.Estate != "":
		e.Name = c.Estate
	case e.Name == "" && !isDatabase(c.Data):
		e.Name = trimExt(filepath.Base(c.Data))
	}
	return st.Update(ctx, func(tx store.Tx) error { return tx.SaveEstate(e) })
}

func trimExt(name string) string { return name[:len(name)-len(filepath.Ext(name))] }
