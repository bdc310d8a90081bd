package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

type ratesCommand struct {
	dataFlags
	Season int      `required:"" placeholder:"N" help:"Harvest year whose vigour zones are cut from."`
	Block  []string `placeholder:"CODE" help:"Only these blocks."`
	Order  string   `required:"" placeholder:"FILE.json" help:"What zones and rates are wanted: columns, zones, rates, terminal, as POST /api/blocks/{block}/zones takes them. An aim must be chosen."`
	Form   string   `enum:"geojson,shapefile,iso-zones,iso-grid-1,iso-grid-2,rows" default:"geojson" help:"Form of the files: ${enum}."`
	Output string   `short:"o" placeholder:"FOLDER" help:"Write a file for each block there; without it only zones and totals are told."`
}

// Run tells zones, rates and totals of each block, and writes the files; nothing
// is kept. A block that cannot be cut is told and left out, unless it is the only
// one.
func (c *ratesCommand) Run(p *program) (err error) {
	if c.Season < vine.MinSeason || c.Season > vine.MaxSeason {
		return fmt.Errorf("--season %d: a harvest year from %d to %d: %w", c.Season, vine.MinSeason, vine.MaxSeason, errUsage)
	}
	text, err := os.ReadFile(c.Order)
	if err != nil {
		return fmt.Errorf("order of zones and rates: %w", err)
	}
	order, err := work.ParseRateOrder(text)
	if err != nil {
		return fmt.Errorf("%s: %w", c.Order, err)
	}
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	estate, err := st.Estate(p.ctx)
	if err != nil {
		return err
	}
	blocks, err := work.BlocksOf(p.ctx, st, c.Block)
	if err != nil {
		return err
	}
	done := 0
	for _, b := range blocks {
		got, err := c.rates(p.ctx, st, estate.Name, b, order)
		if errors.Is(err, work.ErrRates) && len(blocks) > 1 {
			fmt.Fprintf(p.stderr, "%s: left out: %v\n", b.Code, err)
			continue
		}
		if err != nil {
			return err
		}
		tellRates(p.stderr, got)
		if err := c.write(p, got); err != nil {
			return err
		}
		done++
	}
	if done == 0 {
		return fmt.Errorf("no block could be cut into zones; the reasons are above: %w", work.ErrRates)
	}
	return nil
}

func (c *ratesCommand) rates(ctx context.Context, st store.Store, estate string, b store.Block, order work.RateOrder) (*work.Rated, error) {
	g, _, err := work.GroundOf(ctx, st, b)
	if err != nil {
		return nil, err
	}
	return work.MakeRates(ctx, work.RateJob{Estate: estate, Block: b, Season: c.Season, Order: order,
		In: func(ctx context.Context, season int) (work.Measured, error) {
			return work.MeasuredOn(ctx, st, g, season)
		}})
}

func (c *ratesCommand) write(p *program, got *work.Rated) error {
	if c.Output == "" {
		return nil
	}
	form := work.RateForm(c.Form)
	path := filepath.Join(c.Output, fmt.Sprintf("%s-%d-rates-%s%s", got.Block.Code, c.Season, form, form.Suffix()))
	return writeWhole(p, path, func(out io.Writer) error {
		notices, err := got.WriteRates(out, form, version, p.now())
		for _, n := range notices {
			fmt.Fprintf(p.stderr, "  mended: %s\n", n)
		}
		return err
	})
}

func tellRates(out io.Writer, r *work.Rated) {
	z := r.Zones
	fmt.Fprintf(out, "%s: %d zones by %s; they explain %.0f %% of the variance between vines, %.0f %% after smoothing.\n", r.Block.Code, len(z.List), z.Options.Method, 100*z.Explained, 100*z.Kept)
	for k, zone := range z.List {
		fmt.Fprintf(out, "  zone %d: %d vines, %.2f ha", zone.Number, zone.Vines, zone.Hectares())
		if r.Rates != nil {
			q := r.Rates.Zones[k]
			fmt.Fprintf(out, ": %.3g %s, %.1f %s", q.Rate, r.Rates.Unit, q.Quantity, r.Rates.Measure)
			if q.Bound != "" {
				fmt.Fprintf(out, " (held by %s)", q.Bound)
			}
		}
		fmt.Fprintln(out)
	}
	for _, n := range z.Notes {
		fmt.Fprintf(out, "  %s\n", n)
	}
	if r.Rates == nil {
		return
	}
	fmt.Fprintf(out, "  in all %.1f %s of %s; the same rate everywhere takes %.1f %s\n", r.Rates.Total, r.Rates.Measure, r.Rates.Material.Name, r.Rates.Uniform.Total, r.Rates.Measure)
	for _, text := range r.Rates.Cautions {
		fmt.Fprintf(out, "  %s\n", text)
	}
}
