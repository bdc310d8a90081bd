package demoestate

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout"
)

// headland is the ground between the block's edge and the ends of its rows, m.
const headland = 5.0

// rowEnd is the ground between the end of a row and its first vine, m.
const rowEnd = 0.6

// Half width of the farm road that cuts some blocks, m.
const roadHalf = 4.0

// land is one block drawn on the ground.
type land struct {
	design  design
	outline orb.MultiPolygon
	rows    []drawnRow
}

// drawnRow is a row with its vine positions.
type drawnRow struct {
	label   string
	line    orb.MultiLineString
	lengthM float64
	places  []standing
}

// standing is a vine position with the invented ground under it.
type standing struct {
	layout.Place
	east, north float64 // from the estate's centre, m
}

// draw lays a block out: outline, rows clipped to it, vines along the rows.
func (d design) draw(estate frame.Frame) (land, error) {
	ground := d.corners(0)
	l := land{design: d, outline: orb.MultiPolygon{{orbRing(estate, ground)}}}
	own, err := frame.ForGeometry(l.outline)
	if err != nil {
		return land{}, fmt.Errorf("block %s: %w", d.code, err)
	}
	from, err := layout.ParseEnd(d.end)
	if err != nil {
		return land{}, fmt.Errorf("block %s: %w", d.code, err)
	}
	planted := frame.MultiPolygon{{frame.Ring(d.corners(headland))}}
	half := d.rowSpacing / 2
	for u := -d.width/2 + half + 0.5; u <= d.width/2-half-0.4; u += d.rowSpacing {
		line := d.rowAt(u, estate, planted)
		if line == nil {
			continue
		}
		laid, err := layout.Places(own, line, from, layout.Spacing{VineM: d.vineSpacing, StartM: rowEnd, EndM: rowEnd, BreakM: rowEnd})
		if err != nil {
			continue // a corner too short for two vines stays bare
		}
		l.rows = append(l.rows, d.row(len(l.rows)+1, laid, own, estate))
	}
	return l, nil
}

// row turns what was laid out into a row of the estate, drawn from its
// numbering end.
func (d design) row(n int, laid layout.Laid, own, estate frame.Frame) drawnRow {
	r := drawnRow{label: fmt.Sprint(n), lengthM: laid.Row.LengthM()}
	for _, part := range laid.Row.Parts {
		r.line = append(r.line, own.LineString(part))
	}
	for _, p := range laid.Places {
		at := estate.XY(p.Point)
		r.places = append(r.places, standing{Place: p, east: at.X, north: at.Y})
	}
	return r
}

// corners of the block, inset by so many metres at the row ends and sides.
func (d design) corners(inset float64) []frame.XY {
	w, l, c := d.width/2, d.length/2-inset, d.cutCorner
	local := []frame.XY{{X: -w, Y: -l}, {X: w, Y: -l}, {X: w, Y: l - c}, {X: w - c, Y: l}, {X: -w, Y: l}}
	if c == 0 {
		local = []frame.XY{{X: -w, Y: -l}, {X: w, Y: -l}, {X: w, Y: l}, {X: -w, Y: l}}
	}
	out := make([]frame.XY, len(local))
	for i, p := range local {
		out[i] = d.turn(p)
	}
	return out
}

// turn takes a place in the block (across, along the rows) to the estate.
func (d design) turn(p frame.XY) frame.XY {
	s, c := math.Sincos(d.azimuth * math.Pi / 180)
	p.X += d.bowed(p.Y)
	return frame.XY{X: d.east + p.X*c + p.Y*s, Y: d.north - p.X*s + p.Y*c}
}

// bowed is how far a curved row has moved sideways at a place along it.
func (d design) bowed(along float64) float64 {
	t := 2 * along / d.length
	return d.bend * (1 - t*t)
}

// rowAt draws the row u metres across from the block's middle, clipped to the
// planted ground and cut where a road runs; nil where nothing is left.
func (d design) rowAt(u float64, estate frame.Frame, planted frame.MultiPolygon) orb.MultiLineString {
	const pieces = 12
	spans := [][2]float64{{-d.length / 2, d.length / 2}}
	if d.road {
		spans = [][2]float64{{-d.length / 2, -roadHalf}, {roadHalf, d.length / 2}}
	}
	var out orb.MultiLineString
	for _, span := range spans {
		line := frame.Line{}
		for k := range pieces + 1 {
			along := span[0] + (span[1]-span[0])*float64(k)/pieces
			line = append(line, d.turn(frame.XY{X: u, Y: along}))
		}
		if d.bend == 0 {
			line = frame.Line{line[0], line[pieces]}
		}
		for _, part := range line.Clip(planted) {
			out = append(out, estate.LineString(part))
		}
	}
	return out
}

// orbRing closes a ring and takes it to degrees; counter-clockwise as RFC 7946
// wants an outer ring.
func orbRing(f frame.Frame, ring []frame.XY) orb.Ring {
	out := make(orb.Ring, 0, len(ring)+1)
	for _, p := range ring {
		out = append(out, f.LonLat(p))
	}
	return append(out, out[0])
}
