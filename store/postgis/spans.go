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

type rowBlock struct{ row, block vine.ID }

// add notes new vines; their ids rise by one.
func (s *spans) add(first vine.ID, vines []store.Vine, write []int) {
	places := make([]rowBlock, 0, len(write))
	for _, i := range write {
		if v := &vines[i]; v.ID >= first {
			places = append(places, rowBlock{v.Row, v.Block})
		}
	}
	*s = append(*s, span{first, places})
}

// take puts the places of vines that it knows into found, and gives the others.
// The planting season is left open: nobody who asks here needs it.
func (s spans) take(ids []vine.ID, found map[vine.ID]vine.Place) (unknown []vine.ID) {
	for _, id := range ids {
		i := sort.Search(len(s), func(i int) bool { return s[i].first > id }) - 1
		if i < 0 || id-s[i].first >= int64(len(s[i].places)) {
			unknown = append(unknown, id)
			continue
		}
		p := s[i].places[id-s[i].first]
		found[id] = vine.Place{ID: id, Row: p.row, Block: p.block}
	}
	return unknown
}
