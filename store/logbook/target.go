package logbook

import (
	"fmt"
	"slices"
	"time"

	"courson/geo/vine"
)

// placeTarget says which part of a target does not exist, and gives the target as it
// is kept: with the block and row in which the ground that it names stands now. Whoever
// recorded may not have heard yet that rows or vines were moved.
func placeTarget(t vine.Target, found Found) (vine.Target, error) {
	switch {
	case len(t.Vines) > 0:
		return placeVines(t, found)
	case t.Row != 0:
		if in, ok := found.Rows[t.Row]; ok && (in == t.Block || found.stood(t.Row, t.Block)) {
			t.Block = in
			return t, nil
		}
		return placeGone(t, found, fmt.Errorf("there is no row %d in block %d", t.Row, t.Block))
	case !found.Blocks[t.Block]:
		return placeGone(t, found, fmt.Errorf("there is no block %d", t.Block))
	}
	return t, nil
}

func (f *Found) stood(row, block vine.ID) bool {
	return slices.ContainsFunc(f.Stood, func(p vine.Place) bool { return p.Stood(row, block) })
}

// placeVines does so for listed vines. Where they stand in several blocks now, the
// target stays as it came.
func placeVines(t vine.Target, found Found) (vine.Target, error) {
	if !found.Blocks[t.Block] && !found.anyStood(t.Vines, 0, t.Block) {
		return t, fmt.Errorf("there is no block %d", t.Block)
	}
	if in, ok := found.Rows[t.Row]; t.Row != 0 && (!ok || in != t.Block) && !found.anyStood(t.Vines, t.Row, t.Block) {
		return t, fmt.Errorf("there is no row %d in block %d", t.Row, t.Block)
	}
	var once map[vine.ID]bool
	if len(t.Vines) > 1 {
		once = make(map[vine.ID]bool, len(t.Vines))
	}
	moved := false
	for _, id := range t.Vines {
		p, ok := found.Vines[id]
		switch {
		case !ok || !p.Stood(0, t.Block):
			return t, fmt.Errorf("there is no vine %d in block %d", id, t.Block)
		case t.Row != 0 && !p.Stood(t.Row, t.Block):
			return t, fmt.Errorf("vine %d does not stand in row %d", id, t.Row)
		case once[id]:
			return t, fmt.Errorf("vine %d is named twice", id)
		}
		if once != nil {
			once[id] = true
		}
		moved = moved || p.Block != t.Block || t.Row != 0 && p.Row != t.Row
	}
	if moved {
		t.Block, t.Row = found.together(t)
	}
	return t, nil
}

func (f *Found) anyStood(vines []vine.ID, row, block vine.ID) bool {
	return slices.ContainsFunc(vines, func(id vine.ID) bool { return f.Vines[id].Stood(row, block) })
}

// together gives block and row in which all listed vines stand now: the target's own
// block where they stand in several, no row where they stand in several.
func (f *Found) together(t vine.Target) (block, row vine.ID) {
	first := f.Vines[t.Vines[0]]
	block, row = first.Block, first.Row
	for _, id := range t.Vines {
		p := f.Vines[id]
		if p.Block != block {
			return t.Block, t.Row
		}
		if p.Row != row {
			row = 0
		}
	}
	return block, row
}

// placeGone names the vines of a row or block that is no more: those that stood in it
// at the last. It gives the error where there are none, or where they stand in
// several blocks now.
func placeGone(t vine.Target, found Found, none error) (vine.Target, error) {
	last, out := time.Time{}, vine.Target{}
	in := func(s vine.Stay) bool { return s.Block == t.Block && (t.Row == 0 || s.Row == t.Row) }
	for _, p := range found.Stood {
		for _, s := range p.Was {
			if in(s) && s.Until.After(last) {
				last = s.Until
			}
		}
	}
	for _, p := range found.Stood {
		if !slices.ContainsFunc(p.Was, func(s vine.Stay) bool { return in(s) && s.Until.Equal(last) }) {
			continue
		}
		switch {
		case len(out.Vines) == 0:
			out.Block, out.Row = p.Block, p.Row
		case p.Block != out.Block:
			return t, fmt.Errorf("%w: it was split up, record it row by row", none)
		case p.Row != out.Row:
			out.Row = 0
		}
		out.Vines = append(out.Vines, p.ID)
	}
	if len(out.Vines) == 0 {
		return t, none
	}
	return out, nil
}
