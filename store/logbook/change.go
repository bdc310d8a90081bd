package logbook

import (
	"slices"

	"courson/geo/vine"
)

// Shift is what a new fold of one vine changed.
type Shift struct {
	Put  []Record // records that are new or say something else
	Drop []int    // seasons whose record is gone
	// Seasons are those whose states changed, rising. Carried tells that a part
	// which later seasons carry forward changed too, so that any later season
	// may look different.
	Seasons []int
	Carried bool
}

// None tells that nothing changed.
func (s Shift) None() bool { return len(s.Put) == 0 && len(s.Drop) == 0 }

// Compare gives what the states now differ in from the records held before
// (in order of season).
func Compare(p vine.Place, before []Record, now []vine.State) (Shift, error) {
	var out Shift
	held := make(map[int]Record, len(before))
	for _, r := range before {
		held[r.Season] = r
	}
	for _, s := range now {
		r, err := NewRecord(p.ID, p.Block, s)
		if err != nil {
			return Shift{}, err
		}
		old, ok := held[s.Season]
		delete(held, s.Season)
		if ok && old.Same(r) {
			continue
		}
		out.Put = append(out.Put, r)
		out.Seasons = append(out.Seasons, s.Season)
		if !sameCarried(r, carriedTo(p, before, s.Season)) {
			out.Carried = true
		}
	}
	for season := range held {
		out.Drop = append(out.Drop, season)
		out.Seasons = append(out.Seasons, season)
		out.Carried = true
	}
	slices.Sort(out.Drop)
	slices.Sort(out.Seasons)
	return out, nil
}

// carriedTo gives what the records before say of a season: its own, or the
// newest one before it, or nothing but the first plant.
func carriedTo(p vine.Place, before []Record, season int) Record {
	out := Record{Planted: p.Planted}
	for _, r := range before {
		if r.Season <= season {
			out = r
		}
	}
	return out
}

func sameCarried(a, b Record) bool {
	return a.Condition == b.Condition && a.Cause == b.Cause && a.Planted == b.Planted &&
		a.SeenAt.Equal(b.SeenAt) && a.LookAgain.Equal(b.LookAgain)
}
