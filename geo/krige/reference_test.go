package krige

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The figures of this file are those of R 4.2.2 with gstat 2.1-0 (calls
// variogram, fit.variogram, krige, krige.cv) on open data: wheat yields of
// Mercer and Hall, 1911, and an invented block. See testdata/kriging.

type rBin struct {
	NP          int
	Dist, Gamma float64
	Dir         float64
}

type rValue struct{ Pred, Var float64 }

type rFit struct {
	Nugget float64
	Parts  []struct {
		Model        string
		Psill, Range float64
	}
	SSErr float64
}

type rCV struct {
	N                          int
	MeanError, RMSE, MSDR, Cor float64
}

func (c *rCV) UnmarshalJSON(b []byte) error {
	var w struct {
		N    int     `json:"n"`
		Mean float64 `json:"mean_error"`
		RMSE float64 `json:"rmse"`
		MSDR float64 `json:"msdr"`
		Cor  float64 `json:"cor_obs_pred"`
	}
	err := json.Unmarshal(b, &w)
	*c = rCV{w.N, w.Mean, w.RMSE, w.MSDR, w.Cor}
	return err
}

type reference struct {
	Wheat struct {
		Holdout   []int  `json:"holdout_ids"`
		Vario490  []rBin `json:"variogram_490_cutoff26_width2.6"`
		FitExp490 rFit   `json:"fit_exp_method7_490"`
		VarioOwn  struct {
			Boundaries []float64
			V          []rBin
		} `json:"variogram_500_boundaries"`
		FitSph500 rFit `json:"fit_sph_method7_500"`
		VarioDir  struct {
			V []rBin
		} `json:"variogram_500_directional"`
		Global   []rValue             `json:"krige_holdout_global"`
		Within7  []rValue             `json:"krige_holdout_maxdist7"`
		Points   []Point              `json:"extra_points"`
		Extra    []rValue             `json:"krige_extra_global"`
		Nearest  []rValue             `json:"krige_extra_nmax16"`
		Aniso    []rValue             `json:"krige_extra_aniso"`
		Aniso30  struct{ V []rValue } `json:"krige_extra_aniso30"`
		CVGlobal rCV                  `json:"loocv_500_global"`
		CVWithin rCV                  `json:"loocv_500_maxdist7"`
	}
	Vineyard struct {
		Vario   []rBin   `json:"variogram_v2023"`
		Fit     rFit     `json:"fit_sph_method7"`
		Missing []int    `json:"missing_vine_ids"`
		Global  []rValue `json:"krige_global"`
		Within6 []rValue `json:"krige_maxdist6"`
		CV      rCV      `json:"loocv_maxdist6"`
	}
}

func readReference(t *testing.T) reference {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "testdata", "kriging", "expected.json"))
	require.NoError(t, err)
	var ref reference
	require.NoError(t, json.Unmarshal(raw, &ref))
	return ref
}

func readTable(t *testing.T, parts ...string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join(append([]string{"..", "..", "testdata"}, parts...)...))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	out := []map[string]string{}
	for _, line := range lines[1:] {
		m := map[string]string{}
		for i, name := range lines[0] {
			m[name] = line[i]
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return v
}

// wheat gives all 500 plots, and those kept where ten are held out.
func wheat(t *testing.T, holdout []int) (all, kept []Point, held []Point) {
	t.Helper()
	for _, m := range readTable(t, "autocorrelation", "wheat-mercer-hall-1911.csv") {
		p := Point{X: number(t, m["x"]), Y: number(t, m["y"]), V: number(t, m["yield"])}
		all = append(all, p)
		if slices.Contains(holdout, int(number(t, m["id"]))) {
			held = append(held, p)
		} else {
			kept = append(kept, p)
		}
	}
	return all, kept, held
}

func sameBins(t *testing.T, want []rBin, got []Bin) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		assert.Equal(t, w.NP, got[i].Pairs, "pairs of bin %d", i)
		assert.InEpsilon(t, w.Dist, got[i].Dist, 1e-9, "distance of bin %d", i)
		assert.InEpsilon(t, w.Gamma, got[i].Gamma, 1e-9, "semivariance of bin %d", i)
	}
}

func TestEmpirical_EqualsGstat(t *testing.T) {
	ref := readReference(t)
	all, kept, _ := wheat(t, ref.Wheat.Holdout)
	edges := []float64{}
	for i := range 10 {
		edges = append(edges, 2.6*float64(i+1))
	}
	got, err := Empirical(kept, Bins{Edges: edges})
	require.NoError(t, err)
	sameBins(t, ref.Wheat.Vario490, got)

	got, err = Empirical(all, Bins{Edges: ref.Wheat.VarioOwn.Boundaries[1:]})
	require.NoError(t, err)
	sameBins(t, ref.Wheat.VarioOwn.V, got)

	for _, dir := range []float64{0, 90} {
		want := []rBin{}
		for _, b := range ref.Wheat.VarioDir.V {
			if b.Dir == dir {
				want = append(want, b)
			}
		}
		got, err = Empirical(all, Bins{Edges: edges, DirDeg: dir, DirTolDeg: 45})
		require.NoError(t, err)
		sameBins(t, want, got)
	}
}

