package krige

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Real vines: yields of 125 vines at Rutherglen, Victoria (A. G. Strickland, A
// vine uniformity trial, Journal of Agriculture, Victoria, 30, 1932), against R
// 4.2.2 with gstat 2.1-0; testdata/kriging/strickland.R computed the figures.

type strickland struct {
	Variogram, Along, Across []struct {
		NP          int
		Dist, Gamma float64
	}
	FitExp struct{ Nugget, Sill, Range, Objective float64 } `json:"fit_exp"`

	All           []rValue
	Within8       []rValue
	AlongRows     []rValue `json:"along_rows"`
	LooAll        rCV      `json:"loo_all"`
	LooWithin8    rCV      `json:"loo_within8"`
	ConstantError []rValue `json:"constant_error"`
	ConstantAt    []rValue `json:"constant_error_at_vines"`
	Differing     []rValue `json:"differing_errors"`
	Trend         struct {
		Coef, SE  []float64
		Sigma, R2 float64
	}
	Regression []rValue
	Below2     []float64 `json:"below_2kg"`

	here, gone       []Point
	hereRow, goneRow []float64 // place in the row
}

func readStrickland(t *testing.T) *strickland {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "testdata", "kriging", "strickland.json"))
	require.NoError(t, err)
	s := &strickland{}
	require.NoError(t, json.Unmarshal(raw, s))
	for _, m := range readTable(t, "strickland", "strickland-1932-vine-yield.csv") {
		row := number(t, m["row"])
		p := Point{X: (number(t, m["col"]) - 1) * 10 * 0.3048, Y: (row - 1) * 8 * 0.3048}
		if m["yield"] == "NA" {
			s.gone, s.goneRow = append(s.gone, p), append(s.goneRow, row)
			continue
		}
		p.V = number(t, m["yield"]) * 0.45359237
		s.here, s.hereRow = append(s.here, p), append(s.hereRow, row)
	}
	require.Len(t, s.here, 125)
	require.Len(t, s.gone, 30)
	return s
}

var (
	stricklandModel = Model{Shape: Spherical, Nugget: 0.75, Sill: 0.45, Range: 12}
	alongRows       = Model{Shape: Exponential, Nugget: 0.75, Sill: 0.45, Range: 9, Ratio: 0.5}
)

func TestStrickland_VariogramEqualsGstat(t *testing.T) {
	s := readStrickland(t)
	edges := EvenEdges(25, 10)
	for _, c := range []struct {
		name string
		bins Bins
		want []struct {
			NP          int
			Dist, Gamma float64
		}
	}{
		{"all directions", Bins{Edges: edges}, s.Variogram},
		{"along the rows", Bins{Edges: edges, DirTolDeg: 40}, s.Along},
		{"across the rows", Bins{Edges: edges, DirDeg: 90, DirTolDeg: 40}, s.Across},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Empirical(s.here, c.bins)
			require.NoError(t, err)
			want := []rBin{}
			for _, b := range c.want {
				want = append(want, rBin{NP: b.NP, Dist: b.Dist, Gamma: b.Gamma})
			}
			sameBins(t, want, got)
		})
	}
	bins, err := Empirical(s.here, Bins{Edges: edges})
	require.NoError(t, err)
	fit, err := FitModel(Exponential, bins)
	require.NoError(t, err)
	assert.LessOrEqual(t, fit.Objective, s.FitExp.Objective*(1+1e-6))
	assert.InEpsilon(t, s.FitExp.Nugget, fit.Nugget, 2e-3)
	assert.InEpsilon(t, s.FitExp.Sill, fit.Sill, 2e-3)
	assert.InEpsilon(t, s.FitExp.Range, fit.Range, 5e-3)
}

