package layout

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Known is a row that is on the map, with its positions if they are known, in
// order of number.
type Known struct {
	Row    Row
	Places []Place
}

// Fix is a surveyed point.
type Fix struct {
	Point  orb.Point // degrees, WGS 84
	ErrorM float64   // horizontal error claimed by the receiver, m; 0: not said
	// Row is one more than the index of the row that the surveyor says it
	// stands in; 0: to be found.
	Row int
}

// Reach says how far points may lie from what they are taken for.
type Reach struct {
	RowM  float64 // row spacing, m
	VineM float64 // planting distance, m
	// ToleranceM is how far aside of a row a point may lie, m; 0 means 0.4 of
	// the row spacing. It must stay below half the row spacing.
	ToleranceM float64
}

// Quality is what a point is good for, from best to worst.
type Quality int

const (
	Clear   Quality = iota // one place, no doubt
	Notice                 // one place, but not close to it: taken, and said
	Review                 // two places are about as likely: a person decides
	Poor                   // the receiver was too unsure for this planting
	Outside                // no place there: past a row's end, on a road, or away from all rows
)

// String gives the word for people.
func (q Quality) String() string {
	switch q {
	case Clear:
		return "clear"
	case Notice:
		return "notice"
	case Review:
		return "review"
	case Poor:
		return "poor"
	}
	return "outside"
}

// Verdict is what was found out about a point. Everything is reported, whatever
// the quality; only Clear and Notice may be used unseen.
type Verdict struct {
	Quality Quality
	Reason  string // in words, "" when clear

	Row         int     // index of the row taken: the stated one, else the nearest; -1 without rows
	Part        int     // part of the row
	ChainageM   float64 // planted ground from the numbering end, m
	OffsetM     float64 // aside of the row or its prolongation, m; positive to the right as seen from the numbering end
	BeyondM     float64 // past an end of the row, or of a part onto the road, m
	NextRow     int     // index of the nearest other row, -1 none
	NextOffsetM float64 // distance to it, m

	Number     int     // of the nearest place in the row, 0 where places are not known or none is there
	AlongM     float64 // from that place along the row, m; negative towards the numbering end
	NextNumber int     // of the next nearest place, 0 none
	NextAlongM float64

	// Same is the index of an earlier point that was taken for the same place,
	// -1 none: one vine, two readings.
	Same int
}

// Shares that divide the qualities; chosen by us. A point whose way to the
// border between two candidates is shorter than half its error has less than
// about 69 in 100 to be on the right side of it.
const (
	rowReach     = 0.4  // of the row spacing: default tolerance
	leastMargin  = 0.1  // of a spacing: nearer than this to the border between two is undecided
	errorMargin  = 0.5  // of the claimed error, likewise
	closeShare   = 0.25 // of the smaller spacing: a point this near its place is clear
	surelyWithin = 2.0  // claimed errors between a clear point and the border
)

// Locate finds, for each point, the row and, where places are known, the place
// it stands for. Points go to the nearest row within the tolerance. Doubtful
// points are reported, never forced. Of most rows only the distance from their
// band is worked out, so that a million points take seconds.
func Locate(rows []Known, fixes []Fix, reach Reach) ([]Verdict, error) {
	for _, s := range []float64{reach.RowM, reach.VineM} {
		if !(s > 0) || math.IsInf(s, 1) {
			return nil, fmt.Errorf("row spacing %v, vine spacing %v: %w", reach.RowM, reach.VineM, ErrSpacing)
		}
	}
	if reach.ToleranceM == 0 {
		reach.ToleranceM = rowReach * reach.RowM
	}
	if !(reach.ToleranceM > 0 && reach.ToleranceM < reach.RowM/2) {
		return nil, fmt.Errorf("tolerance %v m at a row spacing of %v m: %w", reach.ToleranceM, reach.RowM, ErrTolerance)
	}
	out := make([]Verdict, len(fixes))
	taken := map[[2]int]int{} // row and number → first point
	find := newSearch(rows)
	for i, fix := range fixes {
		v := find.locate(fix, reach)
		v.Same = -1
		if v.Quality <= Notice && v.Number > 0 {
			key := [2]int{v.Row, v.Number}
			if first, ok := taken[key]; ok {
				v.Same = first
			} else {
				taken[key] = i
			}
		}
		out[i] = v
	}
	return out, nil
}

