// Package demoestate invents an estate: land, rows, vines, three seasons of
// records and a half-done winter. Everything in it is made up; the same seed
// and size always give the same estate.
//
// The land lies in the southern hemisphere, so that the half-done winter is
// that of the middle of a year. The summer before the second recorded winter
// was dry: it bit where the soil is shallow and most where roots are young.
package demoestate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"github.com/paulmach/orb"
)

// Name is the estate's.
const Name = "Tarnmoor (invented estate)"

// Seasons with records, oldest first. The dry summer shows in the second.
const (
	FirstSeason   = 2025
	DrySeason     = 2026
	CurrentSeason = 2027
)

// centre of the estate, lon lat.
var centre = orb.Point{-66.4127, -38.9164}

// design is the drawing of one block in metres: a field of width (across the
// rows) and length (along them), turned by azimuth about its middle.
type design struct {
	code, name        string
	variety, clone    string
	rootstock, system string
	planted           int
	rowSpacing        float64 // m
	vineSpacing       float64 // m
	azimuth           float64 // of the rows, degrees clockwise from north
	width, length     float64 // m
	cutCorner         float64 // m taken off one corner, so that rows differ in length
	bend              float64 // sagitta of curved rows, m
	road              bool    // a farm road cuts the rows in the middle
	end               string  // where vine 1 stands
	depth             float64 // mean soil depth, 0 shallow to 1 deep
	east, north       float64 // middle of the block from the estate's centre, m
}

// home is the home farm: 14 blocks of leaves 1 to 25.
func home() []design {
	return []design{
		{code: "A1", name: "Long Slope", variety: "Albariño", clone: "3", rootstock: "110 R", system: "double Guyot", planted: 2003, rowSpacing: 2.4, vineSpacing: 1.2, azimuth: 12, width: 122, length: 118, cutCorner: 34, end: "S", depth: 0.62},
		{code: "A2", name: "Quarry", variety: "Albariño", clone: "7", rootstock: "110 R", system: "double Guyot", planted: 2012, rowSpacing: 2.4, vineSpacing: 1.2, azimuth: 12, width: 118, length: 112, cutCorner: 20, end: "S", depth: 0.34},
		{code: "A3", name: "Spring Head", variety: "Furmint", clone: "2", rootstock: "SO4", system: "single Guyot", planted: 2024, rowSpacing: 2.2, vineSpacing: 1.0, azimuth: 8, width: 94, length: 106, end: "S", depth: 0.45},
		{code: "A4", name: "Ash Row", variety: "Furmint", clone: "2", rootstock: "SO4", system: "single Guyot", planted: 2019, rowSpacing: 2.2, vineSpacing: 1.0, azimuth: 8, width: 98, length: 102, cutCorner: 26, end: "S", depth: 0.55},
		{code: "B1", name: "Ridge", variety: "Blaufränkisch", clone: "A4", rootstock: "5 BB", system: "double Guyot", planted: 2009, rowSpacing: 2.5, vineSpacing: 1.1, azimuth: -18, width: 126, length: 110, bend: 5, end: "N", depth: 0.30},
		{code: "B2", name: "Old Barn", variety: "Blaufränkisch", clone: "A4", rootstock: "5 BB", system: "double Guyot", planted: 2005, rowSpacing: 2.5, vineSpacing: 1.1, azimuth: -18, width: 120, length: 116, road: true, end: "N", depth: 0.66},
		{code: "B3", name: "Middle Field", variety: "Chenin blanc", clone: "220", rootstock: "101-14", system: "double Guyot", planted: 2016, rowSpacing: 2.4, vineSpacing: 1.2, azimuth: -10, width: 116, length: 114, end: "N", depth: 0.58},
		{code: "B4", name: "Stone Pit", variety: "Chenin blanc", clone: "220", rootstock: "101-14", system: "single Guyot", planted: 2022, rowSpacing: 2.4, vineSpacing: 1.2, azimuth: -10, width: 116, length: 108, cutCorner: 40, end: "N", depth: 0.28},
		{code: "C1", name: "South Bank", variety: "Tannat", clone: "474", rootstock: "3309 C", system: "double Guyot", planted: 2014, rowSpacing: 2.5, vineSpacing: 1.2, azimuth: 35, width: 112, length: 104, bend: 4, end: "NE", depth: 0.50},
		{code: "C2", name: "Windbreak", variety: "Tannat", clone: "474", rootstock: "3309 C", system: "single Guyot", planted: 2025, rowSpacing: 2.5, vineSpacing: 1.0, azimuth: 35, width: 110, length: 98, end: "NE", depth: 0.42},
		{code: "C3", name: "Orchard End", variety: "Mencía", clone: "51", rootstock: "110 R", system: "double Guyot", planted: 2018, rowSpacing: 2.2, vineSpacing: 1.1, azimuth: 28, width: 104, length: 108, cutCorner: 18, end: "NE", depth: 0.60},
		{code: "C4", name: "Lower Gate", variety: "Mencía", clone: "51", rootstock: "110 R", system: "double Guyot", planted: 2007, rowSpacing: 2.2, vineSpacing: 1.1, azimuth: 28, width: 104, length: 112, end: "NE", depth: 0.72},
		{code: "D1", name: "New Ground", variety: "Albariño", clone: "7", rootstock: "140 Ru", system: "single Guyot", planted: 2026, rowSpacing: 2.4, vineSpacing: 1.0, azimuth: 4, width: 96, length: 92, end: "S", depth: 0.48},
		{code: "D2", name: "Creek", variety: "Chenin blanc", clone: "880", rootstock: "101-14", system: "double Guyot", planted: 2011, rowSpacing: 2.4, vineSpacing: 1.2, azimuth: 4, width: 112, length: 122, cutCorner: 30, end: "S", depth: 0.80},
	}
}

