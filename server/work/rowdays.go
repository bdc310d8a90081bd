package work

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
)

// RowDay is how many rows of a block a crew did on a day, and how many of its
// orders for that day are left. A row is counted once: done, on the day and for
// the crew that crew.RowProgress names; left, under the first open order that has
// vines of it to do, with day and crew empty where no order has.
type RowDay struct {
	Day   string  `json:"day"`
	Crew  string  `json:"crew"`
	Block vine.ID `json:"block"`
	Code  string  `json:"code"`
	Done  int     `json:"done"`
	Left  int     `json:"left"`
}

// RowLine is how far one row is.
type RowLine struct {
	Code    string
	Row     string
	Vines   int
	Done    int
	Skipped int
	Left    int
	DoneOn  string // "" where something is left
	DoneBy  string // crew
	For     string // day of the order that it is left in
	By      string // its crew
}

// rowBook counts rows.
type rowBook struct {
	orders map[vine.ID][]Order // by block, those for no day last
	lines  []RowLine
	at     map[RowDay]*RowDay
}

func newRowBook(orders []Order, operation string) *rowBook {
	b := &rowBook{orders: map[vine.ID][]Order{}, lines: []RowLine{}, at: map[RowDay]*RowDay{}}
	for _, o := range orders {
		if o.Operation == operation {
			b.orders[o.Block] = append(b.orders[o.Block], o)
		}
	}
	for _, list := range b.orders {
		slices.SortStableFunc(list, func(a, b Order) int {
			if (a.Day == "") != (b.Day == "") {
				return cmp.Compare(b.Day, a.Day)
			}
			return cmp.Compare(a.Day, b.Day)
		})
	}
	return b
}

// add takes up the rows of a block. apart: its sick vines have orders of their
// own.
func (b *rowBook) add(s ShareBlock, p crew.Progress, apart bool) {
	for k, r := range p.Rows {
		if r.Vines == 0 {
			continue
		}
		line := RowLine{Code: s.Block.Code, Row: r.Label, Vines: r.Vines, Done: r.Done, Skipped: r.Skipped, Left: r.Left}
		if r.Left == 0 {
			line.DoneOn, line.DoneBy = r.Day.Format(time.DateOnly), r.Crew
			b.of(s, line.DoneOn, line.DoneBy).Done++
		} else {
			if o := b.orderOf(s.Stand, k, p.Left, apart); o != nil {
				line.For, line.By = o.Day, o.Crew
			}
			b.of(s, line.For, line.By).Left++
		}
		b.lines = append(b.lines, line)
	}
}

func (b *rowBook) of(s ShareBlock, day, crew string) *RowDay {
	key := RowDay{Day: day, Crew: crew, Block: s.Block.ID, Code: s.Block.Code}
	if b.at[key] == nil {
		n := key
		b.at[key] = &n
	}
	return b.at[key]
}

// orderOf finds the first order that has vines of a row to do; nil for none.
func (b *rowBook) orderOf(s *stand.Stand, row int, left []bool, apart bool) *Order {
	orders := b.orders[s.Ground.Block]
	for k := range orders {
		for _, r := range orders[k].Rows {
			if r.Row != s.Ground.Rows[row].ID {
				continue
			}
			has := false
			r.vines(s.Ground, func(i int) {
				sick := s.Condition[i] == vine.Diseased
				has = has || left[i] && (sick == orders[k].Sick || !apart && !orders[k].Sick)
			})
			if has {
				return &orders[k]
			}
		}
	}
	return nil
}

// days gives the counts by day, crew and block; what no order names comes last.
func (b *rowBook) days() []RowDay {
	out := make([]RowDay, 0, len(b.at))
	for _, d := range b.at {
		out = append(out, *d)
	}
	slices.SortFunc(out, func(a, b RowDay) int {
		return cmp.Or(cmp.Compare(cmp.Or(a.Day, "~"), cmp.Or(b.Day, "~")), cmp.Compare(cmp.Or(a.Crew, "~"), cmp.Or(b.Crew, "~")), cmp.Compare(a.Code, b.Code), cmp.Compare(a.Block, b.Block))
	})
	return out
}

// countOf is a number with its word: 1 crew, 3 crews.
func countOf(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}
