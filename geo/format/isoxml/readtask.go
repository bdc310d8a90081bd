package isoxml

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
)

func (r *reader) field(x xmlPFD) {
	where := x.A + " "
	f := Field{ID: x.A, Name: x.C}
	if x.A == "" || x.C == "" {
		r.blame(where, "a field without id or name", "", "A and C")
	}
	f.AreaM2 = r.decimal(where+"D", x.D, 0, 1e12)
	for _, p := range x.PLN {
		if p.A == "1" {
			f.Boundary = append(f.Boundary, r.polygons(where+"boundary", p)...)
		}
	}
	r.data.Fields = append(r.data.Fields, f)
}

// polygons reads the rings of one PLN: an outer ring, then its holes.
func (r *reader) polygons(where string, x xmlPLN) (out orb.MultiPolygon) {
	for _, l := range x.LSG {
		ring := r.ring(where, l)
		if ring == nil {
			continue
		}
		switch {
		case l.A == "1":
			out = append(out, orb.Polygon{ring})
		case l.A == "2" && len(out) > 0:
			out[len(out)-1] = append(out[len(out)-1], ring)
		case l.A == "2":
			r.blame(where, "a hole before its outline", "", "the outer ring first")
		}
	}
	return out
}

// ring reads a ring, turned the way of RFC 7946: outlines counter-clockwise.
func (r *reader) ring(where string, l xmlLSG) orb.Ring {
	if l.A != "1" && l.A != "2" {
		return nil
	}
	var ring orb.Ring
	for _, p := range l.PNT {
		lat, lon := r.decimal(where+" latitude", p.C, -90, 90), r.decimal(where+" longitude", p.D, -180, 180)
		if p.E != "" {
			r.notices.Add(mainFile, where, None, 0, "heights are left out")
		}
		ring = append(ring, orb.Point{lon, lat})
	}
	if len(ring) < 3 {
		r.blame(where, "a ring has too few places", fmt.Sprint(len(ring)), "at least 4")
		return nil
	}
	if ring[0] != ring[len(ring)-1] {
		r.notices.Add(mainFile, where, None, 0, "a ring was not closed")
		ring = append(ring, ring[0])
	}
	if o := ring.Orientation(); o == 0 {
		r.blame(where, "a ring without area", "", "an outline")
		return nil
	} else if (o == orb.CCW) != (l.A == "1") {
		ring.Reverse()
	}
	return ring
}

// zoneCode reads a reference to a zone of the task, -1 where there is none.
func (r *reader) zoneCode(where, s string, known map[int]bool) int {
	if s == "" {
		return -1
	}
	v := r.whole(where, s, 0, mostZones)
	if !known[v] {
		r.blame(where, "names a zone that is not there", format.Quote(s), "the code of a zone of the task")
	}
	return v
}

func (r *reader) task(x xmlTSK) {
	where := x.A + " "
	t := Task{ID: x.A, Name: x.B, Field: x.E, Status: r.whole(where+"G (status)", x.G, 0, 6)}
	for _, ref := range []struct {
		id, what string
		known    func() bool
	}{
		{x.C, "customer", func() bool { return has(r.root.Customer, func(c xmlCTR) bool { return c.A == x.C }) }},
		{x.D, "farm", func() bool { return has(r.root.Farm, func(f xmlFRM) bool { return f.A == x.D }) }},
		{x.E, "field", func() bool { return has(r.root.Field, func(f xmlPFD) bool { return f.A == x.E }) }},
	} {
		if ref.id != "" && !ref.known() {
			r.blame(where+ref.what, "names something that is not in the file", format.Quote(ref.id), "an id of the file")
		}
	}
	codes := map[int]bool{}
	for _, z := range x.TZN {
		rz := r.zone(where, z)
		if codes[rz.Code] {
			r.blame(where+"TZN", "the same zone code twice", strconv.Itoa(rz.Code), "each once")
		}
		codes[rz.Code] = true
		t.Zones = append(t.Zones, rz)
	}
	t.Default, t.Lost, t.Outside = r.zoneCode(where+"H", x.H, codes), r.zoneCode(where+"I", x.I, codes), r.zoneCode(where+"J", x.J, codes)
	for _, g := range x.GRD {
		if rg, ok := r.grid(where+"GRD ", g, &t, codes); ok {
			t.Grids = append(t.Grids, rg)
		}
	}
	r.data.Tasks = append(r.data.Tasks, t)
}

func has[T any](list []T, is func(T) bool) bool {
	for _, x := range list {
		if is(x) {
			return true
		}
	}
	return false
}