func TestFitModel_EqualsGstatMethod7(t *testing.T) {
	ref := readReference(t)
	for _, c := range []struct {
		name  string
		shape Shape
		bins  []rBin
		want  rFit
	}{
		{"wheat, exponential", Exponential, ref.Wheat.Vario490, ref.Wheat.FitExp490},
		{"wheat, spherical", Spherical, ref.Wheat.VarioOwn.V, ref.Wheat.FitSph500},
		{"vines, spherical", Spherical, ref.Vineyard.Vario, ref.Vineyard.Fit},
	} {
		t.Run(c.name, func(t *testing.T) {
			bins := []Bin{}
			for _, b := range c.bins {
				bins = append(bins, Bin{b.NP, b.Dist, b.Gamma})
			}
			got, err := FitModel(c.shape, bins)
			require.NoError(t, err)
			// Ours may be better than gstat's, never worse.
			assert.LessOrEqual(t, got.Objective, c.want.SSErr*(1+1e-6))
			assert.InEpsilon(t, c.want.SSErr, got.Objective, 1e-2)
			assert.InEpsilon(t, c.want.Nugget, got.Nugget, 2e-3)
			assert.InEpsilon(t, c.want.Parts[0].Psill, got.Sill, 2e-3)
			assert.InEpsilon(t, c.want.Parts[0].Range, got.Range, 5e-3)
		})
	}
}

func sameValues(t *testing.T, want []rValue, points []Point, f *Field) {
	t.Helper()
	w := f.Worker()
	for i, v := range want {
		got := w.At(points[i].X, points[i].Y)
		assert.InEpsilon(t, v.Pred, got.Value, 1e-9, "value at point %d", i)
		assert.InEpsilon(t, v.Var, got.Variance, 1e-9, "variance at point %d", i)
	}
}

func TestField_EqualsGstat(t *testing.T) {
	ref := readReference(t)
	all, kept, held := wheat(t, ref.Wheat.Holdout)
	model := Model{Shape: Exponential, Nugget: 0.12, Sill: 0.10, Range: 8}
	for _, c := range []struct {
		name   string
		model  Model
		near   Neighbours
		from   []Point
		points []Point
		want   []rValue
	}{
		{"held out, all points", model, Neighbours{}, kept, held, ref.Wheat.Global},
		{"held out, within 7", model, Neighbours{Radius: 7}, kept, held, ref.Wheat.Within7},
		{"between, all points", model, Neighbours{}, kept, ref.Wheat.Points, ref.Wheat.Extra},
		{"between, 16 nearest", model, Neighbours{Most: 16}, kept, ref.Wheat.Points, ref.Wheat.Nearest},
		{"along north, ratio 0.5", Model{Exponential, 0.12, 0.10, 12, 0, 0.5}, Neighbours{}, kept, ref.Wheat.Points, ref.Wheat.Aniso},
		{"along 30°, ratio 0.4", Model{Spherical, 0.12, 0.10, 20, 30, 0.4}, Neighbours{}, kept, ref.Wheat.Points, ref.Wheat.Aniso30.V},
	} {
		t.Run(c.name, func(t *testing.T) {
			f, err := NewField(c.from, c.model, c.near)
			require.NoError(t, err)
			sameValues(t, c.want, c.points, f)
		})
	}
	t.Run("at a plot itself", func(t *testing.T) {
		for _, near := range []Neighbours{{}, {Most: 12}, {Radius: 9}} {
			f, err := NewField(all, model, near)
			require.NoError(t, err)
			got := f.Worker().At(all[77].X, all[77].Y)
			assert.Equal(t, all[77].V, got.Value)
			assert.Zero(t, got.Variance)
		}
	})
}

func TestLeaveOneOut_EqualsGstat(t *testing.T) {
	ref := readReference(t)
	all, _, _ := wheat(t, nil)
	f, err := NewField(all, Model{Shape: Exponential, Nugget: 0.12, Sill: 0.10, Range: 8}, Neighbours{Radius: 7})
	require.NoError(t, err)
	sameCV(t, ref.Wheat.CVWithin, f)
	f, err = NewField(all, Model{Shape: Exponential, Nugget: 0.12, Sill: 0.10, Range: 8}, Neighbours{})
	require.NoError(t, err)
	sameCV(t, ref.Wheat.CVGlobal, f)

	vines, _ := vineyard(t, nil)
	f, err = NewField(vines, Model{Shape: Spherical, Nugget: 0.006, Sill: 0.008, Range: 18}, Neighbours{Radius: 6})
	require.NoError(t, err)
	sameCV(t, ref.Vineyard.CV, f)
}

func sameCV(t *testing.T, want rCV, f *Field) {
	t.Helper()
	got, err := f.LeaveOneOut(nil)
	require.NoError(t, err)
	assert.Equal(t, want.N, got.N)
	assert.InDelta(t, want.MeanError, got.MeanError, 1e-9)
	assert.InEpsilon(t, want.RMSE, got.RMSE, 1e-9)
	assert.InEpsilon(t, want.MSDR, got.MSDR, 1e-9)
	assert.InEpsilon(t, want.Cor, got.Corr, 1e-9)
}

// vineyard gives the living vines' vigour of 2023 and the places of missing ones.
func vineyard(t *testing.T, missing []int) (alive, at []Point) {
	t.Helper()
	where := map[int]Point{}
	for _, m := range readTable(t, "vineyard", "vines.csv") {
		p := Point{X: number(t, m["easting"]), Y: number(t, m["northing"])}
		where[int(number(t, m["vine_id"]))] = p
		if m["status"] == "alive" {
			p.V = number(t, m["v2023"])
			alive = append(alive, p)
		}
	}
	for _, id := range missing {
		at = append(at, where[id])
	}
	return alive, at
}

func TestField_FillsMissingVinesAsGstat(t *testing.T) {
	ref := readReference(t)
	alive, at := vineyard(t, ref.Vineyard.Missing)
	model := Model{Shape: Spherical, Nugget: 0.006, Sill: 0.008, Range: 18}
	f, err := NewField(alive, model, Neighbours{Radius: 6})
	require.NoError(t, err)
	sameValues(t, ref.Vineyard.Within6, at, f)
	f, err = NewField(alive, model, Neighbours{})
	require.NoError(t, err)
	sameValues(t, ref.Vineyard.Global, at, f)
}
