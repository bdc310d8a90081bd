package isoxml

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// Limits are what the machine and its terminal can do. Zero fields mean the
// defaults, which are common practice.
type Limits struct {
	WidthM      float64 // working width; a zone in which no circle of this diameter fits is too narrow; 0: not checked
	LeastAreaM2 float64 // parts of zones below are scraps; 10 m²
	Points      int     // positions in the whole task; 5,000
	NameLen     int     // characters of a name; 32
}

func (l Limits) withDefaults() Limits {
	if l.LeastAreaM2 <= 0 {
		l.LeastAreaM2 = 10
	}
	if l.Points <= 0 {
		l.Points = 5000
	}
	if l.NameLen <= 0 {
		l.NameLen = 32
	}
	return l
}

// Bad is everything for which a plan or a file is refused.
type Bad struct{ Problems []*format.Problem }

// Error gives all problems, one in a line.
func (b *Bad) Error() string {
	var lines []string
	for _, p := range b.Problems {
		lines = append(lines, p.Error())
	}
	return strings.Join(lines, "\n")
}

// Unwrap gives the problems.
func (b *Bad) Unwrap() (out []error) {
	for _, p := range b.Problems {
		out = append(out, p)
	}
	return out
}

func fault(file string, zone int, field, what, found, wanted string) *format.Problem {
	return &format.Problem{File: file, Feature: zone, Field: field, What: what, Found: found, Wanted: wanted}
}

// borderM is how far two outlines drawn along one border may be off each other, m:
// rounding, not an overlap.
const borderM = 0.002

// checker gathers what is wrong with a plan.
type checker struct {
	p   *Plan
	l   Limits
	out []*format.Problem
}

func (c *checker) add(zone int, field, what, found, wanted string) {
	c.out = append(c.out, fault("", zone, field, what, found, wanted))
}

// Check says everything for which a terminal would turn a plan down or misread
// it; a problem's Feature is the zone, counted from 0.
func Check(p *Plan, l Limits) []*format.Problem {
	c := &checker{p: p, l: l.withDefaults()}
	c.names()
	c.inputs()
	c.rates()
	if c.shapes() {
		c.borders()
	}
	c.grid()
	return c.out
}

func (c *checker) name(zone int, field, s string) {
	switch {
	case strings.TrimSpace(s) == "":
		c.add(zone, field, "a name is missing", "", "a name")
	case !utf8.ValidString(s) || strings.ContainsFunc(s, unicode.IsControl):
		c.add(zone, field, "a name has characters that no terminal shows", format.Quote(s), "letters and digits")
	case utf8.RuneCountInString(s) > c.l.NameLen:
		c.add(zone, field, "a name is too long", format.Quote(s), fmt.Sprintf("at most %d characters", c.l.NameLen))
	}
}

func (c *checker) names() {
	p := c.p
	c.name(None, "customer", p.Customer)
	c.name(None, "farm", p.Farm)
	c.name(None, "field", p.Field)
	c.name(None, "task", p.Task)
	for i, z := range p.Zones {
		c.name(i, "name", z.Name)
	}
}

func (c *checker) inputs() {
	if len(c.p.Inputs) == 0 {
		c.add(None, "inputs", "there is no input", "", "a product and its unit")
	}
	seen := map[string]bool{}
	for _, in := range c.p.Inputs {
		c.name(None, "product", in.Product)
		if seen[in.Product] {
			c.add(None, "product", "the same product twice", format.Quote(in.Product), "each once")
		}
		seen[in.Product] = true
		if _, err := in.Unit.entry(); err != nil {
			c.add(None, "unit", err.Error(), "", "one of these")
		}
	}
}

const mostZones = 254 // codes 1 to 254; 255 is kept by the standard

