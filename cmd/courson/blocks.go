package main

import (
	"fmt"
	"io"

	"courson/server/work"
	"courson/store"
)

// blocksCommand changes which ground is which block.
type blocksCommand struct {
	Split splitCommand `cmd:"" help:"Make one block two along a line; ids, records and old addresses stay."`
	Join  joinCommand  `cmd:"" help:"Take a block into another one; ids, records and old addresses stay."`
	Back  backCommand  `cmd:"" help:"Take the newest change of a block's ground back."`
}

type splitCommand struct {
	groundFlags
	Line []float64 `required:"" placeholder:"LON,LAT,…" help:"Where it is parted: longitudes and latitudes of two points or more across it; the line goes straight on beyond its ends. Write --line=… where it begins with a minus."`
	Side string    `required:"" placeholder:"WORD" help:"Compass word of the side of the line that becomes the new block."`
	Code string    `required:"" placeholder:"CODE" help:"Code of the new block."`
	Name string    `placeholder:"NAME" help:"Name of the new block."`
}

// Run splits a block, or says what would come of it.
func (c *splitCommand) Run(p *program) error {
	line, err := lineOf(c.Line)
	if err != nil {
		return err
	}
	order := work.SplitOrder{Line: line, Side: c.Side, Code: c.Code, Name: c.Name}
	return c.change(p, func(st store.Store, b store.Block) error {
		if c.DryRun {
			out, err := work.TrySplit(p.ctx, st, b.ID, order)
			if err != nil {
				return err
			}
			return tellRegrouped(p.stdout, out, "would be split")
		}
		var out *work.Regrouped
		err := st.Update(p.ctx, func(tx store.Tx) (err error) {
			out, err = work.SplitBlock(p.ctx, tx, b.ID, order, c.By, p.now())
			return err
		})
		if err != nil {
			return err
		}
		return tellRegrouped(p.stdout, out, "split")
	})
}

type joinCommand struct {
	groundFlags
	With   string `arg:"" placeholder:"CODE" help:"Code of the block that is taken in and is no more then."`
	Labels string `enum:"keep,on" default:"keep" help:"What becomes of the labels of its rows: keep, or on (counted on after the last row of the other block)."`
}

// Run joins two blocks, or says what would come of it.
func (c *joinCommand) Run(p *program) error {
	return c.change(p, func(st store.Store, b store.Block) error {
		with, err := work.BlocksOf(p.ctx, st, []string{c.With})
		if err != nil {
			return err
		}
		order := work.JoinOrder{With: with[0].ID, Labels: c.Labels}
		if c.DryRun {
			out, err := work.TryJoin(p.ctx, st, b.ID, order)
			if err != nil {
				return err
			}
			return tellRegrouped(p.stdout, out, "would be joined")
		}
		var out *work.Regrouped
		err = st.Update(p.ctx, func(tx store.Tx) (err error) {
			out, err = work.JoinBlocks(p.ctx, tx, b.ID, order, c.By, p.now())
			return err
		})
		if err != nil {
			return err
		}
		return tellRegrouped(p.stdout, out, "joined")
	})
}

func tellRegrouped(out io.Writer, r *work.Regrouped, became string) error {
	text := fmt.Sprintf("%d vines in %d rows change their block: %s\n", r.Vines, len(r.Rows), became)
	for _, part := range r.Parts {
		text += fmt.Sprintf("  block %s: %d rows, %d vines, %.2f ha\n", part.Code, part.Rows, part.Vines, part.AreaM2/10_000)
	}
	cut := 0
	for _, row := range r.Rows {
		if row.Stay > 0 {
			cut++
		}
		if row.Label != row.Was {
			text += fmt.Sprintf("  row %s was %s\n", row.Label, row.Was)
		}
	}
	if cut > 0 {
		text += fmt.Sprintf("  %d rows are cut; vines keep their numbers\n", cut)
	}
	for _, c := range r.Carry {
		text += fmt.Sprintf("  %s that go with them: %d\n", c.What, c.Count)
	}
	for _, w := range r.Words {
		text += "  " + w + "\n"
	}
	_, err := io.WriteString(out, text)
	return err
}

type backCommand struct{ groundFlags }

// Run takes the newest change back, or says which that is.
func (c *backCommand) Run(p *program) error {
	return c.change(p, func(st store.Store, b store.Block) error {
		view, err := work.GroundView(p.ctx, st, b.ID)
		if err != nil {
			return err
		}
		if view.Undo == "" {
			return fmt.Errorf("block %s: %s: %w", b.Code, view.UndoWhy, work.ErrInUse)
		}
		var undone work.GroundChange
		for _, change := range view.Changes {
			if change.ID == view.Undo {
				undone = change
			}
		}
		became := "would be taken back"
		if !c.DryRun {
			became = "taken back"
			err := st.Update(p.ctx, func(tx store.Tx) (err error) {
				undone, err = work.TakeBack(p.ctx, tx, b.ID, view.Undo, c.By, p.now())
				return err
			})
			if err != nil {
				return err
			}
		}
		_, err = fmt.Fprintf(p.stdout, "block %s: %s by %s on %s: %s\n", undone.Code, undone.What, undone.By, undone.Made.Format("2006-01-02"), became)
		return err
	})
}
