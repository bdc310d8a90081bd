package work

import (
	"context"
	"fmt"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// TakeBack takes the newest change of a block's ground back, as long as nothing was
// built on it: the ground must stand as the change left it. It gives what was taken
// back. Errors wrap ErrInUse, and store.ErrNotFound where there is no such change.
func TakeBack(ctx context.Context, tx store.Tx, block vine.ID, id, by string, now time.Time) (GroundChange, error) {
	changes, err := GroundChanges(ctx, tx, block)
	if err != nil {
		return GroundChange{}, err
	}
	for i, c := range changes {
		switch {
		case c.ID != id:
		case i != inForce(changes):
			return c, fmt.Errorf("there are later changes: take those back first: %w", ErrInUse)
		default:
			return c, takeBack(ctx, tx, c, by, now)
		}
	}
	return GroundChange{}, fmt.Errorf("change %s of block %d: %w", id, block, store.ErrNotFound)
}

func takeBack(ctx context.Context, tx store.Tx, c GroundChange, by string, now time.Time) error {
	b, err := findBlock(ctx, tx, c.Block)
	if err != nil {
		return err
	}
	if b.GroundRev != c.Ground {
		return fmt.Errorf("the ground of block %s was changed since: %w", b.Code, ErrInUse)
	}
	undone := GroundChange{What: GroundUndone, Block: c.Block, Code: b.Code, Rows: c.Rows, Vines: c.Vines, Undoes: c.ID}
	if c.Before == nil {
		return fmt.Errorf("%s cannot be taken back: %w", c.What, ErrInUse)
	}
	if err := c.Before.restore(ctx, tx, b, now); err != nil {
		return err
	}
	return keepChange(ctx, tx, &undone, nil, by, now)
}

// restore numbers a block as it was before.
func (was *NumbersWas) restore(ctx context.Context, tx store.Tx, b store.Block, now time.Time) error {
	n := &Numbers{Block: b.ID, Code: was.Code, WasCode: b.Code, Changed: true, block: b, ids: map[vine.ID]*NumberedRow{}}
	n.block.Code, n.block.NumberingEnd = was.Code, was.Ends
	rows, err := tx.Rows(ctx, b.ID)
	if err != nil {
		return err
	}
	turned := map[vine.ID]bool{}
	for _, id := range was.Turned {
		turned[id] = true
	}
	n.Rows = make([]NumberedRow, 0, len(rows))
	for _, r := range rows {
		if turned[r.ID] {
			r.Line = turnedLine(r.Line)
		}
		r.Label, r.Ord = was.Labels[r.ID], was.Ords[r.ID]
		n.rows = append(n.rows, r)
		n.Rows = append(n.Rows, NumberedRow{ID: r.ID, Label: r.Label, Turned: turned[r.ID]})
		n.ids[r.ID] = &n.Rows[len(n.Rows)-1]
	}
	for v, err := range tx.Vines(ctx, b.ID) {
		if err != nil {
			return err
		}
		n.ids[v.Row].last = max(n.ids[v.Row].last, v.Number)
	}
	_, err = n.write(ctx, tx, now)
	return err
}
