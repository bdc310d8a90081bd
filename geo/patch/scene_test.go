package patch

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
	rows, vines    int
	rowM, vineM    float64
	azimuthDeg     float64
	radiusM        float64 // of the row in the middle; 0: straight
	stagger        bool    // every other row half a step on
	roadAt, roadM  float64 // a road across all rows, m from their beginning; its width
	reverse        bool    // rows numbered from the other side
	shiftX, shiftY float64
	jitterM        float64 // each vine off its place by up to so much, as surveyed
}

var plain = scene{rows: 40, vines: 60, rowM: 2, vineM: 1}

// place gives vine n of row r.
func (s scene) place(r, n int) XY {
	across := (float64(r) - float64(s.rows-1)/2) * s.rowM
	along := (float64(n) - float64(s.vines-1)/2) * s.vineM
	if s.stagger && r%2 == 1 {
		along += s.vineM / 2
	}
	if s.roadM > 0 && float64(n)*s.vineM >= s.roadAt {
		along += s.roadM
	}
	p := XY{across, along}
	if s.radiusM > 0 {
		// Rows are circles about one middle; steps along the middle row.
		sin, cos := math.Sincos(along / s.radiusM)
		p = XY{(s.radiusM+across)*cos - s.radiusM, (s.radiusM + across) * sin}
	}
	if s.jitterM > 0 {
		rng := rand.New(rand.NewPCG(uint64(r), uint64(n)))
		p = p.plus(XY{2*rng.Float64() - 1, 2*rng.Float64() - 1}.times(s.jitterM))
	}
	sin, cos := math.Sincos(s.azimuthDeg * math.Pi / 180)
	return XY{p.X*cos + p.Y*sin + s.shiftX, p.Y*cos - p.X*sin + s.shiftY}
}

// stand builds the block, all vines bearing, in leaf 11.
func (s scene) stand(t testing.TB) *stand.Stand {
	t.Helper()
	b := stand.NewBuilder(stand.Ground{Block: 7, Code: "K2", Origin: [2]float64{4, 47}, RowSpacingM: s.rowM, VineSpacingM: s.vineM})
	for k := range s.rows {
		r := k
		if s.reverse {
			r = s.rows - 1 - k
		}
		b.Row(vine.ID(r+1), fmt.Sprint(k+1), 0)
		for n := range s.vines {
			p := s.place(r, n)
			b.Vine(stand.Position{ID: vine.ID(1000 + r*s.vines + n), Number: n + 1, ChainageM: float64(n) * s.vineM,
				Lon: 4 + p.X/76000, Lat: 47 + p.Y/111000, X: p.X, Y: p.Y, Planted: 2010})
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	st := stand.NewStand(g, 2020, 1)
	for i := range st.Condition {
		st.Condition[i] = vine.Bearing
	}
	return st
}

// noise gives every vine a value about level.
func noise(st *stand.Stand, rng *rand.Rand, level, spread float64) Column {
	c := NewColumn(st.Ground.Len())
	for i := range c.Value {
		c.Set(i, level+spread*rng.NormFloat64())
	}
	return c
}

// ellipse is an area on the ground.
type ellipse struct {
	middle     XY
	along, off float64 // half axes, m; the first at turnDeg clockwise from north
	turnDeg    float64
}

func (e ellipse) holds(p XY) bool {
	s, c := math.Sincos(e.turnDeg * math.Pi / 180)
	d := p.minus(e.middle)
	u, w := (d.X*s+d.Y*c)/e.along, (d.X*c-d.Y*s)/e.off
	return u*u+w*w < 1
}

// plant takes drop from the values inside and tells which vines those are.
func plant(st *stand.Stand, c Column, drop float64, areas ...ellipse) []bool {
	in := make([]bool, len(c.Value))
	for i := range in {
		for _, e := range areas {
			in[i] = in[i] || e.holds(XY{float64(st.Ground.X[i]), float64(st.Ground.Y[i])})
		}
		if in[i] {
			c.Value[i] -= drop
		}
	}
	return in
}

// lose makes a share of the vines missing.
func lose(st *stand.Stand, rng *rand.Rand, share float64) {
	for i := range st.Condition {
		if rng.Float64() < share {
			st.Condition[i] = vine.Missing
		}
	}
}

// findOne is Find for one block.
func findOne(t require.TestingT, b Block) *Found {
	got, err := Find(Input{Blocks: []Block{b}})
	require.NoError(t, err)
	return &got.Blocks[0]
}
