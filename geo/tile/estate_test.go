package tile

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// plot describes an invented block for the tests.
type plot struct {
	block     vine.ID
	code      string
	lon, lat  float64 // of the first vine of the first row
	azimuth   float64 // of the rows, degrees from north
	rows      int
	vines     int     // per row
	rowM      float64 // between rows
	vineM     float64 // along the row
	roadAfter int     // vines before a road of 8 m; 0 none
	bend      float64 // curvature of the rows, degrees per vine
	seed      uint64
}

// grow makes the stand and the outline of a plot. Conditions, classes and
// progress come from a seeded generator, weak in patches.
func (p plot) grow(t require.TestingT) (*stand.Stand, orb.MultiPolygon) {
	n := p.rows * p.vines
	g := &stand.Ground{
		Block: p.block, Code: p.code, Revision: 1, Origin: [2]float64{p.lon, p.lat},
		RowSpacingM: p.rowM, VineSpacingM: p.vineM,
		ID: make([]vine.ID, 0, n), Row: make([]int32, 0, n), Number: make([]int32, 0, n),
		WX: make([]uint32, 0, n), WY: make([]uint32, 0, n),
	}
	for r := range p.rows {
		row := stand.Row{ID: p.block*1000 + vine.ID(r) + 1, Label: fmt.Sprint(r + 1), First: len(g.ID), Count: p.vines}
		for i := range p.vines {
			lon, lat := p.at(float64(r), float64(i))
			x, y, err := ToWorld(lon, lat)
			require.NoError(t, err)
			g.ID = append(g.ID, p.block*100_000+vine.ID(len(g.ID))+1)
			g.Row = append(g.Row, int32(r))
			g.Number = append(g.Number, int32(i+1))
			g.WX, g.WY = append(g.WX, x), append(g.WY, y)
		}
		for e, i := range []float64{-1, float64(p.vines)} {
			lon, lat := p.at(float64(r), i)
			x, y, err := ToWorld(lon, lat)
			require.NoError(t, err)
			row.Ends[e] = [2]uint32{x, y}
		}
		g.Rows = append(g.Rows, row)
	}
	return p.season(g), p.outline()
}

// at gives the position of vine i of row r, degrees.
func (p plot) at(r, i float64) (lon, lat float64) {
	along := i * p.vineM
	if p.roadAfter > 0 && i >= float64(p.roadAfter) {
		along += 8
	}
	a := (p.azimuth + p.bend*i/2) * math.Pi / 180
	b := (p.azimuth + 90) * math.Pi / 180
	east := along*math.Sin(a) + r*p.rowM*math.Sin(b)
	north := along*math.Cos(a) + r*p.rowM*math.Cos(b)
	lat = p.lat + north/111_132
	lon = p.lon + east/(111_320*math.Cos(p.lat*math.Pi/180))
	if lon > 180 {
		lon -= 360
	}
	return lon, lat
}

// outline is the plot's four corners, half a row and three metres out.
func (p plot) outline() orb.MultiPolygon {
	v := 3 / p.vineM
	var ring orb.Ring
	for _, c := range [][2]float64{{-0.5, -v}, {-0.5, float64(p.vines) + v}, {float64(p.rows) - 0.5, float64(p.vines) + v}, {float64(p.rows) - 0.5, -v}} {
		lon, lat := p.at(c[0], c[1])
		ring = append(ring, orb.Point{lon, lat})
	}
	return orb.MultiPolygon{{append(ring, ring[0])}}
}

// season fills the columns of a stand.
func (p plot) season(g *stand.Ground) *stand.Stand {
	n := g.Len()
	s := &stand.Stand{
		Ground: g, Season: 2027, Revision: 1,
		Condition: make([]vine.Condition, n), Leaf: make([]uint8, n), Progress: make([]vine.Progress, n),
		Flags: make([]stand.Flags, n), Vigour: make([]uint8, n), Nodes: make([]uint8, n),
	}
	rng := rand.New(rand.NewPCG(p.seed, uint64(p.block)))
	for i := range n {
		wave := math.Sin(float64(g.Row[i])/7) + math.Cos(float64(g.Number[i])/15)
		s.Vigour[i] = uint8(1 + min(4, max(0, 2+wave+rng.NormFloat64()*0.8)))
		s.Condition[i] = vine.Bearing
		switch f := rng.Float64(); {
		case f < 0.02:
			s.Condition[i] = vine.Missing
		case f < 0.03:
			s.Condition[i] = vine.Dead
		case f < 0.06:
			s.Condition[i] = vine.Weak
		case f < 0.09:
			s.Condition[i] = vine.Condition(rng.IntN(conditions))
		}
		s.Leaf[i] = 14
		s.Nodes[i] = uint8(6 + rng.IntN(14))
		if !s.Condition[i].Living() {
			s.Vigour[i], s.Nodes[i], s.Leaf[i] = 0, stand.None, 0
		} else if int(g.Row[i])*2 < p.rows {
			s.Progress[i] = vine.Done
			if rng.IntN(50) == 0 {
				s.Progress[i] = vine.Progress(rng.IntN(5))
			}
		}
	}
	return s
}

// view makes the plot ready to draw.
func (p plot) view(t require.TestingT) BlockView {
	s, mp := p.grow(t)
	o, err := PrepareOutline(mp)
	require.NoError(t, err)
	v, err := NewView(s, nil, o, "Block "+p.code, "Pinot noir")
	require.NoError(t, err)
	return v
}

// estate lays blocks of 50 rows of 100 vines side by side with 6 m between
// them, in a square: rows 2.5 m, vines 1.25 m, 1.6 ha each.
func estate(t require.TestingT, blocks int) []BlockView {
	side := int(math.Ceil(math.Sqrt(float64(blocks))))
	out := make([]BlockView, blocks)
	for i := range out {
		east, north := float64(i%side)*(50*2.5+6), float64(i/side)*(100*1.25+12)
		lat := -37.72 + north/111_132
		p := plot{
			block: vine.ID(i + 1), code: fmt.Sprintf("H%d", i+1), lat: lat,
			lon:  145.32 + east/(111_320*math.Cos(-37.72*math.Pi/180)),
			rows: 50, vines: 100, rowM: 2.5, vineM: 1.25, seed: 7,
		}
		out[i] = p.view(t)
	}
	return out
}
