package patch

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The figures of this file are those of R 4.2.2, spdep 1.2-7 (moran.test,
// localG with include.self, p.adjust); the data and how they were computed are
// described in testdata/autocorrelation and testdata/vineyard.

type table []map[string]string

func readTable(t *testing.T, parts ...string) table {
	t.Helper()
	f, err := os.Open(filepath.Join(append([]string{"..", "..", "testdata"}, parts...)...))
	require.NoError(t, err)
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out table
	for _, line := range lines[1:] {
		m := map[string]string{}
		for i, name := range lines[0] {
			m[name] = line[i]
		}
		out = append(out, m)
	}
	return out
}

// column gives the numbers of a column, of lines where keep says so.
func (tb table) column(t *testing.T, name string, keep func(map[string]string) bool) []float64 {
	t.Helper()
	out := []float64{}
	for _, m := range tb {
		if keep != nil && !keep(m) {
			continue
		}
		v, err := strconv.ParseFloat(m[name], 64)
		require.NoError(t, err, name)
		out = append(out, v)
	}
	return out
}

func circle(d float64) Reach { return Reach{AlongM: d, AcrossM: d} }

func alive(m map[string]string) bool { return m["status"] == "alive" }

func TestGiStar_EqualsSpdep(t *testing.T) {
	wheat := readTable(t, "autocorrelation", "wheat-mercer-hall-1911.csv")
	vines := readTable(t, "vineyard", "vines.csv")
	for _, c := range []struct {
		name, file string
		x, y, v    []float64
		reach      Reach
	}{
		{"wheat of 1911 within 5.5 m", "wheat-d5.5-local.csv",
			wheat.column(t, "x", nil), wheat.column(t, "y", nil), wheat.column(t, "yield", nil), circle(5.5)},
		{"vines of 2023 within 4.6 m", "vineyard-v2023-d4.6-local.csv",
			vines.column(t, "easting", alive), vines.column(t, "northing", alive), vines.column(t, "v2023", alive), circle(4.6)},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := readTable(t, "autocorrelation", c.file)
			z, p, bh := want.column(t, "Gistar_z_B", nil), want.column(t, "Gistar_p2_B", nil), want.column(t, "Gistar_p2_BH_B", nil)
			// Turning the axes changes nothing: the reach is a circle.
			for _, azimuth := range []float64{0, 12, -77} {
				c.reach.AzimuthDeg = azimuth
				got, err := GiStar(c.x, c.y, c.v, c.reach)
				require.NoError(t, err)
				require.Len(t, got, len(z))
				ps := make([]float64, len(got))
				for i, l := range got {
					require.InDelta(t, z[i], l.Z, 1e-8*max(1, z[i]), "z of record %d", i+1)
					require.InDelta(t, p[i], l.P, 1e-9, "p of record %d", i+1)
					ps[i] = l.P
				}
				for i, a := range Adjust(ps) {
					require.InDelta(t, bh[i], a, 1e-9, "adjusted p of record %d", i+1)
				}
			}
		})
	}
}

// Getis and Ord's own cell: their printed 1996 figures use divisor n-1, which
// check as z × √((n-1)/n) of ours.
func TestGiStar_GetisOrdCell136(t *testing.T) {
	grid := readTable(t, "autocorrelation", "getisord.csv")
	x, y, v := grid.column(t, "x", nil), grid.column(t, "y", nil), grid.column(t, "val", nil)
	for _, c := range []struct{ d, z float64 }{
		{30, 1.45077980739}, {60, 1.90055888287}, {90, 2.09693874647}, {120, 1.98190685195}, {150, 1.30669844418},
	} {
		got, err := GiStar(x, y, v, circle(c.d))
		require.NoError(t, err)
		assert.InEpsilon(t, c.z, got[119].Z, 1e-9, "within %g m", c.d)
	}
}

func TestMoran_EqualsSpdep(t *testing.T) {
	wheat := readTable(t, "autocorrelation", "wheat-mercer-hall-1911.csv")
	vines := readTable(t, "vineyard", "vines.csv")
	x, y := vines.column(t, "easting", alive), vines.column(t, "northing", alive)
	for _, c := range []struct {
		name              string
		x, y, v           []float64
		d, i, variance, z float64
	}{
		{"wheat, rook", wheat.column(t, "x", nil), wheat.column(t, "y", nil), wheat.column(t, "yield", nil), 3.5, 0.4011258273, 0.001052009701, 12.42896797},
		{"wheat, queen", wheat.column(t, "x", nil), wheat.column(t, "y", nil), wheat.column(t, "yield", nil), 4.5, 0.308383862, 0.0005414341445, 13.33926562},
		{"wheat, 5.5 m", wheat.column(t, "x", nil), wheat.column(t, "y", nil), wheat.column(t, "yield", nil), 5.5, 0.275530033, 0.0004321387942, 13.35071827},
		{"vines 2023, 3.2 m", x, y, vines.column(t, "v2023", alive), 3.2, 0.3478449683, 0, 17.541403},
		{"vines, no pattern, 3.2 m", x, y, vines.column(t, "null_field", alive), 3.2, 0.02314360306, 0, 1.218045},
		{"vines 2023, 6.5 m", x, y, vines.column(t, "v2023", alive), 6.5, 0.3265564178, 0, 34.890114},
		{"vines, no pattern, 6.5 m", x, y, vines.column(t, "null_field", alive), 6.5, -0.003137996018, 0, -0.21812576},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Moran(c.x, c.y, c.v, circle(c.d))
			require.NoError(t, err)
			assert.InEpsilon(t, c.i, got.I, 1e-8)
			assert.InEpsilon(t, c.z, got.Z, 1e-6)
			if c.variance > 0 {
				assert.InEpsilon(t, c.variance, got.Variance, 1e-8)
			}
		})
	}
}

