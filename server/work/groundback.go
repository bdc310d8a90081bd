package work

import (
	"context"
	"errors"
	"fmt"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// TakeBack takes the newest change of a block's ground back, as long as nothing was
// built on it. Rows that were made go with their vines, a drawn block goes as a whole,
// numbers are what they were. It gives what was taken back. Errors wrap ErrInUse, and
// store.ErrNotFound where there is no such change.
func TakeBack(ctx context.Context, tx store.Tx, block vine.ID, id, by string, now time.Time) (GroundChange, error) {
	changes, err := GroundChanges(ctx, tx, block)
	if err != nil {
		return GroundChange{}, err
	}
	b, err := findBlock(ctx, tx, block)
	if err != nil {
		return GroundChange{}, err
	}
	for i, c := range changes {
		switch {
		case c.ID != id:
		case i != inForce(changes):
			return c, inUse("there are later changes: take those back first")
		default:
			if err := mayTakeBack(ctx, tx, b, changes); err != nil {
				return c, err
			}
			return c, takeBack(ctx, tx, b, c, by, now)
		}
	}
	return GroundChange{}, fmt.Errorf("change %s of block %d: %w", id, block, store.ErrNotFound)
}

// mayTakeBack tells why the newest change in force cannot be taken back: its error
// wraps ErrInUse.
func mayTakeBack(ctx context.Context, st reader, b store.Block, changes []GroundChange) error {
	k := inForce(changes)
	switch {
	case k < 0:
		return inUse("nothing was drawn here")
	case changes[0].Ground != b.GroundRev:
		return inUse("the ground of block %s was changed since by other means, such as an import", b.Code)
	case changes[k].Of != "":
		return inUse("block %s came out of a split of block %s: take it back there", b.Code, changes[k].OtherCode)
	case changes[k].Split != nil:
		return mayJoinBack(ctx, st, changes[k])
	case changes[k].Join != nil, changes[k].Before != nil:
		return nil // nothing goes: records, plans and papers keep their vines
	}
	return unused(ctx, st, b)
}

// unused tells whether nothing is on record, planned or written down of a block but
// how its ground came about.
func unused(ctx context.Context, st reader, b store.Block) error {
	used := func(what string) error { return inUse("block %s: %s", b.Code, what) }
	events, err := st.Events(ctx, store.EventQuery{Block: b.ID, Limit: 1})
	if err != nil {
		return err
	}
	if len(events) > 0 {
		return used("something is on record")
	}
	seasons, err := st.Seasons(ctx)
	if err != nil {
		return err
	}
	for _, season := range seasons {
		for _, kind := range []store.PlanKind{store.PlanPruning, PlanOverride} {
			plans, err := st.PlanList(ctx, kind, season, b.ID)
			if err != nil {
				return err
			}
			if len(plans) > 0 {
				return used(fmt.Sprintf("something is planned for %d", season))
			}
		}
	}
	standards, err := st.Standards(ctx)
	if err != nil {
		return err
	}
	for _, s := range standards {
		if s.Block == b.ID {
			return used("it has standards of its own")
		}
	}
	for kind, what := range restingPapers() {
		papers, err := st.Papers(ctx, store.PaperQuery{Kind: kind})
		if err != nil {
			return err
		}
		for _, p := range papers {
			if p.Block == b.ID {
				return used(what)
			}
		}
	}
	return nil
}

// restingPapers gives the kinds of paper that rest on the ground of a block, and what
// happened where there is one.
func restingPapers() map[store.PaperKind]string {
	return map[store.PaperKind]string{PaperOrder: "an order was given", PaperWeighing: "a list of vines to weigh was made", PaperReview: "a list of gaps to look at was made",
		PaperZones: "zones were kept", PaperReplant: "steps of replants were noted", PaperRenewal: "which spur and cane to keep was noted", PaperEvidence: "a survey was taken in"}
}

func takeBack(ctx context.Context, tx store.Tx, b store.Block, c GroundChange, by string, now time.Time) error {
	undone := GroundChange{What: GroundUndone, Block: c.Block, Code: b.Code, Rows: c.Rows, Vines: c.Vines, Undoes: c.ID}
	switch {
	case c.Split != nil:
		if err := c.joinBack(ctx, tx, b, by, now); err != nil {
			return err
		}
	case c.Join != nil:
		if err := c.splitBack(ctx, tx, b, by, now); err != nil {
			return err
		}
	case c.Before != nil:
		if err := c.Before.restore(ctx, tx, b, now); err != nil {
			return err
		}
	case len(c.MadeRows) > 0:
		if err := tx.Drop(store.Dropped{Rows: c.MadeRows}); err != nil {
			return err
		}
	case c.What == GroundBlock:
		return tx.Drop(store.Dropped{Blocks: []vine.ID{c.Block}}) // and what was written down of it
	default:
		return inUse("%s cannot be taken back", c.What)
	}
	return keepChange(ctx, tx, &undone, nil, by, now)
}

// undoOf gives the id of the change that can be taken back, or why there is none.
func undoOf(ctx context.Context, st reader, b store.Block, changes []GroundChange) (id, why string, err error) {
	if err := mayTakeBack(ctx, st, b, changes); err != nil {
		if errors.Is(err, ErrInUse) {
			return "", err.Error(), nil
		}
		return "", "", err
	}
	return changes[inForce(changes)].ID, "", nil
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
