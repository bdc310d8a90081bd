package crew

import (
	"fmt"
	"slices"

	"courson/geo/vine"
)

// Choice says which vines an order is made of.
type Choice struct {
	Rule  Rule
	Rows  []int // indices of rows that it is limited to; nil: all
	Vines []int // indices of vines, for WeakPatches and Chosen
}

// Orders makes the order of a choice and, where the operation wants sick vines
// last, a second one with those among them, row by row. What is done or skipped
// is left out; an order without vines is not made. The error wraps ErrOrder.
func (w *Work) Orders(c Choice) ([]Order, error) {
	take, err := w.taking(c)
	if err != nil {
		return nil, err
	}
	apart := w.operation.SickLast
	var out []Order
	for _, sick := range []bool{false, true} {
		if c.Rule == SickVines && !sick || sick && !apart && c.Rule != SickVines {
			continue
		}
		o := w.blank(c.Rule, sick)
		for _, r := range w.rowsOf(c) {
			o.Pieces = append(o.Pieces, w.pieces(r, func(i int) bool {
				if apart || c.Rule == SickVines {
					return take(i) && w.sick(i) == sick
				}
				return take(i)
			})...)
		}
		if len(o.Pieces) > 0 {
			out = append(out, o)
		}
	}
	return out, nil
}

func (w *Work) blank(rule Rule, sick bool) Order {
	g := w.Stand.Ground
	return Order{Operation: w.operation.Name, Block: g.Block, Code: g.Code, Rule: rule, Sick: sick}
}

// rowsOf gives the rows of a choice, rising, each once.
func (w *Work) rowsOf(c Choice) []int {
	rows := slices.Clone(c.Rows)
	if rows == nil {
		for r := range w.Stand.Ground.Rows {
			rows = append(rows, r)
		}
	}
	slices.Sort(rows)
	return slices.Compact(rows)
}

// taking gives the test that a vine belongs to a choice.
func (w *Work) taking(c Choice) (func(i int) bool, error) {
	g := w.Stand.Ground
	for _, r := range c.Rows {
		if r < 0 || r >= len(g.Rows) {
			return nil, wrong(ErrOrder, "rows", fmt.Sprintf("index %d", r), fmt.Sprintf("0 to %d", len(g.Rows)-1))
		}
	}
	vines, rows := map[int]bool{}, map[int32]bool{}
	for _, i := range c.Vines {
		if i < 0 || i >= g.Len() {
			return nil, wrong(ErrOrder, "vines", fmt.Sprintf("index %d", i), fmt.Sprintf("0 to %d", g.Len()-1))
		}
		vines[i], rows[g.Row[i]] = true, true
	}
	switch c.Rule {
	case WholeRows, SickVines:
		return func(int) bool { return true }, nil
	case WeakPatches:
		return func(i int) bool { return rows[g.Row[i]] }, nil
	case Chosen:
		return func(i int) bool { return vines[i] }, nil
	case YoungVines:
		return func(i int) bool { return ClassOf(w.Stand, i) == ClassYoung }, nil
	case FollowUps:
		return func(i int) bool {
			f := w.Stand.FollowOf(i)
			return f == vine.FollowRubOff || f == vine.FollowBothPush
		}, nil
	}
	return nil, wrong(ErrOrder, "rule", fmt.Sprintf("%q", c.Rule), "one of the rules")
}

// pieces cuts row r into runs of vines that are due and taken. Positions that
// the operation does not reach lie within a run; any other vine ends it.
func (w *Work) pieces(r int, take func(i int) bool) (out []Piece) {
	g := w.Stand.Ground
	row := g.Rows[r]
	var at *Piece
	for i := row.First; i < row.First+row.Count; i++ {
		switch {
		case w.Minutes[i] > 0 && take(i):
			if at == nil {
				out = append(out, Piece{Row: row.ID, Label: row.Label, From: int(g.Number[i])})
				at = &out[len(out)-1]
			}
			at.To = int(g.Number[i])
			at.Vines++
			at.Minutes += w.Minutes[i]
		case w.operation.On.reaches(w.Stand.Condition[i]):
			at = nil
		}
	}
	return out
}

// Left gives what is left of an order, as the job stands now: vines that were
// done meanwhile are out, and a run that one of them lay in is split. Vines found
// sick meanwhile come in a second order, nil where there are none. Crew, day,
// note, marks and instructions are kept. The error wraps ErrOrder.
func (w *Work) Left(o Order) (left Order, sick *Order, err error) {
	if o.Operation != w.operation.Name || o.Block != w.Stand.Ground.Block {
		return o, nil, wrong(ErrOrder, "order", fmt.Sprintf("%s in block %d", o.Operation, o.Block),
			fmt.Sprintf("%s in block %d", w.operation.Name, w.Stand.Ground.Block))
	}
	left, aside := o, o
	aside.Sick, left.Pieces, aside.Pieces = true, nil, nil
	apart := w.operation.SickLast || o.Rule == SickVines
	for _, p := range o.Pieces {
		r, ok := w.rows[p.Row]
		if !ok {
			return o, nil, wrong(ErrOrder, "row", p.Row, "a row of the block")
		}
		within := func(i int) bool {
			n := int(w.Stand.Ground.Number[i])
			return n >= p.From && n <= p.To
		}
		left.Pieces = append(left.Pieces, w.pieces(r, func(i int) bool { return within(i) && (!apart || o.Sick == w.sick(i)) })...)
		if apart && !o.Sick {
			aside.Pieces = append(aside.Pieces, w.pieces(r, func(i int) bool { return within(i) && w.sick(i) })...)
		}
	}
	left = left.With(o.Instructions)
	if len(aside.Pieces) > 0 {
		aside = aside.With(o.Instructions)
		sick = &aside
	}
	return left, sick, nil
}
