package stand

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

// plot is an invented block for tests: straight rows to the north.
type plot struct {
	rows, vines int
	lon, lat    float64
	firstID     vine.ID
}

// place gives the position of vine n (from 0) in row r.
func (p plot) place(r, n int) Position {
	return Position{ID: p.firstID + vine.ID(r*p.vines+n), Number: n + 1, ChainageM: 0.6 + 1.2*float64(n),
		Lon: p.lon + float64(r)*2.4e-5, Lat: p.lat + float64(n)*1.08e-5, X: float64(r) * 2, Y: float64(n) * 1.2, Planted: 2015}
}

func (p plot) builder() *Builder {
	b := NewBuilder(Ground{Block: 3, Code: "H3", Revision: 5, Origin: [2]float64{p.lon, p.lat}, RowSpacingM: 2, VineSpacingM: 1.2})
	for r := range p.rows {
		b.Row(vine.ID(100+r), fmt.Sprint(r+1), 0)
		b.Ends([2]float64{p.lon + float64(r)*2.4e-5, p.lat - 1e-5}, [2]float64{p.lon + float64(r)*2.4e-5, p.lat + float64(p.vines)*1.08e-5})
		for n := range p.vines {
			b.Vine(p.place(r, n))
		}
	}
	return b
}

func (p plot) ground(t testing.TB) *Ground {
	t.Helper()
	g, err := p.builder().Ground()
	require.NoError(t, err)
	return g
}

var smallPlot = plot{rows: 3, vines: 5, lon: 0.6, lat: 44.8, firstID: 1000}

// read gives a reading of a value.
func read(v float64) vine.Reading { return vine.Reading{Value: v} }

// anyState draws what the log may say of a vine.
func anyState(t *rapid.T) vine.State {
	st := vine.State{Condition: vine.Condition(rapid.IntRange(0, 8).Draw(t, "condition")), Planted: rapid.SampledFrom([]int{0, 2015, 2024, 2027}).Draw(t, "planted"),
		Notes: rapid.IntRange(0, 1).Draw(t, "notes"), Measures: map[vine.Quantity]vine.Reading{}, Work: map[string]vine.Progress{}}
	if rapid.Bool().Draw(t, "weighed") {
		st.Measures[vine.PruningWeight] = read(float64(rapid.IntRange(0, 3000).Draw(t, "weight")))
	}
	if rapid.Bool().Draw(t, "scored") {
		st.Measures[vine.VisualScore] = read(float64(rapid.IntRange(1, 5).Draw(t, "score")))
	}
	if rapid.Bool().Draw(t, "picked") {
		st.Measures[vine.Yield] = read(float64(rapid.IntRange(0, 9000).Draw(t, "yield")))
	}
	if rapid.Bool().Draw(t, "pruned") {
		n := rapid.IntRange(0, 300).Draw(t, "left")
		st.Pruned, st.Work[vine.Pruning] = &vine.Pruned{Nodes: &n}, vine.Progress(rapid.IntRange(0, 4).Draw(t, "progress"))
	}
	if rapid.Bool().Draw(t, "clash") {
		st.Clashes = []vine.Clash{{Field: vine.FieldCondition}}
	}
	return st
}

// anyStand draws a small stand with states and plans.
func anyStand(t *rapid.T, g *Ground) *Stand {
	s := NewStand(g, 2027, 9)
	for i := range g.Len() {
		if rapid.Bool().Draw(t, "known") {
			s.Set(i, anyState(t), int64(rapid.IntRange(1, 9).Draw(t, "changed")))
		}
		if rapid.Bool().Draw(t, "planned") {
			s.SetPlan(i, rapid.IntRange(0, 30).Draw(t, "nodes"), int64(rapid.IntRange(1, 9).Draw(t, "changed")))
		}
	}
	return s
}