func (c *checker) rates() {
	p := c.p
	if n := len(p.Zones); n > mostZones || n == 0 && (p.Grid == nil || p.Grid.Type == 1) {
		c.add(None, "zones", "too many or no zones", fmt.Sprint(n), fmt.Sprintf("1 to %d", mostZones))
	}
	for i, z := range p.Zones {
		if z.RateTexts != nil {
			c.add(i, "rate", "a rate is a text", format.Quote(strings.Join(z.RateTexts, "; ")), "a number in the unit of the input (Mend reads it)")
			continue
		}
		if len(z.Rates) != len(p.Inputs) {
			c.add(i, "rate", "not one rate for each input", fmt.Sprint(len(z.Rates)), fmt.Sprint(len(p.Inputs)))
			continue
		}
		for k, rate := range z.Rates {
			c.rate(i, p.Inputs[k], rate)
		}
	}
}

func (c *checker) rate(zone int, in Input, rate float64) {
	if _, err := in.Unit.entry(); err != nil {
		return // said once
	}
	if _, err := in.Unit.Stored(rate); err != nil {
		c.add(zone, "rate of "+in.Product, err.Error(), fmt.Sprint(rate), "a rate in "+string(in.Unit)+", 0 where nothing is put out")
	}
}

// shapes checks each outline by itself, and tells whether they can be laid over
// each other.
func (c *checker) shapes() bool {
	before := len(c.out)
	points := c.area(None, "boundary", c.p.Boundary)
	for i, z := range c.p.Zones {
		if z.Heights {
			c.add(i, "area", heights3D, "", "longitude and latitude only (Mend leaves heights out)")
		}
		if len(z.Area) == 0 {
			if c.p.Grid == nil {
				c.add(i, "area", "the zone has no area", "", "an outline")
			}
			continue
		}
		points += c.area(i, "area", z.Area)
	}
	if len(c.p.Boundary) == 0 {
		c.add(None, "boundary", "the field has no boundary", "", "an outline")
	}
	if points > c.l.Points {
		c.add(None, "area", "too many positions for a terminal", fmt.Sprint(points), fmt.Sprintf("at most %d: smoother zones, or a grid", c.l.Points))
		return false
	}
	for _, p := range c.out[before:] {
		switch p.What {
		case scrap, narrow, heights3D:
		default:
			return false // outlines that cannot be laid over each other
		}
	}
	return len(c.p.Boundary) > 0
}

const (
	heights3D = "positions have heights"
	scrap     = "a part of the zone is a scrap"
	narrow    = "a part of the zone is narrower than the machine"
)

// area checks the outlines of a zone, or of the boundary, and counts positions.
func (c *checker) area(zone int, field string, mp orb.MultiPolygon) (points int) {
	f, err := frame.ForGeometry(mp)
	if err != nil {
		if len(mp) > 0 {
			c.add(zone, field, "the outline is no place", err.Error(), "longitude and latitude in degrees")
		}
		return 0
	}
	for k, pg := range mp {
		sound := len(pg) > 0
		if !sound {
			c.add(zone, field, "a ring is open or has too few places", fmt.Sprintf("part %d, no ring", k), "an outline")
		}
		for _, r := range pg {
			points += len(r)
			if len(r) < 4 || r[0] != r[len(r)-1] {
				c.add(zone, field, "a ring is open or has too few places", fmt.Sprintf("part %d, %d places", k, len(r)), "a ring of at least 4 places whose last is the first (Mend closes it)")
				sound = false
			}
		}
		if !sound {
			continue
		}
		plane := f.Polygon(pg)
		if x, crosses := plane.Crossing(); crosses {
			at := f.LonLat(x.At)
			c.add(zone, field, "the outline crosses itself", fmt.Sprintf("part %d at %.7f %.7f", k, at[0], at[1]), "outlines that do not cross")
			continue
		}
		if m2 := plane.Area(); m2 < c.l.LeastAreaM2 {
			c.add(zone, field, scrap, fmt.Sprintf("part %d of %.2f m²", k, m2), fmt.Sprintf("at least %v m²", c.l.LeastAreaM2))
		} else if wide := widest(plane); zone != None && wide < c.l.WidthM {
			c.add(zone, field, narrow, fmt.Sprintf("part %d, %.2f m at its widest", k, wide), fmt.Sprintf("at least %v m", c.l.WidthM))
		}
	}
	return points
}

