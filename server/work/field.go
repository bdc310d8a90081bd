package work

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// FieldRow is a row as a phone needs it.
type FieldRow struct {
	OrderRow
	Block        vine.ID    `json:"block"`
	Code         string     `json:"code"`
	Variety      string     `json:"variety"`
	Section      int        `json:"section"`        // vines between two posts, 0 not known
	VineSpacingM float64    `json:"vine_spacing_m"` // 0 not known
	Vines        [][6]int64 `json:"vines"`          // number, id, condition, index into texts or -1, progress, index into marks or -1
	Marks        []string   `json:"marks"`
	Gaps         []int      `json:"gaps"`
	Center       orb.Point  `json:"center"`
	Bounds       [4]float64 `json:"bounds"`
}

// FieldOrder is an order with its rows.
type FieldOrder struct {
	Order
	Rows  []FieldRow `json:"rows"`
	Vines int        `json:"vines"`
	Done  int        `json:"done"`
}

// FieldBook gathers orders for a phone: instruction lines once each.
type FieldBook struct {
	Orders []FieldOrder
	Texts  []string
	at     map[string]int64
}

// NewFieldBook begins one.
func NewFieldBook() *FieldBook {
	return &FieldBook{Orders: []FieldOrder{}, Texts: []string{}, at: map[string]int64{}}
}

// text gives the place of a line.
func (f *FieldBook) text(line string) int64 {
	if k, ok := f.at[line]; ok {
		return k
	}
	f.at[line] = int64(len(f.Texts))
	f.Texts = append(f.Texts, line)
	return f.at[line]
}

// ProgressOf gives how far an operation has got on each vine of a stand.
func ProgressOf(ctx context.Context, st reader, s *stand.Stand, operation string) ([]vine.Progress, error) {
	if operation == vine.Pruning {
		return s.Progress, nil
	}
	out := make([]vine.Progress, s.Ground.Len())
	for vs, err := range st.States(ctx, s.Ground.Block, s.Season, 0) {
		if err != nil {
			return nil, fmt.Errorf("%s in block %s: %w", operation, s.Ground.Code, err)
		}
		if i, ok := s.Ground.IndexOf(vs.Vine); ok {
			out[i] = vs.Work[operation]
		}
	}
	return out, nil
}

// Add puts an order into the book, with what to leave on each vine where it is
// about pruning. plan may be nil, cut too.
func (f *FieldBook) Add(o Order, b store.Block, s *stand.Stand, progress []vine.Progress, section int, plan map[vine.ID]Planned, cut *Runs) {
	out := FieldOrder{Order: o, Rows: []FieldRow{}}
	g := s.Ground
	marks := tapeOf(cut)
	fr := frame.New(orb.Point(g.Origin))
	for _, r := range o.Rows {
		row := FieldRow{OrderRow: r, Block: b.ID, Code: b.Code, Variety: b.Variety, Section: section, VineSpacingM: b.VineSpacingM, Vines: [][6]int64{}, Marks: []string{}, Gaps: []int{}}
		var bound orb.Bound
		first := true
		r.vines(g, func(i int) {
			at := fr.Inverse(float64(g.X[i]), float64(g.Y[i]))
			if first {
				bound, first = at.Bound(), false
			}
			bound = bound.Extend(at)
			n, c := int(g.Number[i]), s.Condition[i]
			v := [6]int64{int64(n), g.ID[i], int64(c), -1, int64(progress[i]), -1}
			if !c.Living() {
				row.Gaps = append(row.Gaps, n)
			} else {
				out.Vines++
				if progress[i] == vine.Done || progress[i] == vine.Skipped {
					out.Done++
				}
				if p, ok := plan[g.ID[i]]; ok && o.Operation == vine.Pruning && !p.Instruction.Nothing() {
					v[3] = f.text(p.Text())
				}
				v[5] = row.mark(marks[r.Row], n)
			}
			row.Vines = append(row.Vines, v)
		})
		row.Center, row.Bounds = bound.Center(), [4]float64{bound.Min[0], bound.Min[1], bound.Max[0], bound.Max[1]}
		out.Rows = append(out.Rows, row)
	}
	f.Orders = append(f.Orders, out)
}

// mark gives the place of the mark that hangs over a vine, -1 for none.
func (r *FieldRow) mark(pieces []tape, number int) int64 {
	word := ""
	for _, p := range pieces {
		if number >= p.from && number <= p.to {
			word = p.word // of pieces within one another the inner one comes later
		}
	}
	if word == "" {
		return -1
	}
	for k, m := range r.Marks {
		if m == word {
			return int64(k)
		}
	}
	r.Marks = append(r.Marks, word)
	return int64(len(r.Marks) - 1)
}

type tape struct {
	from, to int
	word     string
}

func tapeOf(cut *Runs) map[vine.ID][]tape {
	if cut == nil {
		return nil
	}
	out := make(map[vine.ID][]tape, len(cut.Rows))
	for _, row := range cut.Rows {
		for _, p := range row.Pieces {
			out[row.Row] = append(out[row.Row], tape{p.From, p.To, p.Mark.Word})
		}
	}
	return out
}