func (s *search) locate(fix Fix, reach Reach) Verdict {
	v := Verdict{Row: -1, NextRow: -1}
	if err := frame.CheckLonLat(fix.Point); err != nil {
		v.Quality, v.Reason = Outside, err.Error()
		return v
	}
	if fix.Row < 0 || fix.Row > len(s.rows) {
		v.Quality, v.Reason = Outside, fmt.Sprintf("there is no row %d", fix.Row-1)
		return v
	}
	n := s.nearest(fix)
	if n.row < 0 {
		v.Quality, v.Reason = Outside, "there are no rows"
		return v
	}
	v.Row, v.NextRow, v.Part, v.ChainageM, v.BeyondM = n.row, n.next, n.hit.Part, n.hit.ChainageM, n.hit.Beyond
	v.OffsetM = math.Copysign(math.Sqrt(max(0, n.hit.Dist*n.hit.Dist-n.hit.Beyond*n.hit.Beyond)), n.hit.Offset)
	if n.next >= 0 {
		v.NextOffsetM = n.nextDist
	}
	v.nearestPlaces(s.rows[v.Row].Places)
	v.judge(fix, reach, n.hit)
	return v
}

// nearestPlaces sets the place taken and the next one, within the part.
func (v *Verdict) nearestPlaces(places []Place) {
	best, next := math.Inf(1), math.Inf(1)
	for _, p := range places {
		if p.Part != v.Part {
			continue
		}
		along := v.ChainageM - p.ChainageM
		switch d := math.Abs(along); {
		case d < best:
			next, v.NextNumber, v.NextAlongM = best, v.Number, v.AlongM
			best, v.Number, v.AlongM = d, p.Number, along
		case d < next:
			next, v.NextNumber, v.NextAlongM = d, p.Number, along
		}
	}
}

// judge sets the quality and the reason.
func (v *Verdict) judge(fix Fix, reach Reach, hit Hit) {
	aside := math.Abs(v.OffsetM)
	rowBorder, placeBorder := math.Inf(1), math.Inf(1) // way to where another is as near
	if v.NextRow >= 0 {
		rowBorder = (v.NextOffsetM - hit.Dist) / 2
	}
	if v.NextNumber > 0 {
		placeBorder = (math.Abs(v.NextAlongM) - math.Abs(v.AlongM)) / 2
	}
	worst := min(reach.RowM/2, reach.VineM)
	say := func(q Quality, format string, args ...any) { v.Quality, v.Reason = q, fmt.Sprintf(format, args...) }
	switch {
	case !(fix.ErrorM >= 0) || fix.ErrorM > worst:
		say(Poor, "claimed error %.2f m; more than %.2f m is too much for this planting", fix.ErrorM, worst)
	case fix.Row == 0 && aside > reach.RowM/2*(1+leastMargin):
		say(Outside, "%.2f m from the nearest row", aside)
	case v.BeyondM > reach.VineM/2 && hit.InBreak:
		say(Outside, "%.2f m off the planted ground, on the road that cuts the row", v.BeyondM)
	case v.BeyondM > reach.VineM/2:
		say(Outside, "%.2f m past the end of the row", v.BeyondM)
	case v.Number > 0 && math.Abs(v.AlongM) > v.stepM(reach)/2*(1+leastMargin):
		say(Outside, "%.2f m along the row from vine %d, the nearest place", math.Abs(v.AlongM), v.Number)
	case fix.Row > 0 && aside > reach.ToleranceM:
		say(Review, "said to stand in this row but lies %.2f m from it", aside)
	case fix.Row == 0 && v.NextRow >= 0 && rowBorder < max(leastMargin*reach.RowM, errorMargin*fix.ErrorM):
		say(Review, "between two rows: %.2f m from the one, %.2f m from the other", aside, v.NextOffsetM)
	case aside > reach.ToleranceM:
		say(Review, "%.2f m aside of the row; more than %.2f m is doubtful", aside, reach.ToleranceM)
	case placeBorder < max(leastMargin*reach.VineM, errorMargin*fix.ErrorM):
		say(Review, "between two places: %.2f m from vine %d, %.2f m from vine %d",
			math.Abs(v.AlongM), v.Number, math.Abs(v.NextAlongM), v.NextNumber)
	case math.Hypot(aside, math.Abs(v.AlongM)+v.BeyondM) > closeShare*min(reach.RowM, reach.VineM):
		say(Notice, "%.2f m aside of the row, %.2f m along it from its place", aside, math.Abs(v.AlongM))
	case min(rowBorder, placeBorder) < surelyWithin*fix.ErrorM:
		say(Notice, "claimed error %.2f m", fix.ErrorM)
	}
}

// stepM is the distance between the two nearest places, m; never less than the
// planting distance.
func (v *Verdict) stepM(reach Reach) float64 {
	if v.NextNumber == 0 {
		return reach.VineM
	}
	return max(reach.VineM, math.Abs(v.NextAlongM-v.AlongM))
}
