package postgis

import (
	"slices"
	"sort"

	"courson/geo/vine"
	"courson/store"
)

// spans remembers where the vines stand that a transaction has made, so that an
// import with records need not ask the database for what it wrote a moment ago.
// Their ids were given out in runs.
type spans []span

type span struct {
	first  vine.ID
	block  vine.ID // of all; 0: of several
	places []rowBlock
}

// rowBlock is where a vine stands; row 0 where that is no longer sure.
type rowBlock struct {
	row, block vine.ID
	planted    int // the vine's own; 0: the block's
}

// add notes new vines; their ids rise by one.
func (s *spans) add(first vine.ID, vines []store.Vine, write []int) {
	places := make([]rowBlock, 0, len(write))
	for _, i := range write {
		if v := &vines[i]; v.ID >= first {
			places = append(places, rowBlock{v.Row, v.Block, v.Planted})
		}
	}
	one := vine.ID(0)
	if len(places) > 0 && !slices.ContainsFunc(places, func(p rowBlock) bool { return p.block != places[0].block }) {
		one = places[0].block
	}
	*s = append(*s, span{first, one, places})
}

// of gives the place of a vine that it knows. Planted is the vine's own.
func (s spans) of(id vine.ID) (vine.Place, bool) {
	p := s.find(id)
	if p == nil || p.row == 0 {
		return vine.Place{}, false
	}
	return vine.Place{ID: id, Row: p.row, Block: p.block, Planted: p.planted}, true
}

// forget makes it ask the database about a vine again.
func (s spans) forget(id vine.ID) {
	if p := s.find(id); p != nil {
		p.row = 0
	}
}

func (s spans) find(id vine.ID) *rowBlock {
	i := sort.Search(len(s), func(i int) bool { return s[i].first > id }) - 1
	if i < 0 || id-s[i].first >= int64(len(s[i].places)) {
		return nil
	}
	return &s[i].places[id-s[i].first]
}

// total gives how many vines it knows.
func (s spans) total() (n int) {
	for _, sp := range s {
		n += len(sp.places)
	}
	return n
}

// sure tells whether it still knows where all vines of a block stand.
func (s spans) sure(block vine.ID) bool {
	for _, sp := range s {
		if sp.mayHold(block) && slices.ContainsFunc(sp.places, func(p rowBlock) bool { return p.row == 0 && p.block == block }) {
			return false
		}
	}
	return true
}

func (sp *span) mayHold(block vine.ID) bool { return sp.block == 0 || sp.block == block }

// in hands over the vines of a block, in order of id and at most n at a time. The
// slice is used again.
func (s spans) in(block vine.ID, n int, do func([]vine.Place) error) error {
	part := make([]vine.Place, 0, n)
	for _, sp := range s {
		if !sp.mayHold(block) {
			continue
		}
		for i, p := range sp.places {
			if p.block != block {
				continue
			}
			part = append(part, vine.Place{ID: sp.first + vine.ID(i), Row: p.row, Block: p.block, Planted: p.planted})
			if len(part) == n {
				if err := do(part); err != nil {
					return err
				}
				part = part[:0]
			}
		}
	}
	if len(part) == 0 {
		return nil
	}
	return do(part)
}
