package replant

import (
	"fmt"
	"math"
	"slices"
)

// Offset is how far a surveyed point lies from a place: m along the row, away
// from the numbering end, and to the right of that direction.
type Offset struct{ AlongM, AsideM float64 }

// Border is what happens at one side of the rows: places along it, points that
// lie about one spacing beyond it, and its places that got no point.
type Border struct{ Places, Beyond, Empty int }

// passed tells whether at least half of the points that are to be expected along
// the border lie beyond it; share is that of places with a point.
func (b Border) passed(share float64) bool {
	return b.tells(share) && 2*float64(b.Beyond) >= b.expected(share)
}

// bare tells whether at most half of them lie on the border's places.
func (b Border) bare(share float64) bool {
	return b.tells(share) && 2*float64(b.Places-b.Empty) <= b.expected(share)
}

func (b Border) expected(share float64) float64 { return share * float64(b.Places) }

// tells: where only some places have a point, few of them at a border are chance.
func (b Border) tells(share float64) bool {
	return b.Places > 0 && (share == 1 || b.expected(share) >= fewestExpected)
}

// ShiftInput is what the points of one file tell, in rows of one direction.
type ShiftInput struct {
	RowM, VineM float64 // spacings, m
	AzimuthDeg  float64 // direction of the rows from the numbering end, clockwise from north
	// Stated are points whose row and number the file names, from that place.
	Stated []Offset
	// Nearest are points that were taken for the nearest place, from it. They show
	// only what is left of a shift beyond whole spacings; the borders show those.
	Nearest                []Offset
	Left, Right, Near, Far Border
	// Share of the places that have a point, as of detections of gaps; 0 means 1: a
	// survey of all trunks.
	Share float64
}

// Shift is how all points of a file seem to be moved. It is an offer: nothing
// here applies it.
type Shift struct {
	Found  bool    `json:"found"`
	AlongM float64 `json:"along_m"` // to be taken from every point to bring it home
	AsideM float64 `json:"aside_m"`
	EastM  float64 `json:"east_m"` // the same, east and north
	NorthM float64 `json:"north_m"`
	Rows   int     `json:"rows"`  // whole row spacings in it, to the right
	Vines  int     `json:"vines"` // whole vine spacings in it, away from the numbering end
	Points int     `json:"points"`
	// Together is the share of points that lie within half a spacing of the common
	// shift, both ways; the spreads are the scatter around it (1.4826 × the median
	// absolute deviation, as for a normal error).
	Together     float64 `json:"together"`
	SpreadAlongM float64 `json:"spread_along_m"`
	SpreadAsideM float64 `json:"spread_aside_m"`
	Text         string  `json:"text"`
}

// Chosen by us: fewer points say nothing of a file; "about one" spacing begins at
// half; points that scatter by more than half a spacing have no common shift; and
// a shift must exceed what chance moves their median by, so many standard errors
// (1.2533 × spread / √n for a normal error).
const (
	fewestPoints = 8
	shiftFrom    = 0.5
	widestSpread = 0.5
	surelyMoved  = 4
	// Of detections that show some places only, so many must be expected along a border.
	fewestExpected = 4
)

