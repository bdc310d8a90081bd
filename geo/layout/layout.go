// Package layout lays a block out on the ground: from row lines and a planting
// distance, or from surveyed points, to numbered vine positions.
//
// Every length is metres on the ground, measured through the block's frame,
// along the row where it bends. Vines are numbered from 1 at the row's
// numbering end; a position keeps its number whether a vine lives there or not
// (common practice). The chainage of a vine is the planted ground between the
// numbering end and the vine: where a road cuts a row in parts, numbers run on
// across the road and the road's width is not counted, so that the last vine
// before it and the first behind it can have the same chainage and differ in
// the part they stand in.
//
// What cannot be laid out is refused with an error that says what was found and
// what is wanted; what is doubtful is reported and never forced.
package layout

import (
	"errors"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Why a row cannot be laid out. Errors of this package wrap one of these, or
// frame.ErrLonLat.
var (
	ErrNotLine     = errors.New("a row must be a LineString or a MultiLineString")
	ErrOnePosition = errors.New("a row needs at least two positions")
	ErrZeroLength  = errors.New("the row has no length")
	ErrFar         = errors.New("the row lies far from its block")
	ErrOverlap     = errors.New("parts of the row lie on each other")
	ErrTooMany     = errors.New("too many")
	ErrSpacing     = errors.New("the vine spacing must be a positive number of metres")
	ErrOffset      = errors.New("an offset must be a number of metres from 0")
	ErrOrder       = errors.New("plants must come in rising distance from the numbering end")
	ErrTolerance   = errors.New("the tolerance must be more than 0 and less than half the row spacing")
	ErrShort       = errors.New("the row is shorter than the vine spacing")
	ErrEnd         = errors.New("not a compass word: N, NE, E, SE, S, SW, W, NW or first")
	ErrEndUnclear  = errors.New("cannot tell which end of the row is meant")
	ErrSideUnclear = errors.New("cannot tell which side of the block is meant")
)

const (
	// MostPlaces is the most vines a row may have; chosen by us: at 0.5 m it is
	// a row of 10 km.
	MostPlaces = 20000
	// mostParts is the most parts a row may be cut in; chosen by us.
	mostParts = 200
	// farM is how far from its frame's origin a row may reach: there the plane
	// is 5 mm too long in 1 km.
	farM = 20000
	// joinM is the gap up to which two parts of a row are one: drawing slack.
	joinM = 0.01
	// samePlaceM is how close repeated positions of a line lie.
	samePlaceM = 1e-6
)

// Place is a vine position laid out.
type Place struct {
	Number     int       // from 1 at the numbering end
	Part       int       // part of a cut row, from 0
	ChainageM  float64   // planted ground from the numbering end, m
	Point      orb.Point // degrees
	At         frame.XY  // metres in the block's frame
	AzimuthDeg float64   // bearing of the row here, away from the numbering end, in the frame
}

// Laid is a row laid out.
type Laid struct {
	Row    Row
	Places []Place
	// LeftOverM is the ground between the last place of each part and the end
	// of the part or its offset, m. Slack spread over the steps counts as 0.
	LeftOverM []float64
	// SlackM is how much too short the parts were for their last place and
	// were treated as long enough, m: rounding of coordinates, spread over the
	// steps, less than a millimetre each.
	SlackM float64
}

// Spacing says how a row is planted.
type Spacing struct {
	VineM  float64 // planting distance along the row, m
	StartM float64 // from the numbering end of the row to vine 1, m
	EndM   float64 // ground left free before the far end, m
	BreakM float64 // ground left free on either side of a road that cuts the row, m
}

// Places lays a row out: the common case of NewRow and Row.Places in one call.
// The geometry is an orb.LineString or an orb.MultiLineString in degrees.
func Places(f frame.Frame, line orb.Geometry, from End, s Spacing) (Laid, error) {
	r, err := NewRow(f, line, from)
	if err != nil {
		return Laid{}, err
	}
	return r.Places(s)
}
