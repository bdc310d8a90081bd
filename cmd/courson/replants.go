package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"time"

	"courson/geo/replant"
	"courson/geo/stand"
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
	Output  string   `short:"o" placeholder:"PATH" help:"Write the candidates as a table; - is standard output."`
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
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	list, settings, err := c.plan(p.ctx, st)
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
	return writeWhole(p, c.Output, func(out io.Writer) error { return writeCandidates(out, list) })
}

func (c *replantsCommand) plan(ctx context.Context, st store.Store) ([]*work.Replants, replant.OrderSettings, error) {
	blocks, err := (&workCommand{Season: c.Season, Block: c.Block}).blocks(ctx, st)
	if err != nil {
		return nil, replant.OrderSettings{}, err
	}
	settings := replant.DefaultOrderSettings()
	var list []*work.Replants
	for _, b := range blocks {
		job := work.ReplantJob{Block: b, Zone: time.UTC, Today: time.Now()}
		if job.Moves, err = work.ReplantMoves(ctx, st, b.Block.ID); err != nil {
			return nil, settings, err
		}
		for back := 1; back < b.Settled.Replants.Rules.WeakWinters; back++ {
			past, err := work.LoadStand(ctx, st, b.Stand.Ground, c.Season-back)
			if err != nil {
				return nil, settings, err
			}
			job.Past = append(job.Past, past)
		}
		r, err := work.PlanReplants(ctx, st, job)
		if err != nil {
			return nil, settings, err
		}
		settings = b.Settled.Replants.Order
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

// writeCandidates writes one line for every candidate, in walking order.
func writeCandidates(w io.Writer, list []*work.Replants) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"address", "courson_id", "block", "variety", "clone", "rootstock", "what", "reason", "lon", "lat"}); err != nil {
		return err
	}
	for _, r := range list {
		g := r.Stand.Ground
		for _, c := range r.Candidates {
			lon, lat := stand.Degrees(g.WX[c.Vine], g.WY[c.Vine])
			if err := out.Write([]string{c.Address, strconv.FormatInt(g.ID[c.Vine], 10), r.Block.Code, r.Block.Variety, r.Block.Clone, r.Block.Rootstock,
				c.Action.String(), c.Text, strconv.FormatFloat(lon, 'f', 8, 64), strconv.FormatFloat(lat, 'f', 8, 64)}); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}