// CheckShift looks for a shift of a whole file by about one row or vine spacing
// or more, as a wrong datum makes (1.5 to 1.8 m between WGS 84 and some national
// datums). Stated places give it directly: the median offset, where the points
// scatter by less than half a spacing around it. Without them whole spacings are invisible in the offsets, so they
// are read from the borders: points beyond one side and empty places along the
// opposite one, as many as the share of places with a point lets expect. The error
// wraps ErrInput.
func CheckShift(in ShiftInput) (Shift, error) {
	for _, v := range []float64{in.RowM, in.VineM} {
		if !(v > 0) || math.IsInf(v, 0) {
			return Shift{}, wrong(ErrInput, "spacing", v, "metres above 0")
		}
	}
	if in.Share == 0 {
		in.Share = 1
	}
	if !(in.Share > 0 && in.Share <= 1) {
		return Shift{}, wrong(ErrInput, "share of places with a point", in.Share, "above 0, at most 1")
	}
	points := in.Nearest
	stated := len(in.Stated) >= fewestPoints
	if stated {
		points = in.Stated
	}
	if len(points) < fewestPoints {
		return Shift{Points: len(points), Text: fmt.Sprintf("%s: too few to tell of a shift (%d are needed).", count(len(points), "point"), fewestPoints)}, nil
	}
	s, err := common(points, in)
	if err != nil {
		return Shift{}, err
	}
	if !stated {
		s.AsideM += float64(side(in.Left, in.Right, in.Share)) * in.RowM
		s.AlongM += float64(side(in.Near, in.Far, in.Share)) * in.VineM
	}
	s.Rows, s.Vines = int(math.Round(s.AsideM/in.RowM)), int(math.Round(s.AlongM/in.VineM))
	sin, cos := math.Sincos(in.AzimuthDeg * math.Pi / 180)
	s.EastM, s.NorthM = s.AlongM*sin+s.AsideM*cos, s.AlongM*cos-s.AsideM*sin
	one := s.SpreadAsideM <= widestSpread*in.RowM && s.SpreadAlongM <= widestSpread*in.VineM
	s.Found = one && (s.moved(s.AsideM, s.SpreadAsideM, in.RowM) || s.moved(s.AlongM, s.SpreadAlongM, in.VineM))
	s.Text = s.words(stated, one)
	return s, nil
}

// moved tells whether an offset is about a spacing or more, and no chance.
func (s *Shift) moved(by, spread, spacing float64) bool {
	return math.Abs(by) >= max(shiftFrom*spacing, surelyMoved*1.2533*spread/math.Sqrt(float64(s.Points)))
}

// side gives +1 where points lie beyond the second border and the first is empty,
// -1 the other way round.
func side(first, second Border, share float64) int {
	switch {
	case second.passed(share) && first.bare(share):
		return 1
	case first.passed(share) && second.bare(share):
		return -1
	}
	return 0
}

// common gives the median offset and how well the points agree on it.
func common(points []Offset, in ShiftInput) (Shift, error) {
	along, aside := make([]float64, len(points)), make([]float64, len(points))
	for i, p := range points {
		if math.IsNaN(p.AlongM+p.AsideM) || math.IsInf(p.AlongM+p.AsideM, 0) {
			return Shift{}, wrong(ErrInput, fmt.Sprintf("offset %d", i), p, "metres")
		}
		along[i], aside[i] = p.AlongM, p.AsideM
	}
	s := Shift{Points: len(points), AlongM: median(along), AsideM: median(aside)}
	for i, p := range points {
		dl, da := math.Abs(p.AlongM-s.AlongM), math.Abs(p.AsideM-s.AsideM)
		along[i], aside[i] = dl, da
		if dl <= in.VineM/2 && da <= in.RowM/2 {
			s.Together++
		}
	}
	s.Together /= float64(len(points))
	s.SpreadAlongM, s.SpreadAsideM = 1.4826*median(along), 1.4826*median(aside)
	return s, nil
}

// median sorts its argument.
func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

func (s *Shift) words(stated, one bool) string {
	base := "whole spacings read from the borders of the rows"
	if stated {
		base = "from the places that the file names"
	}
	numbers := fmt.Sprintf("%.2f m aside (%+d rows) and %.2f m along the rows (%+d vines); %.0f %% of %d points lie within half a spacing of that, scatter %.2f m aside and %.2f m along; %s",
		s.AsideM, s.Rows, s.AlongM, s.Vines, 100*s.Together, s.Points, s.SpreadAsideM, s.SpreadAlongM, base)
	switch {
	case s.Found:
		return "The whole file seems to be shifted: " + numbers + ". Ask for its datum and for the end that rows and vines are numbered from. Nothing was moved: taking the shift off is offered."
	case !one:
		return "The points do not agree on one shift: " + numbers + "."
	}
	return "No shift of a spacing: " + numbers + "."
}
