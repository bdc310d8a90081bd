package work

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/replant"
)

// ShiftAnswer says what is to be done where all points of a file seem moved by
// about a row or a vine.
type ShiftAnswer string

// The answers. Unsaid, such a file is refused and the shift told.
const (
	ShiftAsk     ShiftAnswer = ""
	ShiftTakeOff ShiftAnswer = "take-off"
	ShiftLeave   ShiftAnswer = "leave"
)

// ParseShiftAnswer reads one of the words; "ask" and "" mean ShiftAsk.
func ParseShiftAnswer(word string) (ShiftAnswer, error) {
	switch a := ShiftAnswer(word); a {
	case ShiftAsk, "ask":
		return ShiftAsk, nil
	case ShiftTakeOff, ShiftLeave:
		return a, nil
	}
	return ShiftAsk, fmt.Errorf("%q is not an answer (ask, take-off, leave)", word)
}

// checkShift looks for a shift of the points matched to a block. Where they are of
// detections, some places only have a point; named are those whose place the file
// names.
func (s *surveyBlock) checkShift(points []pointIn, kind Kind, named []detected) (err error) {
	in := replant.ShiftInput{RowM: s.reach.RowM, VineM: s.reach.VineM, AzimuthDeg: s.direction()}
	ends := s.borders()
	for k, i := range s.points {
		v := &s.found[k]
		if v.Row < 0 || v.Quality == layout.Poor {
			continue
		}
		if at := s.stated(&points[i]); at >= 0 {
			in.Stated = append(in.Stated, s.offset(points[i].at, at))
		}
		ends.take(s, v, &in)
	}
	for _, d := range named {
		if p := &points[d.point]; p.at != noPoint() {
			in.Stated = append(in.Stated, s.offset(p.at, d.place))
		}
	}
	ends.finish(&in)
	if kind == Detections {
		in.Share = ends.share()
	}
	if s.shift, err = replant.CheckShift(in); err != nil {
		return fmt.Errorf("block %s: %w", s.block.Code, err)
	}
	return nil
}

// stated gives the place that a point names, -1 for none.
func (s *surveyBlock) stated(p *pointIn) int {
	if p.statedRow < 0 || p.number == noNumber {
		return -1
	}
	return s.place(p.statedRow, int(p.number))
}

// offset gives how far a point lies from a place, in the direction of the block's
// rows.
func (s *surveyBlock) offset(p orb.Point, place int) replant.Offset {
	xy := s.frame.XY(p)
	sin, cos := math.Sincos(s.direction() * math.Pi / 180)
	dx, dy := xy.X-float64(s.g.X[place]), xy.Y-float64(s.g.Y[place])
	return replant.Offset{AlongM: dx*sin + dy*cos, AsideM: dx*cos - dy*sin}
}

// borders watches the first and last row and the ends of all rows.
type borders struct {
	left, right             int // rows
	taken                   map[[2]int]bool
	near, far               map[int]bool // rows with a point about one vine beyond that end
	leftBeyond, rightBeyond int
	s                       *surveyBlock
}

func (s *surveyBlock) borders() *borders {
	b := &borders{taken: map[[2]int]bool{}, near: map[int]bool{}, far: map[int]bool{}, s: s}
	for r := range s.rows {
		if s.aside(r) < s.aside(b.left) {
			b.left = r
		}
		if s.aside(r) > s.aside(b.right) {
			b.right = r
		}
	}
	return b
}

// about tells whether a distance is about one spacing.
func about(d, spacing float64) bool { return d > spacing/2 && d < 1.5*spacing }

// take notes a point: as the offset from its nearest place, or as beyond a border.
func (b *borders) take(s *surveyBlock, v *layout.Verdict, in *replant.ShiftInput) {
	sense, places := s.sense(v.Row), s.rows[v.Row].Places
	aside := sense * v.OffsetM
	at := v.ChainageM
	if v.BeyondM > 0 && at > places[0].ChainageM {
		at += v.BeyondM
	} else if v.BeyondM > 0 {
		at -= v.BeyondM
	}
	before, behind := places[0].ChainageM-at, at-places[len(places)-1].ChainageM
	if math.Abs(aside) <= in.RowM/2 {
		switch {
		case about(before, in.VineM):
			b.end(v.Row, sense > 0)
		case about(behind, in.VineM):
			b.end(v.Row, sense < 0)
		case v.Number > 0 && math.Abs(v.AlongM) <= in.VineM*0.55 && v.BeyondM <= in.VineM/2:
			b.taken[[2]int{v.Row, v.Number}] = true
			in.Nearest = append(in.Nearest, replant.Offset{AlongM: sense * v.AlongM, AsideM: aside})
		}
		return
	}
	switch {
	case v.Row == b.left && about(-aside, in.RowM):
		b.leftBeyond++
	case v.Row == b.right && about(aside, in.RowM):
		b.rightBeyond++
	}
}

