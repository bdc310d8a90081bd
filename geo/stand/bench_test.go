package stand

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// usualPlot is a block of the usual size: 50 rows of 100 vines.
var usualPlot = plot{rows: 50, vines: 100, lon: 0.6, lat: 44.8, firstID: 1000}

func usualStand(t testing.TB) *Stand {
	s := NewStand(usualPlot.ground(t), 2027, 9)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range s.Ground.Len() {
		s.Set(i, vine.State{Condition: vine.Condition(1 + r.IntN(8)), Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: read(float64(r.IntN(1500)))},
			Work: map[string]vine.Progress{vine.Pruning: vine.Progress(r.IntN(3))}}, 8)
		s.SetPlan(i, 4+r.IntN(20), 8)
	}
	return s
}

// The memory budget: at most 150 bytes per vine and season held, ground
// included.
func TestBytes(t *testing.T) {
	s := usualStand(t)
	n := float64(s.Ground.Len())
	require.LessOrEqual(t, float64(s.Ground.Bytes()+s.Bytes())/n, 150.0)
	require.GreaterOrEqual(t, float64(s.Ground.Bytes())/n, 42.0, "the columns alone take this much")
	require.GreaterOrEqual(t, float64(s.Bytes())/n, 25.0, "the columns alone take this much")
	require.LessOrEqual(t, float64(len(AppendBinary(nil, s)))/n, 27.0, "as sent to a page")
}

func BenchmarkAppendBinary(b *testing.B) {
	s := usualStand(b)
	var dst []byte
	b.ReportAllocs()
	for b.Loop() {
		dst = AppendBinary(dst[:0], s)
	}
	b.SetBytes(int64(len(dst)))
	b.ReportMetric(float64(len(dst))/float64(s.Ground.Len()), "B/vine-sent")
	b.ReportMetric(float64(s.Ground.Bytes()+s.Bytes())/float64(s.Ground.Len()), "B/vine-held")
}

func BenchmarkReadBinary(b *testing.B) {
	data := AppendBinary(nil, usualStand(b))
	for b.Loop() {
		if _, err := ReadBinary(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTotalsOf(b *testing.B) {
	s := usualStand(b)
	for b.Loop() {
		TotalsOf(s)
	}
}

// BenchmarkWith changes one vine of a block.
func BenchmarkWith(b *testing.B) {
	s := usualStand(b)
	c := []Change{{2500, vine.State{Condition: vine.Weak, Work: map[string]vine.Progress{vine.Pruning: vine.Started}}, 10}}
	b.ReportAllocs()
	for b.Loop() {
		s.With(10, c)
	}
}

func BenchmarkNewStand(b *testing.B) {
	g := usualPlot.ground(b)
	for b.Loop() {
		NewStand(g, 2027, 1)
	}
}

func BenchmarkIndexOf(b *testing.B) {
	g := usualPlot.ground(b)
	for b.Loop() {
		for _, id := range g.ID {
			if _, ok := g.IndexOf(id); !ok {
				b.Fatal(id)
			}
		}
	}
}
