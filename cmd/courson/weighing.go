package main

import (
	"errors"
	"fmt"
	"io"
	"math"

	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/server/work"
)

// planCommand says what to do in a season.
type planCommand struct {
	Pruning  pruningCommand  `cmd:"" help:"What each vine carries after pruning, and where to hang which mark."`
	Rates    ratesCommand    `cmd:"" help:"Zones that a machine can follow, the rate of each, and files for its terminal."`
	Replants replantsCommand `cmd:"" help:"Gaps and vines to replace, what leaving, filling or pulling comes to, and what to order."`
	Work     workCommand     `cmd:"" help:"Who does which rows on which day, in walking order."`
	Weighing weighingCommand `cmd:"" help:"Which vines to weigh, in walking order."`
}

type weighingCommand struct {
	dataFlags
	Season int      `required:"" placeholder:"N" help:"Harvest year that this winter prepares."`
	Block  []string `placeholder:"CODE" help:"Only these blocks."`
	Number int      `placeholder:"N" help:"How many vines in each block; without it as many as the error needs."`
	Error  float64  `placeholder:"SHARE" default:"0.1" help:"Wanted error of a block's mean, as a share of it: 0.1 is 10 %."`
	Again  bool     `help:"Keep the vines that were weighed last time."`
	Seed   uint64   `placeholder:"N" help:"Another seed, another sample; the same seed, the same sample."`
	Format string   `enum:"csv,geojson" default:"csv" help:"Form of the list: ${enum}. The table has empty columns to be filled in and imported."`
	Output string   `short:"o" default:"-" placeholder:"PATH" help:"File to write; - is standard output."`
	US     bool     `name:"us-units" help:"A column for pounds in place of grams."`
}

// Run writes the list to the file, and the figures of each block's plan to stderr.
func (c *weighingCommand) Run(p *program) (err error) {
	if c.Number < 0 || !(c.Error > 0 && c.Error <= 1) {
		return fmt.Errorf("--number is 1 or more, --error above 0 and at most 1: %w", errUsage)
	}
	if c.Season < vine.MinSeason || c.Season > vine.MaxSeason {
		return fmt.Errorf("--season %d: a harvest year from %d to %d: %w", c.Season, vine.MinSeason, vine.MaxSeason, errUsage)
	}
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	blocks, err := work.BlocksOf(p.ctx, st, c.Block)
	if err != nil {
		return err
	}
	job := work.WeighingJob{Season: c.Season, Number: c.Number, RelError: c.Error, Again: c.Again, Seed: c.Seed}
	var list []*work.Weighing
	for _, b := range blocks {
		g, _, err := work.GroundOf(p.ctx, st, b)
		if err != nil {
			return err
		}
		w, err := work.PlanWeighing(p.ctx, st, g, job)
		if errors.Is(err, vigour.ErrNoVines) && len(blocks) > 1 {
			fmt.Fprintln(p.stderr, err)
			continue
		}
		if err != nil {
			return err
		}
		if err := tellWeighing(p.stderr, w); err != nil {
			return err
		}
		list = append(list, w)
	}
	return writeWhole(p, c.Output, func(out io.Writer) error {
		return work.WriteWeighing(out, work.Form(c.Format), c.US, list)
	})
}

// tellWeighing writes the figures of a plan for people.
func tellWeighing(out io.Writer, w *work.Weighing) error {
	text := fmt.Sprintf("%s, season %d: weigh %d of %d vines that qualify; wanted %d", w.Code, w.Season, len(w.Stops), w.Qualified, w.Wanted)
	if w.Reached > 0 {
		text += fmt.Sprintf(", which tells the block's mean to about %.0f %%", math.Ceil(100*w.Reached))
	}
	text += fmt.Sprintf("\n  vines vary by %.0f %% (%s)\n", 100*w.CV, w.CVFrom)
	if w.Layers > 1 {
		text += fmt.Sprintf("  spread over %d ranges of vigour (%s)\n", w.Layers, w.RangeFrom)
	}
	if w.Again > 0 {
		text += fmt.Sprintf("  %d of the vines weighed in %d kept\n", w.Kept, w.Again)
	}
	p := w.Passed
	text += fmt.Sprintf("  passed over: %d without a living vine, %d doubtful, %d replants or young ones, %d at row ends, %d beside gaps\n", p.NotLiving, p.Doubtful, p.Replants, p.AtEnds, p.BesideGap)
	for _, n := range w.Notes {
		text += "  " + n + "\n"
	}
	_, err := io.WriteString(out, text)
	return err
}