// Benjamini and Hochberg's own fifteen p-values (1995, from memory), and a case
// with ties and a zero; adjusted by R's p.adjust.
func TestAdjust_EqualsR(t *testing.T) {
	for _, c := range []struct{ p, want []float64 }{
		{[]float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759, 1},
			[]float64{0.0015, 0.003, 0.0095, 0.035625, 0.0603, 0.06385714286, 0.06385714286, 0.0645, 0.0765, 0.486, 0.5811818182, 0.7148750000, 0.7532307692, 0.8132142857, 1}},
		{[]float64{0.01, 0.04, 0.03, 0.04, 0.005, 0.9, 0.04, 0.2, 0.05, 0.001, 1, 0},
			[]float64{0.03, 0.06, 0.06, 0.06, 0.02, 0.981818182, 0.06, 0.24, 0.0666666667, 0.006, 1, 0}},
		{nil, []float64{}},
	} {
		got := Adjust(c.p)
		require.Len(t, got, len(c.want))
		for i := range got {
			assert.InDelta(t, c.want[i], got[i], 1e-9)
		}
	}
}

// The lone point of check: positions 0 to 8 and 20, reach 1.5: its Gi* is its
// own standardised value (spdep).
func TestGiStar_LonePoint(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 20}
	v := []float64{5.2, 4.8, 6.1, 5.9, 7.3, 6.6, 2.1, 2.4, 1.8, 9}
	got, err := GiStar(x, make([]float64, 10), v, circle(1.5))
	require.NoError(t, err)
	assert.InEpsilon(t, 1.71446608, got[9].Z, 1e-8)
	assert.Equal(t, 1, got[9].Neighbours)
	m, err := Moran(x, make([]float64, 10), v, circle(1.5))
	require.NoError(t, err)
	assert.InEpsilon(t, 0.4909403311, m.I, 1e-9, "counting n = 10")
	assert.InEpsilon(t, 0.111087486, m.Variance, 1e-8)
}

// TestMoran_EightOnALine: the figures of R, spdep 1.2-7, for eight values each
// with its one or two neighbours.
func TestMoran_EightOnALine(t *testing.T) {
	x := []float64{0, 1, 2, 3, 4, 5, 6, 7}
	v := []float64{3.1, 2.7, 3.9, 4.4, 1.2, 0.8, 1.9, 2.5}
	m, err := Moran(x, make([]float64, 8), v, circle(1))
	require.NoError(t, err)
	assert.InEpsilon(t, 0.356658623463, m.I, 1e-9)
	assert.InEpsilon(t, 0.125301078073, m.Variance, 1e-9)
	assert.InEpsilon(t, 0.158201715, m.P, 1e-8)
	assert.Equal(t, 14, m.Links)
	assert.False(t, m.Structured(0.05))
}

// TestMoran_AllOrders: expectation and variance are those over all orders of the
// values (exact by enumeration; no random numbers).
func TestMoran_AllOrders(t *testing.T) {
	x := []float64{0, 1, 2.2, 3, 4.5, 5}
	v := []float64{3.1, 2.7, 9.9, 4.4, 1.2, 0.8}
	var n, mean, square float64
	var last Global
	permute(v, 0, func() {
		m, err := moran(x, make([]float64, len(x)), v, circle(1.6), nil)
		require.NoError(t, err)
		n, mean, square, last = n+1, mean+m.I, square+m.I*m.I, m
	})
	mean /= n
	assert.Equal(t, 720.0, n)
	assert.InDelta(t, last.Expected, mean, 1e-12)
	assert.InDelta(t, last.Variance, square/n-mean*mean, 1e-12)
}

// permute calls do for every order of v.
func permute(v []float64, k int, do func()) {
	if k == len(v) {
		do()
		return
	}
	for i := k; i < len(v); i++ {
		v[k], v[i] = v[i], v[k]
		permute(v, k+1, do)
		v[k], v[i] = v[i], v[k]
	}
}
