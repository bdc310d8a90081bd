package demoestate

import (
	"context"
	"fmt"
	"time"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// begun is how far the present winter's pruning has got in a block.
type begun struct {
	block store.Block
	rows  []rowOf
	done  int // rows that are pruned, whole or in part
}

// crews are the people of the invented estate.
func crews() []work.Crew {
	return []work.Crew{
		{Name: "North", People: 5, HoursPerDay: 7, Skilled: true, Language: "en"},
		{Name: "South", People: 4, HoursPerDay: 7, Language: "es"},
	}
}

// direct sets standards and crews, plans the blocks in which pruning has not
// begun, keeps what else was decided, and sends the crews into the next rows.
func (m *maker) direct(ctx context.Context, tx store.Tx) error {
	now := m.log.day(2, today)
	err := tx.SaveStandards(store.Standards{By: "manager", Made: m.log.day(0, 0), Value: []byte(`{"rows": {"vines_per_section": 6}}`)})
	if err != nil {
		return err
	}
	for _, c := range crews() {
		if err := work.SaveCrew(tx, c, "manager", m.log.day(0, 0)); err != nil {
			return err
		}
	}
	for i := range m.begun {
		if b := &m.begun[i]; b.done == 0 {
			if err := planBlock(ctx, tx, b.block, now); err != nil {
				return fmt.Errorf("plan block %s: %w", b.block.Code, err)
			}
		}
	}
	if err := m.decided(ctx, tx, now); err != nil {
		return err
	}
	return m.orders(ctx, tx, now)
}

// planBlock keeps the plan that the standards give.
func planBlock(ctx context.Context, tx store.Tx, b store.Block, now time.Time) error {
	book, err := work.ReadRulebook(ctx, tx)
	if err != nil {
		return err
	}
	settled, err := book.For(b)
	if err != nil {
		return err
	}
	measured, err := work.MeasuredIn(ctx, tx, b, CurrentSeason)
	if err != nil {
		return err
	}
	p, err := work.PlanPruning(ctx, tx, work.PruneJob{Block: b, Now: measured, Standards: settled.Pruning})
	if err != nil {
		return err
	}
	_, err = work.SavePruning(tx, p, "agronomist", now)
	return err
}

// rowsADay is how many rows a crew is sent into.
const rowsADay = 8

// orders sends each crew into the first rows that are left, block after block in
// the order of pruning.
func (m *maker) orders(ctx context.Context, tx store.Tx, now time.Time) error {
	next := 0
	for _, b := range m.begun {
		if b.done >= len(b.rows) || next >= len(crews()) {
			continue
		}
		g, _, err := work.GroundOf(ctx, tx, b.block)
		if err != nil {
			return err
		}
		o := work.Order{Season: CurrentSeason, Operation: vine.Pruning, Block: b.block.ID, Crew: crews()[next].Name, Day: now.Format(time.DateOnly),
			Note: "Sick vines last; clean the shears."}
		for k := b.done; k < min(len(b.rows), b.done+rowsADay); k++ {
			start := "near"
			if k%2 == 1 {
				start = "far"
			}
			o.Rows = append(o.Rows, work.OrderRow{Row: b.rows[k].row, Start: start})
		}
		if err := work.SaveOrder(tx, g, &o, "manager", now); err != nil {
			return err
		}
		next++
	}
	return nil
}
