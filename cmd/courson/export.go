package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"courson/geo/format"
	"courson/server/work"
)

type exportCommand struct {
	dataFlags
	What   string   `arg:"" enum:"blocks,rows,vines,vigour,patches,zones,plan-pruning,progress,replants,orders,measures,records" help:"What to write: ${enum}."`
	Season int      `placeholder:"N" help:"Harvest year of what is written; without it blocks, rows, and only where the vines are."`
	Format string   `aliases:"as" enum:"geojson,csv,xlsx,gpkg,shp,kml" default:"geojson" help:"Form of the file: ${enum}; shp is a shapefile in a zip."`
	Output string   `short:"o" required:"" placeholder:"PATH" help:"File to write; - is standard output."`
	Block  []string `placeholder:"CODE" help:"Only these blocks."`
	US     bool     `name:"us-units" help:"Feet and pounds in place of metres and grams, named so in the columns."`
}

// Run writes the file whole or not at all.
func (c *exportCommand) Run(p *program) (err error) {
	if c.Season == 0 && work.LayerNeedsSeason(work.Kind(c.What)) {
		return fmt.Errorf("export %s: say of which season: --season N", c.What)
	}
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	b := newBar(p.stderr, "writing", p.now)
	var notices []format.Notice
	job := work.ExportJob{
		What: work.Kind(c.What), Form: work.Form(c.Format), Season: c.Season, Blocks: c.Block, USUnits: c.US, Now: p.now,
		Progress: func(_ string, done, total int64) { b.set(int(done), int(total)) },
		Notice:   func(n format.Notice) { notices = append(notices, n) },
	}
	n := 0
	err = writeWhole(p, c.Output, func(w io.Writer) error {
		n, err = work.Export(p.ctx, st, job, w)
		return err
	})
	b.end()
	if err != nil {
		return err
	}
	for _, x := range notices {
		fmt.Fprintln(p.stderr, x)
	}
	if c.Output != "-" {
		fmt.Fprintf(p.stdout, "%s: %d %s\n", c.Output, n, c.What)
	}
	return nil
}

// writeWhole writes a file beside its place and moves it there when it is
// complete, so that a failure leaves neither half a file nor a lost old one.
func writeWhole(p *program, path string, write func(io.Writer) error) (err error) {
	if path == "-" {
		w := bufio.NewWriter(p.stdout)
		return errors.Join(write(w), w.Flush())
	}
	if _, err := os.Stat(filepath.Dir(path)); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("write %s: there is no folder %s; make it first", path, filepath.Dir(path))
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriterSize(f, 1<<20)
	if err := write(w); err != nil {
		return err
	}
	if err := errors.Join(w.Flush(), f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return nil
}
