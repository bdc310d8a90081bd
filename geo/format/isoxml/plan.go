// Package isoxml writes and reads task data of ISO 11783-10: the folder TASKDATA
// that a terminal takes from a stick, with a planned task whose rates vary by
// treatment zones (polygons) or over a grid (type 1: a zone for each cell; type
// 2: the rates themselves, in a binary file).
//
// Elements, attributes and units follow the attribute tables generated from the
// published schemas of version 4.3 and the data dictionary of ISO 11783-11; the
// length of names is from memory. Check says what a terminal would turn down,
// Mend puts right what needs no decision, WriteZip refuses the rest.
package isoxml

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// Unit is a unit of rates as people write it.
type Unit string

// The units.
const (
	LitresPerHa      Unit = "l/ha"
	CubicMetresPerHa Unit = "m3/ha"
	Millimetres      Unit = "mm" // of water
	KilogramsPerHa   Unit = "kg/ha"
	TonnesPerHa      Unit = "t/ha"
	CountPerHa       Unit = "1/ha"
	GallonsPerAcre   Unit = "gal/ac"
	PoundsPerAcre    Unit = "lb/ac"
)

// dictionary is what the data dictionary says of a unit: the entry (DDI), how
// many of the entry's whole steps are 1 of the unit, and the decimals to show.
type dictionary struct {
	ddi      int
	steps    float64
	decimals int
}

const (
	ddiVolume = 1  // setpoint volume per area, 0.01 mm³/m²
	ddiMass   = 6  // setpoint mass per area, 1 mg/m²
	ddiCount  = 11 // setpoint count per area, 0.001 /m²

	acreM2   = 4046.8564224
	poundMg  = 453592.37
	gallonUL = 3785411.784 // mm³
)

func (u Unit) entry() (dictionary, error) {
	switch u {
	case LitresPerHa:
		return dictionary{ddiVolume, 1e4, 1}, nil
	case CubicMetresPerHa:
		return dictionary{ddiVolume, 1e7, 3}, nil
	case Millimetres:
		return dictionary{ddiVolume, 1e8, 2}, nil
	case KilogramsPerHa:
		return dictionary{ddiMass, 100, 1}, nil
	case TonnesPerHa:
		return dictionary{ddiMass, 1e5, 3}, nil
	case CountPerHa:
		return dictionary{ddiCount, 0.1, 0}, nil
	case GallonsPerAcre:
		return dictionary{ddiVolume, gallonUL / acreM2 * 100, 1}, nil
	case PoundsPerAcre:
		return dictionary{ddiMass, poundMg / acreM2, 1}, nil
	}
	return dictionary{}, fmt.Errorf("the unit %q is not one of l/ha, m3/ha, mm, kg/ha, t/ha, 1/ha, gal/ac, lb/ac", string(u))
}

// Stored gives the whole number that stands for a rate: the nearest. It refuses
// rates below 0, beyond 32 bits, and above 0 that would be stored as 0.
func (u Unit) Stored(rate float64) (int32, error) {
	e, err := u.entry()
	if err != nil {
		return 0, err
	}
	v := math.Round(rate * e.steps)
	switch {
	case math.IsNaN(rate):
		return 0, fmt.Errorf("the rate is missing")
	case rate < 0:
		return 0, fmt.Errorf("the rate is below 0")
	case v > math.MaxInt32:
		return 0, fmt.Errorf("the rate is too high for the format, which ends at %.6g %s", math.MaxInt32/e.steps, u)
	case v == 0 && rate > 0:
		return 0, fmt.Errorf("the rate is too low for the format, which begins at %.6g %s", 1/e.steps, u)
	}
	return int32(v), nil
}

// Shown gives the rate that a stored number stands for.
func (u Unit) Shown(stored int32) (float64, error) {
	e, err := u.entry()
	return float64(stored) / e.steps, err
}

// Plan is a task with rates that vary over one field.
type Plan struct {
	Customer, Farm, Field, Task string
	Boundary                    orb.MultiPolygon // of the field; degrees, WGS 84
	Inputs                      []Input
	Zones                       []Zone // at most 254, in order of their codes from 1
	Grid                        *Grid  // nil: the zones' areas are written
}

