package layout

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// End names an end of a row or a side of a block: by a compass word, by a place
// near it, or, as the zero End, by the way the line is drawn.
type End struct {
	word  string // "N" … "NW"; "" for none
	place *orb.Point
}

// AsDrawn is the end at which the line's first position lies. For a row in
// parts it is the end from which one walks the first part the way it is drawn.
var AsDrawn = End{}

// Toward gives the end nearest to a place in degrees, such as a pump or a gate.
func Toward(place orb.Point) End { return End{place: &place} }

// compass holds the words and their bearings in degrees.
var compass = [...]struct {
	word, long string
	azimuth    float64
}{
	{"N", "NORTH", 0}, {"NE", "NORTHEAST", 45}, {"E", "EAST", 90}, {"SE", "SOUTHEAST", 135},
	{"S", "SOUTH", 180}, {"SW", "SOUTHWEST", 225}, {"W", "WEST", 270}, {"NW", "NORTHWEST", 315},
}

// ParseEnd reads a compass word, short or long, in any letter case, with or
// without a hyphen; "" and "first" mean AsDrawn. Anything else is ErrEnd.
func ParseEnd(s string) (End, error) {
	w := strings.ToUpper(strings.NewReplacer("-", "", " ", "").Replace(s))
	if w == "" || w == "FIRST" {
		return AsDrawn, nil
	}
	for _, c := range compass {
		if w == c.word || w == c.long {
			return End{word: c.word}, nil
		}
	}
	return End{}, fmt.Errorf("numbering end %q: %w", s, ErrEnd)
}

// String gives the compass word, "first", or the place.
func (e End) String() string {
	switch {
	case e.place != nil:
		return fmt.Sprintf("near %.6f %.6f", e.place[0], e.place[1])
	case e.word == "":
		return "first"
	}
	return e.word
}

// toward gives the unit vector that the compass word points along; not for
// other ends.
func (e End) toward() (v frame.XY, ok bool) {
	for _, c := range compass {
		if e.place == nil && c.word == e.word {
			s, co := math.Sincos(c.azimuth * math.Pi / 180)
			return frame.XY{X: s, Y: co}, true
		}
	}
	return frame.XY{}, false
}

// clearShare is how much further towards the end one candidate must lie than
// the other, as a share of the distance between them, before the word counts as
// clear: 0.174 is the sine of 10°. Chosen by us: a row that runs within 10° of
// east-west has no north end worth the name.
const clearShare = 0.174

// prefers tells whether b rather than a lies towards the end. It is not clear
// where both lie about equally far that way, and for AsDrawn, which knows no
// direction.
func (e End) prefers(f frame.Frame, a, b frame.XY) (second, clear bool) {
	var ahead float64 // how much further b lies towards the end, m
	if e.place != nil {
		if frame.CheckLonLat(*e.place) != nil {
			return false, false
		}
		p := f.XY(*e.place)
		ahead = frame.Dist(a, p) - frame.Dist(b, p)
	} else {
		v, ok := e.toward()
		if !ok {
			return false, false
		}
		ahead = (b.X-a.X)*v.X + (b.Y-a.Y)*v.Y
	}
	return ahead > 0, math.Abs(ahead) >= clearShare*frame.Dist(a, b)
}
