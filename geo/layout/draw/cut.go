package draw

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/frame"
	"courson/geo/layout"
)

// ErrCut marks a line that cannot part a block: what is wrong with it.
var ErrCut = errors.New("the line cannot part the block")

// Cut parts ground along a line that goes straight on beyond its ends.
type Cut struct {
	line        frame.Line // led on at both ends
	left, right frame.Ring // all ground that matters on either side
}

// How a cut is made; chosen by us. The rim is a ring so far out that ground never
// reaches it, of so many sides.
const (
	rimSides   = 360
	leastCutM  = 0.01 // pieces of a row shorter than that are none
	leastRimM  = 1000.0
	rimPerSpan = 4 // times the extent of ground and line
)

// NewCut makes a cut along a line of two places or more, seen from its first to its
// last. ground is what it is to part. Errors wrap ErrCut: a line without length, one
// that crosses itself (led on at its ends too), one that does not cross the ground.
func NewCut(line frame.Line, ground frame.MultiPolygon) (Cut, error) {
	l := frame.Line(slices.Compact(slices.Clone(line)))
	if len(l) < 2 {
		return Cut{}, fmt.Errorf("%w: set two points or more, on either side of the block", ErrCut)
	}
	mid, reach := around(l, ground)
	first, last := outTo(l[1], l[0], mid, reach), outTo(l[len(l)-2], l[len(l)-1], mid, reach)
	c := Cut{line: slices.Concat(frame.Line{first}, l[1:len(l)-1], frame.Line{last})}
	if crossesItself(c.line) {
		return Cut{}, fmt.Errorf("%w: it crosses itself, or would where it goes on beyond its ends", ErrCut)
	}
	c.left = slices.Concat(frame.Ring(c.line), rim(mid, reach, last, first, 1))
	c.right = slices.Concat(frame.Ring(c.line), rim(mid, reach, last, first, -1))
	if len(c.Within(ground)) == 0 {
		return Cut{}, fmt.Errorf("%w: it does not cross it", ErrCut)
	}
	return c, nil
}

// around gives the middle of a line and ground, and the distance from there at which
// the rim lies.
func around(l frame.Line, ground frame.MultiPolygon) (mid frame.XY, reach float64) {
	lo, hi := l[0], l[0]
	take := func(p frame.XY) {
		lo, hi = frame.XY{X: min(lo.X, p.X), Y: min(lo.Y, p.Y)}, frame.XY{X: max(hi.X, p.X), Y: max(hi.Y, p.Y)}
	}
	for _, p := range l {
		take(p)
	}
	for _, pg := range ground {
		for _, p := range pg[0] {
			take(p)
		}
	}
	mid = frame.XY{X: (lo.X + hi.X) / 2, Y: (lo.Y + hi.Y) / 2}
	return mid, max(leastRimM, rimPerSpan*frame.Dist(lo, hi))
}

// outTo leads the way from a over b on to the rim.
func outTo(a, b, mid frame.XY, reach float64) frame.XY {
	n := frame.Dist(a, b)
	v := frame.XY{X: (b.X - a.X) / n, Y: (b.Y - a.Y) / n}
	x, y := b.X-mid.X, b.Y-mid.Y
	half := x*v.X + y*v.Y
	t := -half + math.Sqrt(half*half-(x*x+y*y)+reach*reach)
	return frame.XY{X: b.X + t*v.X, Y: b.Y + t*v.Y}
}

// rim gives places along the rim between two of it, anticlockwise (1) or clockwise
// (-1), without these.
func rim(mid frame.XY, reach float64, from, to frame.XY, turn float64) (out frame.Ring) {
	a, b := math.Atan2(from.Y-mid.Y, from.X-mid.X), math.Atan2(to.Y-mid.Y, to.X-mid.X)
	way := math.Mod(turn*(b-a)+4*math.Pi, 2*math.Pi)
	const step = 2 * math.Pi / rimSides
	for w := step; w < way; w += step {
		sin, cos := math.Sincos(a + turn*w)
		out = append(out, frame.XY{X: mid.X + reach*cos, Y: mid.Y + reach*sin})
	}
	return out
}

// leastTurnBack is how near to straight back a line may turn, sine of the angle;
// chosen by us.
const leastTurnBack = 1e-6

func crossesItself(l frame.Line) bool {
	for i := 1; i < len(l); i++ {
		if i+1 < len(l) {
			a, b, c := l[i-1], l[i], l[i+1]
			ahead := (b.X-a.X)*(c.X-b.X) + (b.Y-a.Y)*(c.Y-b.Y)
			if ahead < 0 && math.Abs(aside(a, b, c)) < leastTurnBack*frame.Dist(a, b)*frame.Dist(b, c) {
				return true // it lies on itself
			}
		}
		for j := i + 2; j < len(l); j++ {
			if apart := aside(l[i-1], l[i], l[j-1])*aside(l[i-1], l[i], l[j]) > 0 || aside(l[j-1], l[j], l[i-1])*aside(l[j-1], l[j], l[i]) > 0; !apart {
				return true
			}
		}
	}
	return false
}

// aside is positive where p lies to the left of the way from a to b.
func aside(a, b, p frame.XY) float64 { return (b.X-a.X)*(p.Y-a.Y) - (b.Y-a.Y)*(p.X-a.X) }

// Left tells whether a place lies to the left of the line. One exactly on it may count
// either way.
func (c Cut) Left(p frame.XY) bool { return c.left.Contains(p) }

// Lines gives the pieces of a row on either side, in order along the row.
func (c Cut) Lines(parts []frame.Line) (left, right []frame.Line) {
	for _, l := range parts {
		left = append(left, long(l.Clip(frame.MultiPolygon{{c.left}}))...)
		right = append(right, long(l.Clip(frame.MultiPolygon{{c.right}}))...)
	}
	return left, right
}

func long(lines []frame.Line) []frame.Line {
	return slices.DeleteFunc(lines, func(l frame.Line) bool { return l.Length() < leastCutM })
}

// Within gives the pieces of the line within ground, for drawing.
func (c Cut) Within(ground frame.MultiPolygon) []frame.Line { return long(c.line.Clip(ground)) }

// Side tells whether a side of the cut, named by a compass word, is its left one, as it
// runs through ground: from where it enters to where it leaves. Errors wrap
// layout.ErrEnd and layout.ErrSideUnclear: no such word, or one along the line.
func (c Cut) Side(f frame.Frame, word string, ground frame.MultiPolygon) (left bool, err error) {
	end, err := layout.ParseEnd(word)
	if err != nil {
		return false, err
	}
	pieces := c.Within(ground)
	if len(pieces) == 0 {
		return false, fmt.Errorf("%w: it does not cross the ground", ErrCut)
	}
	a, b := pieces[0][0], pieces[len(pieces)-1][len(pieces[len(pieces)-1])-1]
	n := frame.Dist(a, b)
	if n == 0 {
		return false, fmt.Errorf("it leaves the ground where it enters it: %w", layout.ErrSideUnclear)
	}
	ahead := frame.XY{X: (b.X - a.X) / n, Y: (b.Y - a.Y) / n}
	right, err := end.Beside(f, frame.Between(a, b, 0.5), ahead, frame.XY{X: ahead.Y, Y: -ahead.X})
	return !right, err
}