func (r *reader) zone(where string, x xmlTZN) ReadZone {
	where += "zone " + x.A
	z := ReadZone{Code: r.whole(where, x.A, 0, mostZones), Name: x.B}
	for _, p := range x.PLN {
		if p.A == "2" || p.A == "1" {
			z.Area = append(z.Area, r.polygons(where, p)...)
		}
	}
	for _, v := range x.PDV {
		z.Values = append(z.Values, r.value(where, v))
	}
	return z
}

func (r *reader) value(where string, x xmlPDV) (v Value) {
	ddi, err := strconv.ParseUint(x.A, 16, 16)
	if err != nil || len(x.A) != 4 {
		r.blame(where+" PDV A", "not an entry of the data dictionary", format.Quote(x.A), "four hex digits, such as 0006")
	}
	v.DDI, v.scale = int(ddi), 1
	stored, err := strconv.ParseInt(strings.TrimSpace(x.B), 10, 32)
	if err != nil {
		r.blame(where+" PDV B", "not a whole number of 32 bits", format.Quote(x.B), "the rate in whole steps of the data dictionary")
	}
	v.Stored = int32(stored)
	if x.C != "" {
		name, ok := r.product[x.C]
		if !ok {
			r.blame(where+" PDV C", "names a product that is not in the file", format.Quote(x.C), "an id of the file")
		}
		v.Product = name
	}
	if x.E != "" {
		p, ok := r.shown[x.E]
		if !ok {
			r.blame(where+" PDV E", "names a presentation that is not in the file", format.Quote(x.E), "an id of the file")
		} else {
			v.scale, v.offset = r.decimal(p.A+" C", p.C, 1e-12, 1e12), r.decimal(p.A+" B", p.B, math.MinInt32, math.MaxInt32)
			v.Unit = p.E
		}
	}
	v.Shown = v.show(v.Stored)
	return v
}

// show gives the value that the presentation makes of a stored number.
func (v Value) show(stored int32) float64 { return (float64(stored) + v.offset) * v.scale }

func (r *reader) grid(where string, x xmlGRD, t *Task, codes map[int]bool) (g ReadGrid, ok bool) {
	before := len(r.bad.Problems)
	g.South, g.West = r.decimal(where+"A", x.A, -90, 90), r.decimal(where+"B", x.B, -180, 180)
	g.CellLat, g.CellLon = r.decimal(where+"C", x.C, 1e-12, 1), r.decimal(where+"D", x.D, 1e-12, 1)
	g.Columns, g.Rows = r.whole(where+"E", x.E, 1, mostCells), r.whole(where+"F", x.F, 1, mostCells)
	g.Type = r.whole(where+"I", x.I, 1, 2)
	if len(r.bad.Problems) > before {
		return g, false
	}
	if g.Columns > mostCells/g.Rows {
		r.blame(where+"E", "too many cells", fmt.Sprintf("%d x %d", g.Columns, g.Rows), fmt.Sprintf("at most %d", mostCells))
		return g, false
	}
	size := g.cells()
	if g.Type == 2 {
		code := r.zoneCode(where+"J", x.J, codes)
		for _, z := range t.Zones {
			if z.Code == code {
				g.Values = z.Values
			}
		}
		if size *= 4 * len(g.Values); size == 0 {
			r.blame(where+"J", "a grid of type 2 needs a zone with values", format.Quote(x.J), "the code of a zone of the task")
			return g, false
		}
	}
	b, name := r.file(x.G + ".bin")
	switch {
	case b == nil:
		r.blame(where+"G", "the file of the grid is missing", x.G+".bin", "it beside TASKDATA.XML")
		return g, false
	case len(b) != size:
		r.blame(where+"H", "the file of the grid has the wrong length", fmt.Sprintf("%s: %d bytes", name, len(b)), fmt.Sprintf("%d", size))
		return g, false
	}
	if g.Type == 1 {
		g.Zone = b
		for _, c := range b {
			if !codes[int(c)] {
				r.blame(where+"G", "a cell names a zone that is not there", strconv.Itoa(int(c)), "codes of zones of the task")
				return g, false
			}
		}
		return g, true
	}
	g.Rates = make([]float64, len(b)/4)
	for i := range g.Rates {
		g.Rates[i] = g.Values[i%len(g.Values)].show(int32(binary.LittleEndian.Uint32(b[4*i:])))
	}
	if swapped(b) {
		r.notices.Add(name, "", None, 0, "the numbers look as if their bytes stood in reversed order; the rates may be nonsense, look at them before use")
	}
	return g, true
}

// swapped tells whether numbers would all be far smaller, and not below 0, with
// their bytes in the other order.
func swapped(b []byte) bool {
	var as, other float64
	for ; len(b) >= 4; b = b[4:] {
		u := binary.LittleEndian.Uint32(b)
		v := bits.ReverseBytes32(u)
		if int32(v) < 0 {
			return false
		}
		as, other = as+math.Abs(float64(int32(u))), other+float64(v)
	}
	return other > 0 && as > 50*other
}