func (b *borders) end(row int, near bool) {
	if near {
		b.near[row] = true
		return
	}
	b.far[row] = true
}

// share gives the share of the block's places that have a point, with those beyond
// the borders; above 0.
func (b *borders) share() float64 {
	n := len(b.taken) + len(b.near) + len(b.far) + b.leftBeyond + b.rightBeyond
	return min(1, float64(max(n, 1))/float64(b.s.g.Len()))
}

// finish counts places and empty places of the borders.
func (b *borders) finish(in *replant.ShiftInput) {
	count := func(row int, beyond int) replant.Border {
		out := replant.Border{Places: len(b.s.rows[row].Places), Beyond: beyond}
		for _, p := range b.s.rows[row].Places {
			if !b.taken[[2]int{row, p.Number}] {
				out.Empty++
			}
		}
		return out
	}
	if b.left != b.right {
		in.Left, in.Right = count(b.left, b.leftBeyond), count(b.right, b.rightBeyond)
	}
	in.Near, in.Far = replant.Border{Beyond: len(b.near)}, replant.Border{Beyond: len(b.far)}
	walked := map[int]bool{} // rows with a point at all
	for key := range b.taken {
		walked[key[0]] = true
	}
	for row := range walked {
		places := b.s.rows[row].Places
		first, last := places[0].Number, places[len(places)-1].Number
		if b.s.sense(row) < 0 {
			first, last = last, first
		}
		in.Near.Places++
		in.Far.Places++
		if !b.taken[[2]int{row, first}] {
			in.Near.Empty++
		}
		if !b.taken[[2]int{row, last}] {
			in.Far.Empty++
		}
	}
}

// settleShift tells the shift of the whole file and does what was answered. It
// reports whether the points were moved and must be matched anew.
func (m *merge) settleShift(blocks []*surveyBlock) (moved bool) {
	var found []*surveyBlock
	for _, s := range blocks {
		if s.shift.Found {
			found = append(found, s)
		}
	}
	if len(found) == 0 {
		if m.job.Shift == ShiftTakeOff {
			m.problem(where{file: 0, feature: format.None}, "shift", "no shift of about a row or a vine was found that could be taken off", "none", "the file without that answer")
		}
		return false
	}
	rep := m.report.Points
	offer := &ShiftOffer{Text: found[0].shift.Text}
	var east, north []float64
	for _, s := range found {
		offer.Blocks = append(offer.Blocks, s.block.Code)
		east, north = append(east, s.shift.EastM), append(north, s.shift.NorthM)
	}
	offer.EastM, offer.NorthM = medianOf(east), medianOf(north)
	rep.Shift = offer
	nowhere := where{file: 0, feature: format.None}
	for _, s := range found {
		if most := min(s.reach.RowM, s.reach.VineM) / 2; math.Hypot(s.shift.EastM-offer.EastM, s.shift.NorthM-offer.NorthM) > most && m.job.Shift != ShiftLeave {
			m.problem(nowhere, "shift", fmt.Sprintf("blocks %s seem shifted, but not alike", strings.Join(offer.Blocks, ", ")), s.shift.Text, "a file for each block, or the answer that the points are right as they are (shift: leave)")
			return false
		}
	}
	switch m.job.Shift {
	case ShiftLeave:
		m.notice(nowhere, "shift", offer.Text+" Left as it is, as answered.")
		return false
	case ShiftTakeOff:
		offer.TakenOff = true
		m.notice(nowhere, "shift", fmt.Sprintf("%.2f m east and %.2f m north were taken off all points, as answered", offer.EastM, offer.NorthM))
		m.moveAll(offer.EastM, offer.NorthM)
		return true
	}
	m.ask(nowhere, format.Question{Option: "shift", Choices: []string{string(ShiftTakeOff), string(ShiftLeave)}}, "shift", offer.Text, fmt.Sprintf("%.2f m east and %.2f m north in %s", offer.EastM, offer.NorthM, strings.Join(offer.Blocks, ", ")),
		"an answer: shift take-off (take that off all points) or shift leave (they are right as they are)")
	return false
}

// moveAll takes a shift off all points.
func (m *merge) moveAll(east, north float64) {
	for i := range m.points {
		if p := &m.points[i]; p.at != noPoint() {
			f := frame.New(p.at)
			p.at = f.Inverse(-east, -north)
		}
	}
}

func medianOf(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}