// borders finds overlaps, ground without a zone, and zones beyond the boundary.
func (c *checker) borders() {
	f, err := frame.ForGeometry(c.p.Boundary)
	if err != nil {
		return
	}
	areas := []frame.MultiPolygon{f.MultiPolygon(c.p.Boundary)}
	lengths := []float64{perimeter(areas[0])}
	any := false
	for _, z := range c.p.Zones {
		areas = append(areas, f.MultiPolygon(z.Area))
		lengths = append(lengths, perimeter(areas[len(areas)-1]))
		any = any || len(z.Area) > 0
	}
	if !any {
		return
	}
	over := overlay(areas)
	for a := range areas {
		for b := a; b < len(areas); b++ {
			m2 := over[pair{a, b}]
			if m2 <= max(borderM*min(lengths[a], lengths[b]), 0.01) {
				continue
			}
			found := fmt.Sprintf("%.2f m²", m2)
			switch {
			case a == 0:
				c.add(None, "area", "part of the field has no zone", found, "zones that cover the field, with rate 0 where nothing is put out")
			case a == b:
				c.add(a-1, "area", "the zone reaches beyond the boundary", found, "zones within the field")
			default:
				c.add(b-1, "area", "two zones overlap", fmt.Sprintf("%s shared with zone %d (%s)", found, a-1, c.p.Zones[a-1].Name), "one rate for each place")
			}
		}
	}
}

func perimeter(mp frame.MultiPolygon) (sum float64) {
	for _, pg := range mp {
		for _, r := range pg {
			sum += frame.Line(r).Length()
		}
	}
	return sum
}

// grid checks a grid.
func (c *checker) grid() {
	g := c.p.Grid
	if g == nil {
		return
	}
	switch {
	case g.Type != 1 && g.Type != 2:
		c.add(None, "grid", "not a type of grid", fmt.Sprint(g.Type), "1 or 2")
		return
	case g.Columns < 1 || g.Rows < 1 || g.Columns > mostCells/g.Rows:
		c.add(None, "grid", "an impossible number of cells", fmt.Sprintf("%d x %d", g.Columns, g.Rows), fmt.Sprintf("1 to %d", mostCells))
		return
	case !(g.CellLat > 0 && g.CellLat <= 1 && g.CellLon > 0 && g.CellLon <= 1):
		c.add(None, "grid", "cells of an impossible size", fmt.Sprintf("%v x %v degrees", g.CellLat, g.CellLon), "above 0, at most 1")
	case !(math.Abs(g.South) <= 90 && math.Abs(g.West) <= 180 && g.South+float64(g.Rows)*g.CellLat <= 90):
		c.add(None, "grid", "the corner is no place", fmt.Sprintf("%v %v", g.West, g.South), "longitude and latitude in degrees")
	}
	if g.Type == 1 {
		c.codes(g)
		return
	}
	if len(g.Rates) != g.cells()*len(c.p.Inputs) {
		c.add(None, "grid", "not one rate for each cell and input", fmt.Sprint(len(g.Rates)), fmt.Sprint(g.cells()*len(c.p.Inputs)))
		return
	}
	for i, rate := range g.Rates {
		in := c.p.Inputs[i%len(c.p.Inputs)]
		if _, err := in.Unit.Stored(rate); err != nil {
			c.add(None, "grid", "rate of "+in.Product+": "+err.Error(), fmt.Sprintf("%v in cell %d", rate, i/len(c.p.Inputs)), "a rate in "+string(in.Unit))
			return
		}
	}
}

func (c *checker) codes(g *Grid) {
	if len(g.Zone) != g.cells() {
		c.add(None, "grid", "not one code for each cell", fmt.Sprint(len(g.Zone)), fmt.Sprint(g.cells()))
		return
	}
	for i, code := range g.Zone {
		if int(code) > len(c.p.Zones) {
			c.add(None, "grid", "a cell names a zone that is not there", fmt.Sprintf("%d in cell %d", code, i), fmt.Sprintf("0 to %d", len(c.p.Zones)))
			return
		}
	}
}
