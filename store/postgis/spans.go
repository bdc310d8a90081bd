package postgis

import (
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
	*s = append(*s, span{first, places})
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
