package patch

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// Real vines: the yields of A. G. Strickland, A vine uniformity trial, Journal of
// Agriculture, Victoria, 30, 1932. The figures are those of R 4.2.2, spdep 1.2-7
// (see testdata/autocorrelation).

const footM = 0.3048

// strickland gives the block and its yields; places without one stand empty.
func strickland(t *testing.T, tb table) (*stand.Stand, Column) {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 1, Code: "S", Origin: [2]float64{146.5, -36}, RowSpacingM: 10 * footM, VineSpacingM: 8 * footM})
	row := ""
	var yields []string
	for _, m := range tb {
		var place, col int
		_, err := fmt.Sscan(m["row"], &place)
		require.NoError(t, err)
		_, err = fmt.Sscan(m["col"], &col)
		require.NoError(t, err)
		if m["col"] != row {
			row = m["col"]
			b.Row(vine.ID(col), row, 0)
		}
		x, y := float64(col)*10*footM, float64(place)*8*footM
		b.Vine(stand.Position{ID: vine.ID(100*col + place), Number: place, Lon: 146.5 + x/90000, Lat: -36 + y/111000, X: x, Y: y})
		yields = append(yields, m["yield"])
	}
	g, err := b.Ground()
	require.NoError(t, err)
	st, c := stand.NewStand(g, 1931, 1), NewColumn(g.Len())
	for i, y := range yields {
		st.Condition[i] = vine.Missing
		if y != "NA" {
			var v float64
			_, err := fmt.Sscan(y, &v)
			require.NoError(t, err)
			st.Condition[i] = vine.Bearing
			c.Set(i, v)
		}
	}
	return st, c
}

func TestStrickland_EqualsSpdep(t *testing.T) {
	st, c := strickland(t, readTable(t, "strickland", "strickland-1932-vine-yield.csv"))
	want := readTable(t, "autocorrelation", "strickland-local.csv")
	var x, y, v []float64
	for i, seen := range c.Seen {
		if seen {
			x, y, v = append(x, float64(st.Ground.X[i])), append(y, float64(st.Ground.Y[i])), append(v, c.Value[i])
		}
	}
	require.Equal(t, want.column(t, "yield", nil), v)
	for _, k := range []struct {
		name           string
		reach          Reach
		i, variance, z float64
	}{
		{"d55", circle(5.5), 0.263148530762, 0.0021287618063, 5.8782363349},
		{"e", Reach{AlongM: 7.6, AcrossM: 5.4}, 0.239978090107, 0.00144380380638, 6.52788048683},
	} {
		t.Run(k.name, func(t *testing.T) {
			got, err := GiStar(x, y, v, k.reach)
			require.NoError(t, err)
			p := make([]float64, len(got))
			n, z, wantP, q := want.column(t, "n_"+k.name, nil), want.column(t, "z_"+k.name, nil), want.column(t, "p_"+k.name, nil), want.column(t, "bh_"+k.name, nil)
			for i, l := range got {
				require.Equal(t, int(n[i]), l.Neighbours)
				require.InDelta(t, z[i], l.Z, 1e-9)
				require.InDelta(t, wantP[i], l.P, 1e-9)
				p[i] = l.P
			}
			for i, a := range Adjust(p) {
				require.InDelta(t, q[i], a, 1e-9)
			}
			m, err := Moran(x, y, v, k.reach)
			require.NoError(t, err)
			assert.InEpsilon(t, k.i, m.I, 1e-9)
			assert.InEpsilon(t, k.variance, m.Variance, 1e-9)
			assert.InEpsilon(t, k.z, m.Z, 1e-9)
		})
	}
}

// TestStrickland_Find: through Find the statistic is the same, and the block has
// structure.
func TestStrickland_Find(t *testing.T) {
	st, c := strickland(t, readTable(t, "strickland", "strickland-1932-vine-yield.csv"))
	want := readTable(t, "autocorrelation", "strickland-local.csv")
	got, err := Find(Input{Blocks: []Block{{Stand: st, Value: c}}, AlongM: 7.6, AcrossRows: 5.4 / (10 * footM)})
	require.NoError(t, err)
	f := got.Blocks[0]
	require.NoError(t, f.Refused)
	require.Zero(t, f.Clipped)
	assert.True(t, f.Structured())
	assert.InEpsilon(t, 6.52788048683, f.Moran.Z, 1e-6)
	z, n := want.column(t, "z_e", nil), want.column(t, "n_e", nil)
	k, alone := 0, 0
	for i, seen := range c.Seen {
		if !seen {
			continue
		}
		if f.Tested[i] {
			require.InDelta(t, z[k], f.Z[i], 1e-6)
		} else {
			require.Less(t, n[k], 8.0)
			alone++
		}
		k++
	}
	assert.Equal(t, alone, f.Alone)
}
