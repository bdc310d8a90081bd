package vigour

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// plot is an invented block for tests: straight rows at an angle, one leaf or a
// leaf for each vine.
type plot struct {
	rows, vines  int
	rowM, vineM  float64
	azimuthDeg   float64
	planted      func(row, number int) int // nil: 2005
	reverseOrder bool                      // rows stored the other way round
}

func (p plot) place(row, number int) (x, y float64) {
	s, c := math.Sincos(p.azimuthDeg * math.Pi / 180)
	along, across := (float64(number)+0.5)*p.vineM, float64(row)*p.rowM
	return along*s + across*c, along*c - across*s
}

func (p plot) stand(t testing.TB, season int) *stand.Stand {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 3, Code: "H3", Revision: 1, RowSpacingM: p.rowM, VineSpacingM: p.vineM})
	for k := range p.rows {
		row := k
		if p.reverseOrder {
			row = p.rows - 1 - k
		}
		b.Row(vine.ID(10_000_000+row), fmt.Sprint(row+1), 0)
		for n := range p.vines {
			x, y := p.place(row, n)
			planted := 2005
			if p.planted != nil {
				planted = p.planted(row, n)
			}
			b.Vine(stand.Position{ID: vine.ID(1 + row*p.vines + n), Number: n + 1, ChainageM: (float64(n) + 0.5) * p.vineM,
				Lon: 0.6 + x*1.2e-5, Lat: 44.8 + y*9e-6, X: x, Y: y, Planted: planted})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	return stand.NewStand(g, season, 1)
}

// at gives the index of a vine by row and number, both from 0.
func (p plot) at(row, number int) int {
	if p.reverseOrder {
		row = p.rows - 1 - row
	}
	return row*p.vines + number
}

// weigh puts a weight on vine i, g per metre of the place.
func weigh(s *stand.Stand, i int, gPerM float64) {
	s.WeightG[i] = float32(gPerM * float64(s.Ground.Occupied[i]))
}

// weighEvery weighs every n-th vine with a value per metre.
func weighEvery(s *stand.Stand, n int, gPerM func(i int) float64) {
	for i := 0; i < len(s.WeightG); i += n {
		weigh(s, i, gPerM(i))
	}
}

// wave is a smooth, noisy weight, g/m, the same for the same place.
func wave(s *stand.Stand) func(i int) float64 {
	return func(i int) float64 {
		r := rand.New(rand.NewPCG(uint64(s.Ground.ID[i]), 9))
		x, y := float64(s.Ground.X[i]), float64(s.Ground.Y[i])
		return 450 + 120*math.Sin(x/17)*math.Cos(y/23) + 60*r.NormFloat64()
	}
}

// column makes a column of a quantity for the vines that value gives one.
func column(s *stand.Stand, q vine.Quantity, value func(i int) (float64, bool)) Column {
	c := NewColumns(s.Ground.Len())
	for i := range s.Ground.Len() {
		if v, ok := value(i); ok {
			c.Set(i, q, vine.Reading{Value: v})
		}
	}
	all := c.All()
	if len(all) == 0 {
		return Column{Quantity: q, Values: filled(s.Ground.Len())}
	}
	return all[0]
}

func estimate(t testing.TB, in Input) *Result {
	t.Helper()
	r, err := Estimate(in)
	require.NoError(t, err)
	onlyNumbers(t, in.Stand, r)
	return r
}

// fataler is both *testing.T and *rapid.T.
type fataler interface {
	Helper()
	Fatalf(string, ...any)
}

// onlyNumbers checks what must hold of every result.
func onlyNumbers(t fataler, s *stand.Stand, r *Result) {
	t.Helper()
	var counts [4]int
	for i, b := range r.Basis {
		v, se := float64(r.KgPerM[i]), float64(r.SE[i])
		if sum := v + se + float64(r.OccupiedM[i]) + float64(r.CaneG[i]); math.IsNaN(sum) || math.IsInf(sum, 0) {
			t.Fatalf("vine %d: %v ± %v over %v m", i, v, se, r.OccupiedM[i])
		}
		counts[b]++
		if b == None {
			if v != -1 || se != -1 || r.Class[i] != 0 {
				t.Fatalf("vine %d has no basis and a value %g ± %g", i, v, se)
			}
			continue
		}
		if v < 0 || se < 0 || r.Class[i] < 1 || r.Class[i] > 5 || !s.Condition[i].Living() || (b == Calibrated) != (r.From[i] > 0) {
			t.Fatalf("vine %d, %v: %g ± %g, class %d, from %d, %v", i, b, v, se, r.Class[i], r.From[i], s.Condition[i])
		}
		if p, ok := r.ProbabilityBelow(i, 0.3); !ok || !(p >= 0 && p <= 1) {
			t.Fatalf("vine %d: probability %g", i, p)
		}
	}
	if counts != r.Counts {
		t.Fatalf("counts %v, told %v", counts, r.Counts)
	}
	k := r.Kriging
	if sum := k.Nugget + k.Fit.Range + k.Fit.Objective + k.LeaveOut.RMSE + k.LeaveOut.MSDR + k.LeaveOut.Corr; math.IsNaN(sum) || math.IsInf(sum, 0) {
		t.Fatalf("%+v", k)
	}
	for _, c := range r.Calibrations {
		if sum := c.R2 + c.SE + c.Slope + c.Intercept; math.IsNaN(sum) || math.IsInf(sum, 0) {
			t.Fatalf("%+v", c)
		}
	}
}