func TestStrickland_KrigedEqualsGstat(t *testing.T) {
	s := readStrickland(t)
	constant := make([]Point, len(s.here))
	differing := make([]Point, len(s.here))
	for i, p := range s.here {
		constant[i], differing[i] = p, p
		constant[i].E, differing[i].E = 0.3, 0.1*float64((i+1)%5)
	}
	for _, c := range []struct {
		name   string
		from   []Point
		model  Model
		near   Neighbours
		points []Point
		want   []rValue
	}{
		{"all vines", s.here, stricklandModel, Neighbours{}, s.gone, s.All},
		{"within 8 m", s.here, stricklandModel, Neighbours{Radius: 8}, s.gone, s.Within8},
		{"within 8 m, distances rounded", s.here, stricklandModel, Neighbours{Radius: 8, Step: 0.01}, s.gone, s.Within8},
		{"longest range along the rows", s.here, alongRows, Neighbours{}, s.gone, s.AlongRows},
		{"with an error of reading", constant, stricklandModel, Neighbours{}, s.gone, s.ConstantError},
		{"with an error of reading, every vine named", constant, stricklandModel, Neighbours{Most: 125}, s.gone, s.ConstantError},
		{"errors that differ", differing, stricklandModel, Neighbours{}, append(append([]Point{}, s.gone...), s.here[:6]...), s.Differing},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := NewField(c.from, c.model, c.near)
			require.NoError(t, err)
			w := f.Worker()
			require.Len(t, c.points, len(c.want))
			for i, v := range c.want {
				got := w.At(c.points[i].X, c.points[i].Y)
				assert.InDelta(t, v.Pred, got.Value, 1e-9, "value at place %d", i)
				assert.InDelta(t, v.Var, got.Variance, 1e-9, "variance at place %d", i)
			}
		})
	}
}

// gstat's error of reading is smoothed away at the vines themselves; what it
// estimates there is the vine with its nugget, as At does.
func TestStrickland_AtVinesWithAnError(t *testing.T) {
	s := readStrickland(t)
	for i := range s.here {
		s.here[i].E = 0.3
	}
	f, err := NewField(s.here, stricklandModel, Neighbours{})
	require.NoError(t, err)
	w := f.Worker()
	for i, v := range s.ConstantAt {
		got := w.At(s.here[i].X, s.here[i].Y)
		assert.InDelta(t, v.Pred, got.Value, 1e-9)
		assert.InDelta(t, v.Var, got.Variance, 1e-9)
	}
}

func TestStrickland_LeaveOneOutEqualsGstat(t *testing.T) {
	s := readStrickland(t)
	f, err := NewField(s.here, stricklandModel, Neighbours{})
	require.NoError(t, err)
	sameCV(t, s.LooAll, f)
	f, err = NewField(s.here, stricklandModel, Neighbours{Most: 125})
	require.NoError(t, err)
	sameCV(t, s.LooAll, f)
	f, err = NewField(s.here, stricklandModel, Neighbours{Radius: 8})
	require.NoError(t, err)
	sameCV(t, s.LooWithin8, f)
}

func TestStrickland_ProbabilityEqualsR(t *testing.T) {
	s := readStrickland(t)
	f, err := NewField(s.here, stricklandModel, Neighbours{})
	require.NoError(t, err)
	w := f.Worker()
	for i, want := range s.Below2 {
		assert.InDelta(t, want, w.At(s.gone[i].X, s.gone[i].Y).ProbabilityBelow(2), 1e-9)
	}
}

func TestStrickland_RegressionEqualsR(t *testing.T) {
	s := readStrickland(t)
	values, rows, at := []float64{}, [][]float64{}, [][]float64{}
	for i, p := range s.here {
		values, rows = append(values, p.V), append(rows, []float64{1, s.hereRow[i]})
	}
	xs, ys := []float64{}, []float64{}
	for i, p := range s.gone {
		xs, ys, at = append(xs, p.X), append(ys, p.Y), append(at, []float64{1, s.goneRow[i]})
	}
	d, err := FitDrift(values, rows)
	require.NoError(t, err)
	for k := range 2 {
		assert.InEpsilon(t, s.Trend.Coef[k], d.Coef[k], 1e-9)
		assert.InEpsilon(t, s.Trend.SE[k], d.SE[k], 1e-9)
	}
	assert.InEpsilon(t, s.Trend.Sigma, d.Sigma, 1e-9)
	assert.InEpsilon(t, s.Trend.R2, d.R2, 1e-9)

	rest := append([]Point{}, s.here...)
	for i, r := range d.Residuals(values, rows) {
		rest[i].V = r
	}
	f, err := NewField(rest, stricklandModel, Neighbours{})
	require.NoError(t, err)
	out := make([]Estimate, len(xs))
	require.NoError(t, (&Regression{d, f}).Map(xs, ys, at, out, nil))
	for i, want := range s.Regression {
		assert.InDelta(t, want.Pred, out[i].Value, 1e-9)
		assert.InDelta(t, want.Var, out[i].Variance, 1e-9)
	}
}
