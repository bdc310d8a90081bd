package work

import (
	"context"
	"fmt"
	"slices"
	"time"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// PaperWeighing keeps lists of vines to weigh that were handed over; a list's key
// is its id.
const PaperWeighing store.PaperKind = "weighing"

// WeighingWork is the operation by which a vine that could not be weighed is put
// down as skipped.
const WeighingWork = "weighing"

// WeighingList is vines of one block that a crew weighs with its phones.
type WeighingList struct {
	Handed
	Unit string `json:"unit"` // in which weights are written: kg, g, lb or oz
}

// WeighingLists gives lists that were handed over, by block code and age.
func WeighingLists(ctx context.Context, st reader, q HandedQuery) ([]WeighingList, error) {
	return handedLists(ctx, st, PaperWeighing, q, func(l *WeighingList) *Handed { return &l.Handed })
}

// HandOver keeps a list for the phones and gives it its id.
func HandOver(tx store.Tx, g *stand.Ground, l *WeighingList, by string, now time.Time) error {
	if !slices.Contains([]string{"kg", "g", "lb", "oz"}, l.Unit) {
		return fmt.Errorf("%w: unit %q: kg, g, lb or oz", ErrHanded, l.Unit)
	}
	if err := l.begin(g, by, now); err != nil {
		return err
	}
	return savePaper(tx, l.paper(PaperWeighing), l)
}

// Withdraw takes a list from the phones; what was weighed stays.
func (l WeighingList) Withdraw(tx store.Tx, by string, now time.Time) error {
	l.withdraw(by, now)
	return savePaper(tx, l.paper(PaperWeighing), l)
}

// WeighingTally is how far a list has got.
type WeighingTally struct {
	Number  int `json:"number"`  // vines on the list
	Done    int `json:"done"`    // have a weight
	Skipped int `json:"skipped"` // cannot be weighed: no living vine, or said so
}

// Tally counts a list; progress is that of WeighingWork.
func (l WeighingList) Tally(s *stand.Stand, progress []vine.Progress) WeighingTally {
	t := WeighingTally{Number: len(l.Vines)}
	for _, id := range l.Vines {
		i, ok := s.Ground.IndexOf(id)
		switch {
		case ok && s.WeightG[i] >= 0:
			t.Done++
		case !ok || !s.Condition[i].Living() || progress[i] == vine.Skipped:
			t.Skipped++
		}
	}
	return t
}