// Cells of the grid on which blocks lie, m; wide enough for a turned block.
const (
	cellEast  = 176.0
	cellNorth = 172.0
)

// scale brings the home farm to its 60,000 vines.
const scale = 1.042

// designs gives enough blocks for about the wanted number of vines: a part of
// the home farm, all of it, or it and further farms like it.
func designs(vines int, rng *rand.Rand) []design {
	out := []design{}
	columns := max(4, int(math.Ceil(math.Sqrt(float64(vines)/4300))))
	for total, farm := 0, 0; total < vines; farm++ {
		for _, d := range home() {
			if total >= vines {
				break
			}
			d.width, d.length = d.width*scale, d.length*scale
			vary(&d, farm, rng)
			place(&d, len(out), columns)
			total += d.expected()
			out = append(out, d)
		}
	}
	if over := excess(out, vines); over > 0.01 {
		last := &out[len(out)-1]
		last.width *= max(1-over, 4*last.rowSpacing/last.width)
	}
	return out
}

// expected is about how many vines fit.
func (d design) expected() int {
	rows := math.Floor((d.width-0.9)/d.rowSpacing-1) + 1
	places := math.Floor((d.length-2*headland-2*rowEnd)/d.vineSpacing) + 1
	if d.road {
		places -= math.Ceil((2*roadHalf + 2*rowEnd) / d.vineSpacing)
	}
	return int(rows*places - d.cutCorner*d.cutCorner/2/(d.rowSpacing*d.vineSpacing))
}

// excess is which share of the last block goes beyond the wanted number.
func excess(ds []design, vines int) float64 {
	total := 0
	for _, d := range ds {
		total += d.expected()
	}
	return float64(total-vines) / float64(ds[len(ds)-1].expected())
}

// vary makes the blocks of further farms differ from those of the home farm.
func vary(d *design, farm int, rng *rand.Rand) {
	if farm == 0 {
		return
	}
	d.code = fmt.Sprintf("%d%s", farm+1, d.code)
	d.name = fmt.Sprintf("%s %d", d.name, farm+1)
	d.azimuth += rng.Float64()*16 - 8
	d.depth = min(0.85, max(0.25, d.depth+rng.Float64()*0.3-0.15))
	d.planted = min(CurrentSeason, d.planted+rng.IntN(5)-2)
}

// place puts the n-th block on its cell, every second row of cells shifted a
// little so that the land does not look ruled.
func place(d *design, n, columns int) {
	column, line := n%columns, n/columns
	d.east = (float64(column)-float64(columns-1)/2)*cellEast + 22*math.Sin(float64(line)*1.7)
	d.north = -float64(line)*cellNorth + 300 + 16*math.Sin(float64(column)*1.3)
}
