package rate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// scene is an invented block for tests.
type scene struct {
	rows, vines   int
	rowM, vineM   float64
	azimuthDeg    float64
	radiusM       float64 // of the row in the middle; 0: straight
	stagger       bool    // every other row half a step on
	roadAt, roadM float64 // a road across all rows, m from their beginning; its width
	alternate     bool    // every other row numbered from the other end
	jitterM       float64 // each vine off its place by up to so much
	short         bool    // every third row ends a third earlier
}

var plain = scene{rows: 60, vines: 80, rowM: 2, vineM: 1}

func (s scene) place(r, n int) (x, y float64) {
	across := (float64(r) - float64(s.rows-1)/2) * s.rowM
	along := (float64(n) - float64(s.vines-1)/2) * s.vineM
	if s.stagger && r%2 == 1 {
		along += s.vineM / 2
	}
	if s.roadM > 0 && float64(n)*s.vineM >= s.roadAt {
		along += s.roadM
	}
	x, y = across, along
	if s.radiusM > 0 {
		sin, cos := math.Sincos(along / s.radiusM)
		x, y = (s.radiusM+across)*cos-s.radiusM, (s.radiusM+across)*sin
	}
	if s.jitterM > 0 {
		rng := rand.New(rand.NewPCG(uint64(r), uint64(n)))
		x, y = x+s.jitterM*(2*rng.Float64()-1), y+s.jitterM*(2*rng.Float64()-1)
	}
	sin, cos := math.Sincos(s.azimuthDeg * math.Pi / 180)
	return x*cos + y*sin, y*cos - x*sin
}

// stand builds the block, all vines bearing.
func (s scene) stand(t testing.TB) *stand.Stand {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 7, Code: "K2", RowSpacingM: s.rowM, VineSpacingM: s.vineM})
	id := vine.ID(0)
	for r := range s.rows {
		b.Row(vine.ID(10_000_000+r), fmt.Sprint(r+1), 0)
		count := s.vines
		if s.short && r%3 == 2 {
			count = max(1, count*2/3)
		}
		for k := range count {
			n := k
			if s.alternate && r%2 == 1 {
				n = count - 1 - k
			}
			x, y := s.place(r, n)
			id++
			b.Vine(stand.Position{ID: id, Number: k + 1, ChainageM: float64(k) * s.vineM, Lon: 4, Lat: 47, X: x, Y: y, Planted: 2010})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	st := stand.NewStand(g, 2027, 1)
	for i := range st.Condition {
		st.Condition[i] = vine.Bearing
	}
	return st
}

// waves are smooth vigour values with noise, kg/m, the same for the same place.
func waves(st *stand.Stand, name string, seed uint64, noise float64) Column {
	c := Column{Name: name, Unit: "kg/m", Values: make([]float32, st.Ground.Len())}
	rng := rand.New(rand.NewPCG(seed, 3))
	for i := range c.Values {
		x, y := float64(st.Ground.X[i]), float64(st.Ground.Y[i])
		c.Values[i] = float32(max(0, 0.5+0.2*math.Sin(x/30)*math.Cos(y/25)+noise*rng.NormFloat64()))
	}
	return c
}

// lose makes a share of the vines missing.
func lose(st *stand.Stand, seed uint64, share float64) {
	rng := rand.New(rand.NewPCG(seed, 4))
	for i := range st.Condition {
		if rng.Float64() < share {
			st.Condition[i] = vine.Missing
		}
	}
}

func makeZones(t testing.TB, st *stand.Stand, columns []Column, o Options) *Zones {
	t.Helper()
	z, err := Make(st, columns, o)
	require.NoError(t, err)
	return z
}

// sound is what must hold of all zones.
func sound(t require.TestingT, st *stand.Stand, z *Zones) {
	var area, cells float64
	vines := 0
	for k, of := range z.List {
		require.Equal(t, k+1, of.Number)
		require.Positive(t, of.Vines)
		require.Equal(t, of.Vines, of.Living+of.Gaps)
		for _, v := range append([]float64{of.AreaM2, of.RowM, of.Z, of.Sure}, of.Means...) {
			require.False(t, math.IsNaN(v) || math.IsInf(v, 0))
		}
		if k > 0 && of.Living > 0 && z.List[k-1].Living > 0 {
			require.GreaterOrEqual(t, of.Z, z.List[k-1].Z, "zones are numbered by rising mean")
		}
		area += of.AreaM2
		vines += of.Vines
	}
	for i, m2 := range z.CellM2 {
		require.Positive(t, m2)
		if z.Zone[i] > 0 {
			cells += m2
		}
		require.LessOrEqual(t, int(z.Zone[i]), len(z.List))
		require.LessOrEqual(t, int(z.Class[i]), len(z.List), "classes are named as the zones that are left")
		p := z.Sure[i]
		require.True(t, p == -1 || p >= 0 && p <= 1, "%g", p)
	}
	require.InEpsilon(t, cells, area, 1e-9)
	require.False(t, math.IsNaN(z.Explained) || math.IsNaN(z.Kept))
	small := 0
	_, parts := z.lie.parts(z.Zone)
	for _, p := range parts {
		if p.zone > 0 && p.areaM2 < z.Options.LeastM2 {
			small++
		}
	}
	require.Len(t, z.Small, small)
}
