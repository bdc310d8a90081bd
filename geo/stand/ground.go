package stand

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"unsafe"

	"courson/geo/vine"
)

// MaxNumber is the highest number a vine can have in its row.
const MaxNumber = 65_535

// ErrGround is at the root of everything that is wrong with a ground.
var ErrGround = errors.New("ground is out of order")

// Finish checks a ground and makes IndexOf quick. It is called once, before the
// ground is shared; Builder does it itself. Columns that are nil are taken as
// not known. The error wraps ErrGround and names what is wrong.
func (g *Ground) Finish() error {
	if err := g.checkColumns(); err != nil {
		return err
	}
	next := 0
	for r, row := range g.Rows {
		if row.First != next || row.Count < 0 || row.First+row.Count > g.Len() {
			return fmt.Errorf("%w: row %s has vines %d to %d of %d; it should begin at %d",
				ErrGround, row.Label, row.First, row.First+row.Count, g.Len(), next)
		}
		next = row.First + row.Count
		if err := g.checkRow(r); err != nil {
			return err
		}
	}
	if next != g.Len() {
		return fmt.Errorf("%w: the rows hold %d of %d vines", ErrGround, next, g.Len())
	}
	return g.sortIDs()
}

func (g *Ground) checkColumns() error {
	n := g.Len()
	for _, c := range []struct {
		name string
		len  int
		must bool
	}{
		{"row", len(g.Row), true}, {"number", len(g.Number), true}, {"world x", len(g.WX), true}, {"world y", len(g.WY), true},
		{"chainage", len(g.Chainage), false}, {"x", len(g.X), false}, {"y", len(g.Y), false},
		{"occupied", len(g.Occupied), false}, {"planted", len(g.Planted), false}, {"part", len(g.Part), false},
	} {
		if c.len != n && (c.must || c.len != 0) {
			return fmt.Errorf("%w: column %s has %d entries for %d vines", ErrGround, c.name, c.len, n)
		}
	}
	return nil
}

// checkRow wants numbers that rise, and the row index on each vine.
func (g *Ground) checkRow(r int) error {
	row, before := g.Rows[r], int32(0)
	for i := row.First; i < row.First+row.Count; i++ {
		if g.Row[i] != int32(r) {
			return fmt.Errorf("%w: vine %d lies among those of row %s but belongs to the %d. row", ErrGround, g.ID[i], row.Label, g.Row[i]+1)
		}
		if g.Number[i] <= before || g.Number[i] > MaxNumber {
			return fmt.Errorf("%w: row %s: number %d comes after %d; numbers rise from 1 to at most %d",
				ErrGround, row.Label, g.Number[i], before, MaxNumber)
		}
		before = g.Number[i]
	}
	return nil
}

// sortIDs lists the vines by id, unless they lie so already, and refuses an id
// that is not positive or comes twice.
func (g *Ground) sortIDs() error {
	g.byID = nil
	at := func(k int) vine.ID { return g.ID[k] }
	if !slices.IsSorted(g.ID) {
		perm := make([]int32, g.Len())
		for i := range perm {
			perm[i] = int32(i)
		}
		slices.SortFunc(perm, func(a, b int32) int { return cmp.Compare(g.ID[a], g.ID[b]) })
		g.byID = perm
		at = func(k int) vine.ID { return g.ID[perm[k]] }
	}
	for k := range g.Len() {
		if at(k) <= 0 {
			return fmt.Errorf("%w: %d is not the id of a vine", ErrGround, at(k))
		}
		if k > 0 && at(k) == at(k-1) {
			return fmt.Errorf("%w: vine %d is there twice", ErrGround, at(k))
		}
	}
	g.finished = true
	return nil
}

// IndexOf finds a vine. It is quick on a ground that Finish has seen: one step
// where ids run on, else a search by halves. On any other it looks at every vine.
func (g *Ground) IndexOf(id vine.ID) (i int, ok bool) {
	if g.Len() == 0 {
		return 0, false
	}
	if d := id - g.ID[0]; d >= 0 && d < vine.ID(g.Len()) && g.ID[d] == id {
		return int(d), true
	}
	switch {
	case !g.finished:
		i = slices.Index(g.ID, id)
		return max(i, 0), i >= 0
	case g.byID == nil:
		return slices.BinarySearch(g.ID, id)
	}
	k, ok := slices.BinarySearchFunc(g.byID, id, func(i int32, id vine.ID) int { return cmp.Compare(g.ID[i], id) })
	if !ok {
		return 0, false
	}
	return int(g.byID[k]), true
}

// Bytes is the memory that the ground takes.
func (g *Ground) Bytes() int64 {
	n := int64(unsafe.Sizeof(*g)) + int64(len(g.Code)) + held(g.ID) + held(g.Row) + held(g.Number) + held(g.Chainage) +
		held(g.X) + held(g.Y) + held(g.WX) + held(g.WY) + held(g.Occupied) + held(g.Planted) + held(g.Part) + held(g.byID) + held(g.Rows)
	for _, r := range g.Rows {
		n += int64(len(r.Label))
	}
	return n
}

// held is the memory of a column, spare room included.
func held[T any](column []T) int64 {
	var one T
	return int64(cap(column)) * int64(unsafe.Sizeof(one))
}
