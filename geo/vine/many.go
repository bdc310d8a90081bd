package vine

import (
	"cmp"
	"slices"
)

// FoldMany folds the same events over many vines and hands over each life with
// the vine's index in places, in their order. Every life is what Fold gives for
// that place and those events.
//
// The events are laid out by vine, row and block first, so that an event about
// a row costs each of its vines one step, however many vines events name: cost
// is linear in the vines, the vines named and the steps. Lives of different
// vines share parts; read them, do not change them.
func FoldMany(places []Place, events []Event, yield func(i int, life Life)) {
	idx := layOut(places, inOrder(events))
	var list []entry
	for i, p := range places {
		list = idx.cover(list[:0], p)
		yield(i, foldEntries(p, list))
	}
}

// about is one record that names or covers a vine.
type about struct {
	record int // place in the index's order
	pos    int // which of the target's listed vines
}

// index finds the records of a vine.
type index struct {
	records []*record
	ids     []ID    // the vines, rising
	spans   []int   // spans[k] to spans[k+1] in named belong to vine ids[k]
	named   []about // records that name vines, by vine and then in order
	at      int     // where find found last
	rows    map[ID][]about
	blocks  map[ID][]about
}

// layOut sorts records out by what they are about, leaving out vines that are
// not among the places.
func layOut(places []Place, records []*record) *index {
	idx := &index{records: records, rows: map[ID][]about{}, blocks: map[ID][]about{}}
	wants := false
	for i, r := range records {
		switch {
		case len(r.Target.Vines) > 0:
			wants = true
		case r.Target.Row != 0:
			idx.rows[r.Target.Row] = append(idx.rows[r.Target.Row], about{record: i})
		default:
			idx.blocks[r.Target.Block] = append(idx.blocks[r.Target.Block], about{record: i})
		}
	}
	if wants {
		idx.layOutVines(places)
	}
	return idx
}

// layOutVines counts the records of each vine first, so that all of them lie in
// one slice.
func (idx *index) layOutVines(places []Place) {
	idx.ids = make([]ID, len(places))
	for i, p := range places {
		idx.ids[i] = p.ID
	}
	slices.Sort(idx.ids) // quick where they rise already
	idx.ids = slices.Compact(idx.ids)
	idx.spans = make([]int, len(idx.ids)+1)
	idx.eachNamed(func(k, _, _ int) { idx.spans[k+1]++ })
	for k := 1; k < len(idx.spans); k++ {
		idx.spans[k] += idx.spans[k-1]
	}
	idx.named = make([]about, idx.spans[len(idx.spans)-1])
	next := slices.Clone(idx.spans)
	idx.eachNamed(func(k, record, pos int) {
		idx.named[next[k]] = about{record, pos}
		next[k]++
	})
}

// eachNamed goes through the vines that records name, in the records' order.
func (idx *index) eachNamed(do func(k, record, pos int)) {
	for i, r := range idx.records {
		for pos, id := range r.Target.Vines {
			if k, ok := idx.find(id); ok {
				do(k, i, pos)
			}
		}
	}
}

// cover appends what covers a place, in the records' order: the three lists are
// in that order each and are merged.
func (idx *index) cover(list []entry, p Place) []entry {
	if len(p.Was) > 0 {
		return idx.coverMoved(list, p)
	}
	from := [3][]about{idx.of(p.ID), idx.rows[p.Row], idx.blocks[p.Block]}
	last := -1
	for {
		best := -1
		for k, l := range from {
			if len(l) > 0 && (best < 0 || l[0].record < from[best][0].record) {
				best = k
			}
		}
		if best < 0 {
			return list
		}
		a := from[best][0]
		from[best] = from[best][1:]
		r := idx.records[a.record]
		if a.record == last || r.Target.Block != p.Block {
			continue // a vine named twice counts where it is named first
		}
		last = a.record
		list = append(list, entry{record: r, pos: a.pos})
	}
}

// coverMoved is cover for a vine that stood in other rows or blocks before.
func (idx *index) coverMoved(list []entry, p Place) []entry {
	all := slices.Concat(idx.of(p.ID), idx.rows[p.Row], idx.blocks[p.Block])
	for _, s := range p.Was {
		all = slices.Concat(all, idx.rows[s.Row], idx.blocks[s.Block])
	}
	slices.SortFunc(all, func(a, b about) int { return cmp.Or(a.record-b.record, a.pos-b.pos) })
	last := -1
	for _, a := range all {
		r := idx.records[a.record]
		if a.record == last {
			continue
		}
		if pos, ok := r.position(p); ok {
			last = a.record
			list = append(list, entry{record: r, pos: pos})
		}
	}
	return list
}

// of gives the records that name a vine.
func (idx *index) of(v ID) []about {
	k, ok := idx.find(v)
	if !ok {
		return nil
	}
	return idx.named[idx.spans[k]:idx.spans[k+1]]
}

// find gives the place of a vine among ids. Vines mostly come one after the
// other, so it looks beside the last one first.
func (idx *index) find(v ID) (k int, ok bool) {
	if k = idx.at + 1; k < len(idx.ids) && idx.ids[k] == v {
		idx.at = k
		return k, true
	}
	k, ok = slices.BinarySearch(idx.ids, v)
	if ok {
		idx.at = k
	}
	return k, ok
}
