package work

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// ErrWeighingList tells that a list of vines to weigh says something that cannot
// be meant.
var ErrWeighingList = errors.New("a list of vines to weigh that cannot be used")

// PaperWeighing keeps lists of vines to weigh that were handed over; a list's key
// is its id.
const PaperWeighing store.PaperKind = "weighing"

// WeighingWork is the operation by which a vine that could not be weighed is put
// down as skipped.
const WeighingWork = "weighing"

// WeighingList is vines of one block that a crew weighs with its phones.
type WeighingList struct {
	ID     string    `json:"id"`
	Season int       `json:"season"`
	Block  vine.ID   `json:"block"`
	Code   string    `json:"code"`
	Crew   string    `json:"crew"` // "" for every crew
	Unit   string    `json:"unit"` // in which weights are written: kg, g, lb or oz
	Vines  []vine.ID `json:"vines"`
	State  string    `json:"state"` // as an order's
	By     string    `json:"by"`
	Made   time.Time `json:"made"`
}

// mostOnList is how many vines one list may hold: more than a crew weighs in a
// winter.
const mostOnList = 5000

// settle puts the vines into walking order and refuses what the block does not
// have.
func (l *WeighingList) settle(g *stand.Ground) error {
	switch {
	case !slices.Contains([]string{"kg", "g", "lb", "oz"}, l.Unit):
		return fmt.Errorf("%w: unit %q: kg, g, lb or oz", ErrWeighingList, l.Unit)
	case len(l.Vines) == 0 || len(l.Vines) > mostOnList:
		return fmt.Errorf("%w: %d vines: 1 to %d", ErrWeighingList, len(l.Vines), mostOnList)
	case len(l.Crew) > 80:
		return fmt.Errorf("%w: a crew of %d characters: at most 80", ErrWeighingList, len(l.Crew))
	}
	at := make([]int, len(l.Vines))
	for k, id := range l.Vines {
		i, ok := g.IndexOf(id)
		if !ok {
			return fmt.Errorf("%w: there is no vine %d in block %s", ErrWeighingList, id, g.Code)
		}
		at[k] = i
	}
	l.Code, l.Vines = g.Code, l.Vines[:0]
	for _, i := range walkingOrder(g, at) {
		if n := len(l.Vines); n == 0 || l.Vines[n-1] != g.ID[i] {
			l.Vines = append(l.Vines, g.ID[i])
		}
	}
	return nil
}

// WeighingQuery selects lists; zero fields select nothing out.
type WeighingQuery struct {
	Season    int
	Block     vine.ID
	Crew      string // lists of this crew and those for every crew
	Withdrawn bool   // also those that were withdrawn
}

// WeighingLists gives lists that were handed over, by block code and age.
func WeighingLists(ctx context.Context, st reader, q WeighingQuery) ([]WeighingList, error) {
	all, err := papersOf[WeighingList](ctx, st, store.PaperQuery{Kind: PaperWeighing, Season: q.Season})
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(l WeighingList) bool {
		return q.Block != 0 && l.Block != q.Block || q.Crew != "" && l.Crew != "" && l.Crew != q.Crew || l.State == OrderWithdrawn && !q.Withdrawn
	})
	slices.SortStableFunc(all, func(a, b WeighingList) int {
		if c := strings.Compare(a.Code, b.Code); c != 0 {
			return c
		}
		return a.Made.Compare(b.Made)
	})
	return all, nil
}

// HandOver keeps a list for the phones and gives it its id.
func HandOver(tx store.Tx, g *stand.Ground, l *WeighingList, by string, now time.Time) error {
	if err := l.settle(g); err != nil {
		return err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	l.ID, l.State, l.By, l.Made = id.String(), OrderOpen, by, now
	return l.save(tx)
}

// Withdraw takes a list from the phones; what was weighed stays.
func (l WeighingList) Withdraw(tx store.Tx, by string, now time.Time) error {
	l.State, l.By, l.Made = OrderWithdrawn, by, now
	return l.save(tx)
}

func (l WeighingList) save(tx store.Tx) error {
	return savePaper(tx, store.Paper{Kind: PaperWeighing, Key: l.ID, Season: l.Season, Block: l.Block, By: l.By, Made: l.Made}, l)
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
