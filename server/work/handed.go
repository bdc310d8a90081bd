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

// ErrHanded tells that a list of vines for the phones says something that cannot
// be meant.
var ErrHanded = errors.New("a list for the phones that cannot be used")

// Handed is vines of one block that a crew carries on its phones until the list is
// withdrawn. Lists are papers; a list's key is its id.
type Handed struct {
	ID     string    `json:"id"`
	Season int       `json:"season"`
	Block  vine.ID   `json:"block"`
	Code   string    `json:"code"`
	Crew   string    `json:"crew"` // "" for every crew
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
func (l *Handed) settle(g *stand.Ground) error {
	switch {
	case len(l.Vines) == 0 || len(l.Vines) > mostOnList:
		return fmt.Errorf("%w: %d vines: 1 to %d", ErrHanded, len(l.Vines), mostOnList)
	case len(l.Crew) > 80:
		return fmt.Errorf("%w: a crew of %d characters: at most 80", ErrHanded, len(l.Crew))
	}
	for _, id := range l.Vines {
		if _, ok := g.IndexOf(id); !ok {
			return fmt.Errorf("%w: there is no vine %d in block %s", ErrHanded, id, g.Code)
		}
	}
	at := l.places(g)
	l.Code, l.Vines = g.Code, l.Vines[:0]
	for _, i := range walkingOrder(g, at) {
		if n := len(l.Vines); n == 0 || l.Vines[n-1] != g.ID[i] {
			l.Vines = append(l.Vines, g.ID[i])
		}
	}
	return nil
}

// places gives the vines of the list by their index; those that the ground no
// longer has are left out.
func (l *Handed) places(g *stand.Ground) []int {
	at := make([]int, 0, len(l.Vines))
	for _, id := range l.Vines {
		if i, ok := g.IndexOf(id); ok {
			at = append(at, i)
		}
	}
	return at
}

// begin makes a new list of what was asked for.
func (l *Handed) begin(g *stand.Ground, by string, now time.Time) error {
	if err := l.settle(g); err != nil {
		return err
	}
	id, err := uuid.NewV7()
	if err != nil {
		return err
	}
	l.ID, l.State, l.By, l.Made = id.String(), OrderOpen, by, now
	return nil
}

// withdraw takes the list from the phones; what was recorded stays.
// Named is the id of the list.
func (l Handed) Named() string { return l.ID }

func (l *Handed) withdraw(by string, now time.Time) { l.State, l.By, l.Made = OrderWithdrawn, by, now }

func (l *Handed) paper(kind store.PaperKind) store.Paper {
	return store.Paper{Kind: kind, Key: l.ID, Season: l.Season, Block: l.Block, By: l.By, Made: l.Made}
}

// HandedQuery selects lists; zero fields select nothing out.
type HandedQuery struct {
	Season    int
	Block     vine.ID
	Crew      string // lists of this crew and those for every crew
	Withdrawn bool   // also those that were withdrawn
}

func (q HandedQuery) leavesOut(l *Handed) bool {
	return q.Block != 0 && l.Block != q.Block || q.Crew != "" && l.Crew != "" && l.Crew != q.Crew || l.State == OrderWithdrawn && !q.Withdrawn
}

// handedLists gives lists of a kind that were handed over, by block code and age.
func handedLists[T any](ctx context.Context, st reader, kind store.PaperKind, q HandedQuery, of func(*T) *Handed) ([]T, error) {
	all, err := papersOf[T](ctx, st, store.PaperQuery{Kind: kind, Season: q.Season})
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(l T) bool { return q.leavesOut(of(&l)) })
	slices.SortStableFunc(all, func(x, y T) int {
		a, b := of(&x), of(&y)
		if c := strings.Compare(a.Code, b.Code); c != 0 {
			return c
		}
		return a.Made.Compare(b.Made)
	})
	return all, nil
}

// HandedRow is where a row of a list begins on the phone.
type HandedRow struct {
	Row     vine.ID `json:"row"`
	Label   string  `json:"label"`
	Start   string  `json:"start"`   // the end where the walk enters: "near" (where vine 1 stands) or "far"
	Last    int     `json:"last"`    // the highest number of the row
	Section int     `json:"section"` // vines between two posts, 0 not known
}

func handedRow(g *stand.Ground, run walkRun, section int) HandedRow {
	r := g.Rows[run.row]
	row := HandedRow{Row: r.ID, Label: r.Label, Start: "near", Last: int(g.Number[r.First+r.Count-1]), Section: section}
	if run.far {
		row.Start = "far"
	}
	return row
}
