package layout

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Row is a row as a line on the ground, in its block's frame: parts in order
// from the numbering end, each drawn away from it, without repeated positions.
// Make one with NewRow.
type Row struct {
	Frame frame.Frame
	Parts []frame.Line
	// Joined tells how many parts of the source touched and were made one.
	Joined int
	// Repeated tells how many repeated positions were left out.
	Repeated int
}

// NewRow reads a row line in degrees and turns it so that it begins at the end
// named. Parts of a MultiLineString may come in any order and direction: they
// are walked from one end of the row to the other, always to the nearest end
// next. A part without length is left out if another has some.
//
// Refused are lines with fewer than two positions, without length, with
// coordinates out of range, more than 20 km from the frame's origin, with parts
// that lie on each other, and rows about at right angles to the end named.
func NewRow(f frame.Frame, line orb.Geometry, from End) (Row, error) {
	var lines orb.MultiLineString
	switch g := line.(type) {
	case orb.LineString:
		lines = orb.MultiLineString{g}
	case orb.MultiLineString:
		lines = g
	default:
		return Row{}, fmt.Errorf("%s: %w", kind(line), ErrNotLine)
	}
	if len(lines) > mostParts {
		return Row{}, fmt.Errorf("row of %d parts: %w: at most %d", len(lines), ErrTooMany, mostParts)
	}
	r := Row{Frame: f}
	positions := 0
	for _, ls := range lines {
		l, err := ground(f, ls)
		if err != nil {
			return Row{}, err
		}
		positions += len(ls)
		if len(ls) > 0 {
			r.Repeated += len(ls) - len(l)
		}
		if len(l) > 1 {
			r.Parts = append(r.Parts, l)
		}
	}
	if len(r.Parts) == 0 {
		if positions < 2 {
			return Row{}, fmt.Errorf("%d positions: %w", positions, ErrOnePosition)
		}
		return Row{}, fmt.Errorf("%d positions at one place: %w", positions, ErrZeroLength)
	}
	if err := r.arrange(); err != nil {
		return Row{}, err
	}
	return r.From(from)
}

// kind names a geometry for people.
func kind(g orb.Geometry) string {
	if g == nil {
		return "no geometry"
	}
	return g.GeoJSONType()
}

// ground brings a line into the frame without repeated positions.
func ground(f frame.Frame, ls orb.LineString) (frame.Line, error) {
	out := make(frame.Line, 0, len(ls))
	for i, p := range ls {
		if err := frame.CheckLonLat(p); err != nil {
			return nil, fmt.Errorf("position %d: %w", i, err)
		}
		xy := f.XY(p)
		if !(math.Abs(xy.X) <= farM && math.Abs(xy.Y) <= farM) {
			o := f.Origin()
			return nil, fmt.Errorf("position %d at %.6f %.6f is more than %d km from %.6f %.6f: %w",
				i, p[0], p[1], farM/1000, o[0], o[1], ErrFar)
		}
		if n := len(out); n > 0 && frame.Dist(out[n-1], xy) <= samePlaceM {
			continue
		}
		out = append(out, xy)
	}
	return out, nil
}

// From turns the row so that it begins at the end named. A row about at right
// angles to the end is ErrEndUnclear.
func (r Row) From(e End) (Row, error) {
	if e == AsDrawn {
		return r, nil
	}
	first, last := r.Ends()
	second, clear := e.prefers(r.Frame, first, last)
	if !clear {
		return Row{}, fmt.Errorf("numbering end %s of a row that bears %.0f°: %w",
			e, frame.Azimuth(first, last), ErrEndUnclear)
	}
	if second {
		return r.Reversed(), nil
	}
	return r, nil
}

// Ends gives the numbering end and the far end.
func (r Row) Ends() (first, last frame.XY) {
	l := r.Parts[len(r.Parts)-1]
	return r.Parts[0][0], l[len(l)-1]
}

// Reversed is the row with its numbering end at the other end.
func (r Row) Reversed() Row {
	parts := make([]frame.Line, len(r.Parts))
	for i, p := range r.Parts {
		parts[len(parts)-1-i] = p.Reversed()
	}
	r.Parts = parts
	return r
}

// LengthM is the length of the planted parts on the ground, roads left out, m.
func (r Row) LengthM() float64 {
	var sum float64
	for _, p := range r.Parts {
		sum += p.Length()
	}
	return sum
}

// AzimuthDeg is the true bearing from the numbering end to the far end, in
// degrees clockwise from north, by the geodesic.
func (r Row) AzimuthDeg() float64 {
	a, b := r.Ends()
	g := frame.WGS84.Inverse(r.Frame.LonLat(a), r.Frame.LonLat(b))
	return math.Mod(g.Azimuth1+360, 360)
}

// Lines gives the parts in degrees, in order from the numbering end.
func (r Row) Lines() orb.MultiLineString {
	out := make(orb.MultiLineString, len(r.Parts))
	for i, p := range r.Parts {
		out[i] = r.Frame.LineString(p)
	}
	return out
}

// Hit is the place of a row nearest to a point.
type Hit struct {
	frame.Hit         // Chainage counts from the start of the part
	Part      int     // part of the row
	ChainageM float64 // planted ground from the numbering end, m
	InBreak   bool    // the point lies beyond an end of a part that faces a road
}

// Nearest gives the place of the row nearest to a place in the frame.
func (r Row) Nearest(p frame.XY) Hit {
	best := Hit{Hit: frame.Hit{Dist: math.Inf(1)}}
	var done float64
	for i, l := range r.Parts {
		length := l.Length()
		if hit := l.Nearest(p); hit.Dist < best.Dist {
			best = Hit{Hit: hit, Part: i, ChainageM: done + hit.Chainage}
			best.InBreak = hit.Beyond > 0 &&
				(hit.Chainage <= 0 && i > 0 || hit.Chainage > 0 && i < len(r.Parts)-1)
		}
		done += length
	}
	return best
}
