package crew

import (
	"fmt"
	"math"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Line is a row on the ground, in metres of the block's frame.
type Line struct {
	Row   vine.ID
	Label string
	Near  [2]float64 // the end that numbers begin at
	Far   [2]float64
}

// Lines gives the rows of a ground that have vines, from first vine to last. The
// error wraps ErrWalk where the ground has no positions in metres.
func Lines(g *stand.Ground) ([]Line, error) {
	if len(g.X) != g.Len() || len(g.Y) != g.Len() {
		return nil, wrong(ErrWalk, "block "+g.Code, "no positions in metres", "them")
	}
	var out []Line
	for _, r := range g.Rows {
		if r.Count == 0 {
			continue
		}
		a, b := r.First, r.First+r.Count-1
		out = append(out, Line{Row: r.ID, Label: r.Label, Near: [2]float64{float64(g.X[a]), float64(g.Y[a])}, Far: [2]float64{float64(g.X[b]), float64(g.Y[b])}})
	}
	return out, nil
}

// LinesOf keeps the rows in which an order has something to do.
func LinesOf(lines []Line, o Order) (out []Line) {
	has := map[vine.ID]bool{}
	for _, p := range o.Pieces {
		has[p.Row] = true
	}
	for _, l := range lines {
		if has[l.Row] {
			out = append(out, l)
		}
	}
	return out
}

// End is an end of a row.
type End uint8

// The ends.
const (
	FromNear End = 0 // where numbers begin
	FromFar  End = 1
)

// Other is the opposite end.
func (e End) Other() End { return 1 - e }

// Corner is where a walk begins.
type Corner struct {
	Last bool `json:"last"` // at the last of the rows, not the first
	End  End  `json:"end"`  // at which end of that row
}

// Way says which row comes next.
type Way uint8

// The ways.
const (
	EveryRow      Way = 0
	EveryOtherRow Way = 1 // out by every other row, back by those between: for headlands too tight to turn into the next row
)

// Leg is one row of a walk.
type Leg struct {
	Row     vine.ID `json:"row"`
	Label   string  `json:"label"`
	From    End     `json:"from"`     // the end at which it is entered
	LengthM float64 `json:"length_m"` // along the row
	ReachM  float64 `json:"reach_m"`  // over the headland, from the row before
}

// Walk is rows in the order in which they are walked.
type Walk []Leg

// DistanceM is what is walked: rows and headlands.
func (w Walk) DistanceM() (m float64) {
	for _, l := range w {
		m += l.LengthM + l.ReachM
	}
	return m
}

// UpAndDown walks lines that lie side by side in their order, up one and down the
// next, from a corner. Sides of the block are told by the first line walked: a
// line that is drawn the other way round is entered at its other numbered end, so
// that up and down alternate on the ground. The error wraps ErrWalk.
func UpAndDown(lines []Line, from Corner, way Way) (Walk, error) {
	if way > EveryOtherRow || from.End > FromFar {
		return nil, wrong(ErrWalk, "way and end", fmt.Sprint(way, from.End), "0 or 1")
	}
	for _, l := range lines {
		for _, v := range []float64{l.Near[0], l.Near[1], l.Far[0], l.Far[1]} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, wrong(ErrWalk, "row "+l.Label, v, "positions in metres")
			}
		}
	}
	order := rowOrder(len(lines), from.Last, way)
	var walk Walk
	side := from.End
	for k, i := range order {
		l := lines[i]
		entered := side
		if opposed(lines[order[0]], l) {
			entered = side.Other()
		}
		leg := Leg{Row: l.Row, Label: l.Label, From: entered, LengthM: apart(l.Near, l.Far)}
		if k > 0 {
			before := lines[order[k-1]]
			leg.ReachM = apart(before.end(walk[k-1].From.Other()), l.end(entered))
		}
		walk = append(walk, leg)
		side = side.Other()
	}
	return walk, nil
}

// rowOrder is the order of n rows.
func rowOrder(n int, fromLast bool, way Way) (order []int) {
	if way == EveryRow {
		for i := range n {
			order = append(order, i)
		}
	} else {
		for i := 0; i < n; i += 2 {
			order = append(order, i)
		}
		for i := (n/2)*2 - 1; i > 0; i -= 2 {
			order = append(order, i)
		}
	}
	if fromLast {
		for k := range order {
			order[k] = n - 1 - order[k]
		}
	}
	return order
}

func (l Line) end(e End) [2]float64 {
	if e == FromFar {
		return l.Far
	}
	return l.Near
}

// opposed tells whether two lines are drawn in opposite directions.
func opposed(a, b Line) bool {
	return (a.Far[0]-a.Near[0])*(b.Far[0]-b.Near[0])+(a.Far[1]-a.Near[1])*(b.Far[1]-b.Near[1]) < 0
}

func apart(a, b [2]float64) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

// Shortest tries the four corners and gives the walk that covers the least ground
// counted from where the crew gets off (m), the way to the first row included; of
// equal ones the first of: first row near, first row far, last row near, last row
// far.
func Shortest(lines []Line, at [2]float64, way Way) (best Walk, from Corner, err error) {
	least := math.Inf(1)
	for _, c := range []Corner{{false, FromNear}, {false, FromFar}, {true, FromNear}, {true, FromFar}} {
		walk, err := UpAndDown(lines, c, way)
		if err != nil {
			return nil, from, err
		}
		if len(walk) == 0 {
			return nil, from, nil
		}
		i := 0
		if c.Last {
			i = len(lines) - 1
		}
		if d := walk.DistanceM() + apart(at, lines[i].end(walk[0].From)); d < least-tiny {
			least, best, from = d, walk, c
		}
	}
	return best, from, nil
}
