package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"courson/geo/format"
	"courson/geo/replant"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

type replantsCommand struct {
	dataFlags
	Season  int      `required:"" placeholder:"N" help:"Harvest year by whose winter gaps are judged."`
	Block   []string `placeholder:"CODE" help:"Only these blocks."`
	PlantOn string   `placeholder:"2027-09-01" help:"Day of planting, for the day to order by."`
	Potted  bool     `help:"Potted plants of a sort that the nursery keeps."`
	Format  string   `aliases:"as" enum:",geojson,csv,xlsx,gpkg,shp,kml" default:"" placeholder:"FORM" help:"Form of the candidates, as export replants writes them: geojson, csv, xlsx, gpkg, shp or kml; without it the ending of the file says, and csv goes to standard output."`
	Output  string   `short:"o" placeholder:"PATH" help:"Write the candidates there; - is standard output."`
}

// Run tells limits and sums of each block, and what to order for the places that
// are on the list; nothing is kept.
func (c *replantsCommand) Run(p *program) (err error) {
	if c.Season < vine.MinSeason || c.Season > vine.MaxSeason {
		return fmt.Errorf("--season %d: a harvest year from %d to %d: %w", c.Season, vine.MinSeason, vine.MaxSeason, errUsage)
	}
	when := replant.When{Potted: c.Potted, Today: replant.DayOf(time.Now(), time.UTC)}
	if c.PlantOn != "" {
		if when.PlantOn, err = replant.ParseDay(c.PlantOn); err != nil {
			return fmt.Errorf("--plant-on %s: %w: %w", c.PlantOn, err, errUsage)
		}
	}
	form, err := c.form()
	if err != nil {
		return err
	}
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	source := plannedReplants{work.FreshSource{Store: st, Season: c.Season, Now: p.now}, map[vine.ID]*work.Replants{}}
	list, settings, err := c.plan(p.ctx, st, source)
	if err != nil {
		return err
	}
	var needs []replant.Need
	for _, r := range list {
		tellReplants(p.stderr, r)
		needs = append(needs, r.Needs...)
	}
	if len(needs) > 0 {
		order, err := replant.OrderPlants(needs, nil, settings, when)
		if err != nil {
			return err
		}
		for _, l := range order.Lines {
			fmt.Fprintln(p.stderr, l.Text)
		}
		for _, n := range order.Notes {
			fmt.Fprintln(p.stderr, n)
		}
	}
	if c.Output == "" {
		return nil
	}
	return writeWhole(p, c.Output, func(out io.Writer) error {
		_, err := work.Export(p.ctx, st, work.ExportJob{What: work.ReplantLayer, Form: form, Season: c.Season, Blocks: c.Block, Now: p.now, Source: source,
			Notice: func(n format.Notice) { fmt.Fprintln(p.stderr, n) }}, out)
		return err
	})
}

// form is the form in which the candidates are written.
func (c *replantsCommand) form() (work.Form, error) {
	if c.Format != "" {
		return work.Form(c.Format), nil
	}
	if c.Output == "" || c.Output == "-" {
		return work.Table, nil
	}
	var endings []string
	for _, f := range work.Forms() {
		if strings.EqualFold(filepath.Ext(c.Output), f.Suffix) {
			return f.Form, nil
		}
		endings = append(endings, f.Suffix)
	}
	return "", fmt.Errorf("-o %s: the ending does not say the form: one of %s, or --format: %w", c.Output, strings.Join(endings, ", "), errUsage)
}

// plannedReplants hands an export what was worked out for the report.
type plannedReplants struct {
	work.FreshSource
	done map[vine.ID]*work.Replants
}

// Replants judges each block once.
func (s plannedReplants) Replants(ctx context.Context, b store.Block) (r *work.Replants, err error) {
	if r = s.done[b.ID]; r == nil {
		r, err = s.FreshSource.Replants(ctx, b)
		s.done[b.ID] = r
	}
	return r, err
}

func (c *replantsCommand) plan(ctx context.Context, st store.Store, source work.Source) ([]*work.Replants, replant.OrderSettings, error) {
	settings := replant.DefaultOrderSettings()
	blocks, err := work.BlocksOf(ctx, st, c.Block)
	if err != nil {
		return nil, settings, err
	}
	book, err := work.ReadRulebook(ctx, st)
	if err != nil {
		return nil, settings, err
	}
	var list []*work.Replants
	for _, b := range blocks {
		r, err := source.Replants(ctx, b)
		if err != nil {
			return nil, settings, err
		}
		settled, err := book.For(b)
		if err != nil {
			return nil, settings, err
		}
		settings = settled.Replants.Order
		list = append(list, r)
	}
	return list, settings, nil
}

func tellReplants(out io.Writer, r *work.Replants) {
	counts := map[replant.Action]int{}
	for _, c := range r.Candidates {
		counts[c.Action]++
	}
	fmt.Fprintf(out, "%s: %s Candidates: %d to replace, %d to look at, %d to test, %d to watch; %d on their way.\n", r.Block.Code, r.Full.Text,
		counts[replant.ActReplace], counts[replant.ActLook], counts[replant.ActTest], counts[replant.ActWatch], len(r.Places))
	if n, since := r.Findings.Due(r.Today); n > 0 {
		fmt.Fprintf(out, "  %d doubtful due to be looked at again, the first since %s (%d days).\n", n, since, int(r.Today-since))
	}
	for _, k := range r.Kept {
		fmt.Fprintf(out, "  %s %s of %s: %d points, %d at a place, %d doubtful, %d set aside.\n", k.Kind, k.Name, k.Day, k.Points, k.Sure+k.Noticed, k.Doubtful, k.Aside)
	}
	for _, m := range r.Settled.Mismatches {
		if i, ok := r.Stand.Ground.IndexOf(m.Vine); ok {
			fmt.Fprintf(out, "  %s: %s.\n", r.Stand.Ground.Address(i), m.Text)
		}
	}
	for _, l := range r.Limits {
		if l.Beyond {
			fmt.Fprintf(out, "  %s\n", l.Text)
		}
	}
	if r.Why != "" {
		fmt.Fprintf(out, "  %s\n", r.Why)
	}
	if r.Comparison != nil {
		for _, a := range r.Comparison.Advice {
			fmt.Fprintf(out, "  %s\n", a)
		}
	}
}
