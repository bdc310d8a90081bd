package logbook

import "courson/geo/vine"

// View reads records as they are to be read for one block as it stands. Where rows or
// vines were moved, a record that names the row or block they stood in then is given
// the row, the block or the vines of this block that it is about; what is about
// nothing in the block is left out. Records themselves are never changed.
type View struct {
	block  vine.ID
	places []vine.Place
	at     map[vine.ID]int // vine → place in places
	inRow  map[vine.ID]int // row → how many vines it has
}

// NewView takes all vines of a block, with where they stood before.
func NewView(block vine.ID, places []vine.Place) *View {
	v := &View{block: block, places: places, at: make(map[vine.ID]int, len(places)), inRow: map[vine.ID]int{}}
	for i, p := range places {
		v.at[p.ID] = i
		v.inRow[p.Row]++
	}
	return v
}

// Read gives the record as it reads for the block; false where it is about none of
// its vines.
func (v *View) Read(e vine.Event) (vine.Event, bool) {
	if len(e.Target.Vines) > 0 {
		return v.readVines(e)
	}
	var about []vine.ID
	row := vine.ID(0)
	for i, p := range v.places {
		if !e.Covers(p) {
			continue
		}
		if about = append(about, p.ID); len(about) == 1 {
			row = v.places[i].Row
		} else if p.Row != row {
			row = 0
		}
	}
	switch {
	case len(about) == 0:
		return e, len(v.places) == 0 && e.Target.Block == v.block
	case len(about) == len(v.places) && e.Target.Row == 0:
		e.Target = vine.Target{Block: v.block}
	case row != 0 && len(about) == v.inRow[row]:
		e.Target = vine.Target{Block: v.block, Row: row}
	default:
		e.Target = vine.Target{Block: v.block, Row: row, Vines: about}
	}
	return e, true
}

// readVines leaves the list as it is: values may stand for the vines one by one.
func (v *View) readVines(e vine.Event) (vine.Event, bool) {
	row, found := vine.ID(0), false
	for _, id := range e.Target.Vines {
		i, ok := v.at[id]
		switch {
		case !ok:
		case !found:
			row, found = v.places[i].Row, true
		case v.places[i].Row != row:
			row = 0
		}
	}
	if !found {
		return e, false
	}
	t := vine.Target{Block: v.block, Vines: e.Target.Vines}
	if e.Target.Row != 0 {
		t.Row = row
	}
	e.Target = t
	return e, true
}
