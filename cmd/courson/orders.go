package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"time"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

type workCommand struct {
	dataFlags
	Season     int      `required:"" placeholder:"N" help:"Harvest year that this winter prepares."`
	Operation  string   `default:"pruning" placeholder:"WORD" help:"What is to be done; the operations are those of the usual list."`
	Crew       []string `required:"" placeholder:"NAME" help:"Crews that share the work; kept with the estate."`
	Day        string   `required:"" placeholder:"2027-01-12" help:"The first day."`
	Days       int      `default:"1" placeholder:"N" help:"How many days ahead."`
	Off        []string `placeholder:"2027-01-14" help:"Days that are lost: rain, a holiday."`
	Block      []string `placeholder:"CODE" help:"Only these blocks."`
	Rule       string   `enum:"all,weak,young,follow-ups,sick" default:"all" help:"Which vines: ${enum}."`
	EveryOther bool     `help:"Walk every other row, for headlands too tight to turn into the next one."`
	Corner     string   `enum:"near,far" default:"near" help:"End of the first row where the walk begins: near is where vine 1 stands."`
	By         string   `placeholder:"NAME" help:"Who gives the orders."`
	DryRun     bool     `help:"Say who would get what; keep nothing."`
	Output     string   `short:"o" placeholder:"PATH" help:"Also write the orders as a table; - is standard output."`
}

// Run shares the work and keeps the orders, all or none.
func (c *workCommand) Run(p *program) (err error) {
	if c.Season < vine.MinSeason || c.Season > vine.MaxSeason {
		return fmt.Errorf("--season %d: a harvest year from %d to %d: %w", c.Season, vine.MinSeason, vine.MaxSeason, errUsage)
	}
	st, err := c.open(p.ctx, p, false, c.DryRun)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	blocks, err := c.blocks(p.ctx, st)
	if err != nil {
		return err
	}
	got, err := work.Share(p.ctx, st, blocks, work.ShareJob{Season: c.Season, Operation: c.Operation, Rule: c.Rule, Crews: c.Crew,
		Day: c.Day, Days: c.Days, Off: c.Off, EveryOther: c.EveryOther, Corner: c.Corner})
	if err != nil {
		return err
	}
	for _, s := range got.Crews {
		fmt.Fprintf(p.stderr, "%s: %d rows, %d vines, %.1f hours of one person\n", s.Name, s.Rows, s.Vines, s.Hours)
	}
	if got.Later > 0 {
		fmt.Fprintf(p.stderr, "%d rows do not fit into these days\n", got.Later)
	}
	for _, n := range got.Notes {
		fmt.Fprintln(p.stderr, n)
	}
	if !c.DryRun {
		if err := c.keep(p.ctx, st, blocks, got.Orders); err != nil {
			return err
		}
	}
	if c.Output == "" {
		return nil
	}
	return writeWhole(p, c.Output, func(out io.Writer) error { return writeOrders(out, got.Orders) })
}

func (c *workCommand) blocks(ctx context.Context, st store.Store) ([]work.ShareBlock, error) {
	list, err := work.BlocksOf(ctx, st, c.Block)
	if err != nil {
		return nil, err
	}
	book, err := work.ReadRulebook(ctx, st)
	if err != nil {
		return nil, err
	}
	found := map[vine.ID]*work.Findings{}
	if c.Rule == work.RuleWeak {
		all, err := work.FindSeason(ctx, st, c.Season, c.Block, nil)
		if err != nil {
			return nil, err
		}
		for _, f := range all {
			found[f.Stand.Ground.Block] = f
		}
	}
	var out []work.ShareBlock
	for _, b := range list {
		settled, err := book.For(b)
		if err != nil {
			return nil, err
		}
		m, err := work.MeasuredIn(ctx, st, b, c.Season)
		if err != nil {
			return nil, err
		}
		if f := found[b.ID]; f != nil {
			if m.Stand, err = f.Stand.WithFound(f.Found); err != nil {
				return nil, err
			}
		}
		out = append(out, work.ShareBlock{Block: b, Stand: m.Stand, Settled: settled})
	}
	return out, nil
}

func (c *workCommand) keep(ctx context.Context, st store.Store, blocks []work.ShareBlock, orders []work.Order) error {
	now := time.Now()
	return st.Update(ctx, func(tx store.Tx) error {
		for i := range orders {
			for _, b := range blocks {
				if b.Block.ID != orders[i].Block {
					continue
				}
				if err := work.SaveOrder(tx, b.Stand.Ground, &orders[i], c.By, now); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// writeOrders writes one line for every row, in walking order.
func writeOrders(w io.Writer, orders []work.Order) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"day", "crew", "operation", "block", "turn", "row", "from_vine", "to_vine", "start", "sick", "note"}); err != nil {
		return err
	}
	for _, o := range orders {
		for k, r := range o.Rows {
			if err := out.Write([]string{o.Day, o.Crew, o.Operation, o.Code, strconv.Itoa(k + 1), r.Label, strconv.Itoa(r.From), strconv.Itoa(r.To), r.Start, strconv.FormatBool(o.Sick), o.Note}); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}
