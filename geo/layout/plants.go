package layout

import (
	"fmt"
	"sort"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Surveyed is a row whose plants were surveyed one by one.
type Surveyed struct {
	// Places are all positions in order of number: those with a plant, and
	// those that the gaps hold, put in evenly between their neighbours.
	Places []SurveyedPlace
	// Steps are the steps between plants, and to the ends of each part; From
	// and To are indices into the points handed in, -1 for an end.
	Steps []Step
	// Doubles are pairs of points so close that they are two readings of one
	// plant; the second is not given a place.
	Doubles [][2]int
}

// SurveyedPlace is a position found by a survey.
type SurveyedPlace struct {
	Place           // where a plant was surveyed: Point and At as surveyed, ChainageM along the row
	Index   int     // of the surveyed point; -1 for a position without a plant
	OffsetM float64 // how far the plant stands aside of the row line, m; positive to the right
}

// Missing counts positions without a plant.
func (s Surveyed) Missing() int {
	n := 0
	for _, p := range s.Places {
		if p.Index < 0 {
			n++
		}
	}
	return n
}

// doubleShare is the share of a planting distance within which two points are
// one plant read twice. Chosen by us.
const doubleShare = 0.25

// Plants orders surveyed points (degrees) of one row along it, counts the gaps
// between them and numbers all positions from the numbering end, so that a gap
// keeps its numbers. Which points belong to the row is for Locate to say.
// Steps that fit no whole number of planting distances are marked doubtful.
//
// Refused are no points at all, points not finite, and impossible spacings.
func (r Row) Plants(points []orb.Point, s Spacing) (Surveyed, error) {
	if err := s.check(); err != nil {
		return Surveyed{}, err
	}
	if len(points) == 0 {
		return Surveyed{}, fmt.Errorf("no surveyed points: %w", ErrOnePosition)
	}
	if n := r.LengthM() / s.VineM; n > MostPlaces || len(points) > MostPlaces {
		return Surveyed{}, fmt.Errorf("%.2f m at %v m, %d points: %w: at most %d in a row",
			r.LengthM(), s.VineM, len(points), ErrTooMany, MostPlaces)
	}
	byPart := make([][]plant, len(r.Parts))
	for i, p := range points {
		if err := frame.CheckLonLat(p); err != nil {
			return Surveyed{}, fmt.Errorf("point %d: %w", i, err)
		}
		at := r.Frame.XY(p)
		hit := r.Nearest(at)
		byPart[hit.Part] = append(byPart[hit.Part], plant{i, p, at, hit.Chainage, hit.Offset})
	}
	var out Surveyed
	var done float64
	for i, part := range r.Parts {
		length := part.Length()
		first, last := s.StartM, length-s.EndM
		if i > 0 {
			first = s.BreakM
		}
		if i < len(r.Parts)-1 {
			last = length - s.BreakM
		}
		w := plantWalk{out: &out, row: r, part: i, done: done, line: part, vineM: s.VineM}
		w.walk(out.onePerPlant(byPart[i], s.VineM), first, last)
		done += length
	}
	return out, nil
}

// plant is a surveyed point on its part of the row.
type plant struct {
	index    int
	point    orb.Point
	at       frame.XY
	chainage float64 // along the part
	offset   float64
}

// onePerPlant orders plants along the part and takes second readings out.
func (s *Surveyed) onePerPlant(ps []plant, vineM float64) []plant {
	sort.SliceStable(ps, func(i, j int) bool { return ps[i].chainage < ps[j].chainage })
	var out []plant
	for _, p := range ps {
		if n := len(out); n > 0 && p.chainage-out[n-1].chainage < doubleShare*vineM {
			s.Doubles = append(s.Doubles, [2]int{out[n-1].index, p.index})
			continue
		}
		out = append(out, p)
	}
	return out
}

// plantWalk goes along one part and writes down its positions.
type plantWalk struct {
	out   *Surveyed
	row   Row
	part  int
	done  float64 // planted ground of the parts before
	line  frame.Line
	vineM float64
}

func (w *plantWalk) walk(ps []plant, first, last float64) {
	if len(ps) == 0 { // nothing lives here: the positions that spacing gives
		if room := last - first; room >= -roundingM {
			steps, step, left, _ := fit(room, w.vineM)
			w.gap(steps+1, first-step, step)
			w.out.Steps = append(w.out.Steps, Step{From: -1, To: -1, LengthM: max(0, room), Missing: steps + 1, ResidualM: left})
		}
		return
	}
	at := ps[0].chainage
	st := endStep(-1, ps[0].index, at-first, w.vineM)
	w.out.Steps = append(w.out.Steps, st)
	if st.Missing > 0 {
		even := st.LengthM / float64(st.Missing)
		w.gap(st.Missing, first-even, even)
	}
	for i, p := range ps {
		if i > 0 {
			before := ps[i-1]
			st := StepOf(p.chainage-before.chainage, w.vineM)
			st.From, st.To = before.index, p.index
			w.out.Steps = append(w.out.Steps, st)
			w.gap(st.Missing, before.chainage, st.LengthM/float64(st.Missing+1))
		}
		_, azimuth := w.line.At(p.chainage)
		w.add(SurveyedPlace{Index: p.index, OffsetM: p.offset, Place: Place{
			ChainageM: w.done + p.chainage, Point: p.point, At: p.at, AzimuthDeg: azimuth}})
	}
	end := ps[len(ps)-1]
	st = lastStep(end.index, -1, last-end.chainage, w.vineM)
	w.out.Steps = append(w.out.Steps, st)
	w.gap(st.Missing, end.chainage, w.vineM)
}

// gap writes down n positions without a plant, a step apart, behind a distance
// along the part.
func (w *plantWalk) gap(n int, behind, step float64) {
	for k := 1; k <= n; k++ {
		d := behind + float64(k)*step
		at, azimuth := w.line.At(d)
		w.add(SurveyedPlace{Index: -1, Place: Place{
			ChainageM: w.done + max(0, d), Point: w.row.Frame.LonLat(at), At: at, AzimuthDeg: azimuth}})
	}
}

func (w *plantWalk) add(p SurveyedPlace) {
	p.Number, p.Part = len(w.out.Places)+1, w.part
	w.out.Places = append(w.out.Places, p)
}
