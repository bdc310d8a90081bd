package layout

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"courson/geo/frame"
)

// Slack: a part that is a little too short for its last vine is taken as long
// enough, since coordinates are rounded (7 decimals of a degree are 11 mm).
// The shortfall is spread over the steps. Both bounds chosen by us.
const (
	slackM        = 0.02   // most in a part
	slackPerStepM = 0.0009 // most in a step, so that steps keep within 1 mm
	// roundingM is what sums of lengths may lack by their own rounding.
	roundingM = 1e-9
)

// check refuses spacings and offsets that cannot be meant.
func (s Spacing) check() error {
	if !(s.VineM > 0) || math.IsInf(s.VineM, 1) {
		return fmt.Errorf("vine spacing %v: %w", s.VineM, ErrSpacing)
	}
	for _, o := range []struct {
		name string
		m    float64
	}{{"start offset", s.StartM}, {"end offset", s.EndM}, {"offset at a road", s.BreakM}} {
		if !(o.m >= 0) || math.IsInf(o.m, 1) {
			return fmt.Errorf("%s %v: %w", o.name, o.m, ErrOffset)
		}
	}
	return nil
}

// Places lays vines out along the row, from the numbering end, every VineM
// along the line. Each part behind a road begins anew, BreakM behind its start,
// but no vine comes nearer than a spacing to the one before.
//
// Refused are impossible spacings, a row too short for two vines (ErrShort),
// and more than MostPlaces vines (ErrTooMany); both name the count.
func (r Row) Places(s Spacing) (Laid, error) {
	if err := s.check(); err != nil {
		return Laid{}, err
	}
	if n := r.LengthM()/s.VineM + float64(len(r.Parts)); n > MostPlaces {
		return Laid{}, fmt.Errorf("%.2f m at %v m would be %.0f vines: %w: at most %d in a row",
			r.LengthM(), s.VineM, n, ErrTooMany, MostPlaces)
	}
	laid := Laid{Row: r, LeftOverM: make([]float64, len(r.Parts))}
	var done float64 // planted ground of the parts before
	for i := range r.Parts {
		length := r.Parts[i].Length()
		first, last := s.StartM, length-s.EndM
		if i > 0 {
			first = r.startBehind(i, laid.Places, s)
		}
		if i < len(r.Parts)-1 {
			last = length - s.BreakM
		}
		laid.part(i, done, first, last, s.VineM)
		done += length
	}
	if n := len(laid.Places); n < 2 {
		return Laid{}, fmt.Errorf("%.2f m at %v m, offsets %v and %v m, is %d vines: %w",
			r.LengthM(), s.VineM, s.StartM, s.EndM, n, ErrShort)
	}
	return laid, nil
}

// startBehind is where in part i, behind a road, the first vine stands.
func (r Row) startBehind(i int, before []Place, s Spacing) float64 {
	first := s.BreakM
	if len(before) == 0 {
		return first
	}
	p := r.Parts[i]
	at, _ := p.At(first)
	if d := frame.Dist(before[len(before)-1].At, at); d < s.VineM-slackPerStepM {
		first += s.VineM - d
	}
	return first
}

// part lays out one part between two distances along it.
func (l *Laid) part(i int, done, first, last, vineM float64) {
	room := last - first
	if !(room >= -roundingM) {
		l.LeftOverM[i] = max(0, last)
		return
	}
	steps, step, left, short := fit(room, vineM)
	l.SlackM += short
	l.LeftOverM[i] = left
	l.Places = slices.Grow(l.Places, steps+1)
	w := walker{line: l.Row.Parts[i]}
	for k := range steps + 1 {
		d := max(0, first) + float64(k)*step
		at, azimuth := w.at(d)
		l.Places = append(l.Places, Place{
			Number:     len(l.Places) + 1,
			Part:       i,
			ChainageM:  done + d,
			Point:      l.Row.Frame.LonLat(at),
			At:         at,
			AzimuthDeg: azimuth,
		})
	}
}

// fit gives the steps of a planting distance that fit in room, their length,
// and the ground left over; short is the slack that was spread over the steps.
func fit(room, vineM float64) (steps int, step, left, short float64) {
	room = max(0, room)
	n := math.Floor(room / vineM)
	if s := (n+1)*vineM - room; s <= min(slackM, slackPerStepM*(n+1)) {
		return int(n) + 1, room / (n + 1), 0, s
	}
	return int(n), vineM, max(0, room-n*vineM), 0
}

// walker gives places at rising distances along a line without starting over.
type walker struct {
	line frame.Line
	i    int     // piece from line[i] to line[i+1]
	done float64 // length before it
}

func (w *walker) at(d float64) (frame.XY, float64) {
	for {
		a, b := w.line[w.i], w.line[w.i+1]
		step := frame.Dist(a, b)
		if d <= w.done+step || w.i == len(w.line)-2 {
			return frame.Between(a, b, min(1, (d-w.done)/step)), frame.Azimuth(a, b)
		}
		w.done += step
		w.i++
	}
}

// Reversed gives the same places numbered from the other end.
func (l Laid) Reversed() Laid {
	length := l.Row.LengthM()
	out := l
	out.Row = l.Row.Reversed()
	n, parts := len(l.Places), len(l.Row.Parts)
	out.Places = make([]Place, n)
	out.LeftOverM = make([]float64, len(l.LeftOverM))
	for i, p := range l.Places {
		p.Number = n - i
		p.Part = parts - 1 - p.Part
		p.ChainageM = length - p.ChainageM
		p.AzimuthDeg = math.Mod(p.AzimuthDeg+180, 360)
		out.Places[n-1-i] = p
	}
	for i, m := range l.LeftOverM {
		out.LeftOverM[parts-1-i] = m
	}
	return out
}

// Points gives the places in degrees, in order of number.
func (l Laid) Points() []orb.Point {
	out := make([]orb.Point, len(l.Places))
	for i, p := range l.Places {
		out[i] = p.Point
	}
	return out
}