// Input is a product and the unit of its rates.
type Input struct {
	Product string
	Unit    Unit
}

// Zone is a part of the field with rates of its own, one for each input.
type Zone struct {
	Name  string
	Area  orb.MultiPolygon // may be nil with a grid
	Rates []float64        // NaN: missing
	// As they came: rates written as texts, which Mend reads, and whether
	// positions had heights, which are left out.
	RateTexts []string
	Heights   bool
}

// Grid is a field cut into cells, from the south-west corner eastward, then
// northward.
type Grid struct {
	Type          int     // 1 or 2
	South, West   float64 // edges, degrees
	CellLat       float64 // size of a cell, degrees
	CellLon       float64
	Columns, Rows int
	Zone          []uint8   // type 1: code of each cell's zone, 0 none
	Rates         []float64 // type 2: rates cell by cell, in a cell one for each input
}

// cells is the number of cells.
func (g *Grid) cells() int { return g.Columns * g.Rows }

const mostCells = 4_000_000

// MakeGrid lays a grid of square cells over the zones of a plan: each cell has
// the zone in which its middle lies (of two, the first), 0 or no rate where there
// is none. cellM is the side of a cell on the ground, m.
func MakeGrid(p *Plan, kind int, cellM float64) (*Grid, error) {
	var b orb.Bound
	for i, z := range p.Zones {
		if i == 0 {
			b = z.Area.Bound()
		}
		b = b.Union(z.Area.Bound())
	}
	lat := (b.Min[1] + b.Max[1]) / 2 * math.Pi / 180
	// Lengths of a degree on WGS 84 (radii of curvature in meridian and prime
	// vertical), m.
	const a, e2 = 6378137.0, 0.00669437999014
	w2 := 1 - e2*math.Sin(lat)*math.Sin(lat)
	north := math.Pi / 180 * a * (1 - e2) / (w2 * math.Sqrt(w2))
	east := math.Pi / 180 * a * math.Cos(lat) / math.Sqrt(w2)
	g := &Grid{Type: kind, South: b.Min[1], West: b.Min[0], CellLat: cellM / north, CellLon: cellM / east}
	// A last cell of which a thousandth would be filled is left out.
	columns, rows := math.Ceil((b.Max[0]-b.Min[0])/g.CellLon-1e-3), math.Ceil((b.Max[1]-b.Min[1])/g.CellLat-1e-3)
	if !(cellM > 0 && columns >= 1 && rows >= 1 && columns*rows <= mostCells) || kind != 1 && kind != 2 {
		return nil, fault("", None, "grid", "no grid can be laid over the zones", fmt.Sprintf("type %d, cells of %v m: %v x %v", kind, cellM, columns, rows), "type 1 or 2, zones with areas, 1 to 4 million cells")
	}
	g.Columns, g.Rows = int(columns), int(rows)
	for y := range g.Rows {
		for x := range g.Columns {
			at := orb.Point{g.West + (float64(x)+0.5)*g.CellLon, g.South + (float64(y)+0.5)*g.CellLat}
			g.put(p, zoneAt(p.Zones, at))
		}
	}
	return g, nil
}

// put adds a cell.
func (g *Grid) put(p *Plan, code int) {
	if g.Type == 1 {
		g.Zone = append(g.Zone, uint8(code))
		return
	}
	for k := range p.Inputs {
		rate := 0.
		if code > 0 && k < len(p.Zones[code-1].Rates) {
			rate = p.Zones[code-1].Rates[k]
		}
		g.Rates = append(g.Rates, rate)
	}
}

// zoneAt gives the code of the zone at a place, 0 for none.
func zoneAt(zones []Zone, at orb.Point) int {
	for i, z := range zones {
		for _, pg := range z.Area {
			if z.Area.Bound().Contains(at) && inside(pg, at) {
				return i + 1
			}
		}
	}
	return 0
}

// inside tells whether a place lies in a polygon: an odd number of its edges
// lies to the east.
func inside(pg orb.Polygon, p orb.Point) bool {
	in := false
	for _, r := range pg {
		for i := range r {
			a, b := r[i], r[(i+1)%len(r)]
			if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
				in = !in
			}
		}
	}
	return in
}
