package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"time"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

type pruningCommand struct {
	dataFlags
	Season         int      `required:"" placeholder:"N" help:"Harvest year that this winter prepares."`
	Block          []string `placeholder:"CODE" help:"Only these blocks."`
	By             string   `placeholder:"NAME" help:"Who makes the plan."`
	Standards      string   `type:"existingfile" placeholder:"FILE" help:"JSON file with the block's standards; they are kept with the plan."`
	Drought        bool     `help:"The wood comes from a drought year: the owner's wish for weak vines applies."`
	UntreatedEvery int      `placeholder:"N" help:"With --drought: prune every N-th row as after any other year, for comparison."`
	DryRun         bool     `help:"Say what the plan would come to; keep nothing."`
	Output         string   `short:"o" placeholder:"PATH" help:"Also write the runs of one instruction and their marks as a table; - is standard output."`
	Change         float64  `default:"10" placeholder:"NODES" help:"What one more run in a row must save, in nodes."`
	Words          int      `default:"6" placeholder:"N" help:"Most different instructions in a block; 0: no limit."`
}

// Run makes a plan for every block, in one transaction, and tells its figures.
func (c *pruningCommand) Run(p *program) (err error) {
	if c.Season < vine.MinSeason || c.Season > vine.MaxSeason {
		return fmt.Errorf("--season %d: a harvest year from %d to %d: %w", c.Season, vine.MinSeason, vine.MaxSeason, errUsage)
	}
	if !(c.Change >= 0 && c.Change <= 1000) || c.Words < 0 {
		return fmt.Errorf("--change is 0 to 1000 nodes, --words 0 or more: %w", errUsage)
	}
	own, err := c.readStandards()
	if err != nil {
		return err
	}
	st, err := c.open(p.ctx, p, false, c.DryRun)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	blocks, err := work.BlocksOf(p.ctx, st, c.Block)
	if err != nil {
		return err
	}
	plans, err := c.plan(p.ctx, st, blocks, own)
	if err != nil {
		return err
	}
	for _, plan := range plans {
		if err := tellPruning(p.stderr, plan); err != nil {
			return err
		}
	}
	if !c.DryRun {
		if err := c.keep(p.ctx, st, plans, own); err != nil {
			return err
		}
	}
	if c.Output == "" {
		return nil
	}
	return writeWhole(p, c.Output, func(out io.Writer) error { return c.writeRuns(out, plans) })
}

func (c *pruningCommand) readStandards() (json.RawMessage, error) {
	if c.Standards == "" {
		return nil, nil
	}
	text, err := os.ReadFile(c.Standards)
	if err != nil {
		return nil, err
	}
	if _, err := work.ParseStandards(text); err != nil {
		return nil, fmt.Errorf("%s: %w", c.Standards, err)
	}
	return text, nil
}

func (c *pruningCommand) plan(ctx context.Context, st store.Store, blocks []store.Block, own json.RawMessage) ([]*work.Pruning, error) {
	list, err := st.Standards(ctx)
	if err != nil {
		return nil, err
	}
	var plans []*work.Pruning
	for _, b := range blocks {
		book := work.NewRulebook(list)
		if own != nil {
			book = work.NewRulebook(append(list[:len(list):len(list)], store.Standards{Block: b.ID, Value: own}))
		}
		settled, err := book.For(b)
		if err != nil {
			return nil, err
		}
		now, err := work.MeasuredIn(ctx, st, b, c.Season)
		if err != nil {
			return nil, err
		}
		plan, err := work.PlanPruning(ctx, st, work.PruneJob{Block: b, Now: now, Standards: settled.Pruning,
			Options: work.PruneOptions{Drought: c.Drought, UntreatedEvery: c.UntreatedEvery}})
		if err != nil {
			return nil, err
		}
		if settled.Unclear != "" {
			plan.Notes = append(plan.Notes, settled.Unclear)
		}
		plans = append(plans, plan)
	}
	return plans, nil
}

func (c *pruningCommand) keep(ctx context.Context, st store.Store, plans []*work.Pruning, own json.RawMessage) error {
	now := time.Now()
	return st.Update(ctx, func(tx store.Tx) error {
		for _, plan := range plans {
			if own != nil {
				if err := tx.SaveStandards(store.Standards{Block: plan.Job.Block.ID, Made: now, By: c.By, Value: own}); err != nil {
					return err
				}
			}
			if _, err := work.SavePruning(tx, plan, c.By, now); err != nil {
				return err
			}
		}
		return nil
	})
}

func (c *pruningCommand) writeRuns(out io.Writer, plans []*work.Pruning) error {
	job := work.DefaultRuns()
	job.Change, job.Words = c.Change, c.Words
	var list []*work.Runs
	for _, plan := range plans {
		planned, err := plan.Planned()
		if err != nil {
			return err
		}
		cut, err := work.CutRuns(plan.Job.Now.Stand, planned, job)
		if err != nil {
			return fmt.Errorf("block %s: %w", plan.Job.Block.Code, err)
		}
		list = append(list, cut)
	}
	return work.WriteRuns(out, list)
}

// tellPruning writes the figures of a plan for people.
func tellPruning(out io.Writer, p *work.Pruning) error {
	s := p.Result.Sum()
	text := fmt.Sprintf("%s, season %d: %d vines, %d nodes", p.Job.Block.Code, p.Result.Season, s.Living, s.NodesInAll)
	if s.NodesPerHa > 0 {
		text += fmt.Sprintf(", %.0f per ha", s.NodesPerHa)
	}
	if s.CapPerHa > 0 {
		text += fmt.Sprintf(" of %.0f allowed", s.CapPerHa)
	}
	text += fmt.Sprintf("; about %.1f t/ha expected, %.0f hours\n", s.ExpectedKgPerHa/1000, s.Hours)
	for k, in := range s.Instructions {
		if k == mostTold {
			text += fmt.Sprintf("  and %d others\n", len(s.Instructions)-k)
			break
		}
		text += fmt.Sprintf("  %6d  %s\n", in.Vines, in.Text)
	}
	for _, n := range p.Notes {
		text += "  " + n + "\n"
	}
	_, err := io.WriteString(out, text)
	return err
}

// mostTold is how many instructions are told of a block.
const mostTold = 8
