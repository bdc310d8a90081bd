package draw

import (
	"fmt"
	"math"

	"courson/geo/frame"
	"courson/geo/layout"
)

// Order says which rows a block shall have.
type Order struct {
	// Line is one of the rows as it lies on the ground, drawn over any length: its
	// ends are led on straight. Without it rows bear BearingDeg.
	Line frame.Line
	// BearingDeg is the bearing of rows in the frame, degrees clockwise from north.
	BearingDeg float64
	RowM       float64 // from row to row, m
	HeadlandM  float64 // ground left free before the edge of the block where rows end, m
	// SideM is the ground left free before an edge along which rows run, m; below 0:
	// half a row spacing, so that every row has its strip of ground.
	SideM float64
	// Count is how many rows to make; 0: all that the block holds. They are counted
	// from the line, or from the edge at Side.
	Count int
	// Side is the side of the block at which rows begin; from the line it is the side
	// towards which they go on. AsDrawn: to the right of the rows' bearing.
	Side layout.End
	// Planting along each row; BreakM is not read: behind a gap in the ground a row
	// begins as at its start.
	Planting layout.Spacing
}

// Made is rows made.
type Made struct {
	Rows []layout.Laid // across the block, from the edge left of the bearing to the right one
	// Short counts rows left out because two vines do not fit.
	Short int
	// Missed counts rows of a Count that the block has no ground for.
	Missed int
}

// Vines is the number of vines.
func (m Made) Vines() (n int) {
	for _, r := range m.Rows {
		n += len(r.Places)
	}
	return n
}

// LengthM is the planted length of all rows, m.
func (m Made) LengthM() (sum float64) {
	for _, r := range m.Rows {
		sum += r.Row.LengthM()
	}
	return sum
}

// Rows fills a block with rows. All run parallel at exactly RowM, keep the headland
// and the side ground everywhere, and are laid out with vines from the end at which
// their bearing begins. A row that the block's outline cuts has parts.
//
// Refused are spacings, counts and headlands that cannot be meant (layout.ErrSpacing,
// layout.ErrOffset, layout.ErrTooMany), lines without length (layout.ErrZeroLength),
// a side along the rows (layout.ErrSideUnclear), and blocks in which no row fits
// (ErrNothing).
func Rows(f frame.Frame, block frame.MultiPolygon, o Order) (Made, error) {
	if err := o.check(); err != nil {
		return Made{}, err
	}
	side := o.SideM
	if side < 0 {
		side = o.RowM / 2
	}
	axis, lo, hi, err := o.axis(f, block, side)
	if err != nil {
		return Made{}, err
	}
	if n := hi - lo + 1; n > layout.MostRows {
		return Made{}, fmt.Errorf("%d rows: %w: at most %d", n, layout.ErrTooMany, layout.MostRows)
	}
	borders := bordersOf(block, frame.Azimuth(axis[0], axis[len(axis)-1]), o.HeadlandM, side)
	o.Planting.BreakM = o.Planting.StartM
	var m Made
	for k := lo; k <= hi; k++ {
		l := axis
		if k != 0 {
			l = axis.Parallel(-float64(k) * o.RowM)
		}
		parts := clearOf(l, block, borders)
		if len(parts) == 0 {
			m.Missed++
			continue
		}
		if !follows(l, axis) {
			return Made{}, fmt.Errorf("%w: the line bends too sharply for a row %.1f m beside it; draw it with fewer or softer bends", ErrOrder, math.Abs(float64(k))*o.RowM)
		}
		laid, err := (layout.Row{Frame: f, Parts: parts}).Places(o.Planting)
		switch {
		case isShort(err):
			m.Short++
		case err != nil:
			return Made{}, err
		default:
			m.Rows = append(m.Rows, laid)
		}
	}
	if o.Count == 0 {
		m.Missed = 0 // only looked for
	}
	if len(m.Rows) == 0 {
		return Made{}, fmt.Errorf("%w: %d rows are too short for two vines; a smaller headland, another bearing or closer vines would help", ErrNothing, m.Short)
	}
	return m, nil
}

// check refuses numbers that cannot be meant.
func (o Order) check() error {
	switch {
	case !(o.RowM > 0) || math.IsInf(o.RowM, 1):
		return fmt.Errorf("row spacing %v: %w", o.RowM, layout.ErrSpacing)
	case o.Count < 0 || o.Count > layout.MostRows:
		return fmt.Errorf("%d rows: %w: from 1 to %d", o.Count, layout.ErrTooMany, layout.MostRows)
	case !(o.HeadlandM >= 0) || math.IsInf(o.HeadlandM, 1):
		return fmt.Errorf("headland %v: %w", o.HeadlandM, layout.ErrOffset)
	case math.IsNaN(o.SideM) || math.IsInf(o.SideM, 1):
		return fmt.Errorf("side %v: %w", o.SideM, layout.ErrOffset)
	case math.IsNaN(o.BearingDeg) || math.IsInf(o.BearingDeg, 0):
		return fmt.Errorf("%w: bearing %v is no number of degrees", ErrOrder, o.BearingDeg)
	}
	return nil
}

// axis gives the line that rows are parallel to, long enough to reach across the
// block, and the rows to make, as multiples of the row spacing to its right.
func (o Order) axis(f frame.Frame, block frame.MultiPolygon, sideM float64) (axis frame.Line, lo, hi int, err error) {
	box := boxOf(block)
	reach := frame.Dist(box[0], box[1])
	if !(reach > 0) || math.IsInf(reach, 1) {
		return nil, 0, 0, fmt.Errorf("%w: the block has no outline", ErrOrder)
	}
	if o.Line != nil {
		return o.fromLine(f, block, reach)
	}
	return o.fromBearing(f, block, reach, sideM)
}

// fromBearing lays the first row at the edge on the chosen side.
func (o Order) fromBearing(f frame.Frame, block frame.MultiPolygon, reach, sideM float64) (frame.Line, int, int, error) {
	s, c := math.Sincos(o.BearingDeg * math.Pi / 180)
	ahead, right := frame.XY{X: s, Y: c}, frame.XY{X: c, Y: -s}
	from, to := spread(block, right)
	back, front := spread(block, ahead)
	count := int(math.Floor((to-from-2*sideM+SideSlackM)/o.RowM)) + 1
	if count < 1 {
		return nil, 0, 0, fmt.Errorf("%w: the block is %.1f m wide across the rows, %.1f m are left free on either side", ErrNothing, to-from, sideM)
	}
	first, turn := from+sideM, 1
	if beginsRight, err := o.beginsRight(f, ahead, right); err != nil {
		return nil, 0, 0, err
	} else if beginsRight {
		first, turn = to-sideM, -1
	}
	at := func(along float64) frame.XY {
		return frame.XY{X: along*ahead.X + first*right.X, Y: along*ahead.Y + first*right.Y}
	}
	axis := frame.Line{at(back - reach), at(front + reach)}
	n := count
	if o.Count > 0 {
		n = o.Count
	}
	if turn > 0 {
		return axis, 0, n - 1, nil
	}
	return axis, 1 - n, 0, nil
}

// beginsRight tells whether rows begin at the edge to the right of their bearing.
func (o Order) beginsRight(f frame.Frame, ahead, right frame.XY) (bool, error) {
	if o.Side == layout.AsDrawn {
		return false, nil
	}
	return o.Side.Beside(f, frame.XY{}, ahead, right)
}

// fromLine leads the line on at both ends; the rows are those beside it.
func (o Order) fromLine(f frame.Frame, block frame.MultiPolygon, reach float64) (frame.Line, int, int, error) {
	l := frame.Line(distinct(frame.Ring(o.Line)))
	if len(l) > 1 && l[0] == o.Line[0] && o.Line[0] == o.Line[len(o.Line)-1] && len(o.Line) > 2 {
		return nil, 0, 0, fmt.Errorf("the line ends where it begins: %w", layout.ErrZeroLength)
	}
	if len(l) < 2 {
		return nil, 0, 0, fmt.Errorf("the line has one place: %w", layout.ErrZeroLength)
	}
	var far float64 // of the line from the block
	box := boxOf(block)
	for _, p := range l {
		far = max(far, frame.Dist(p, box[0]))
	}
	reach = 2*reach + far
	a, b := led(l[1], l[0], reach), led(l[len(l)-2], l[len(l)-1], reach)
	axis := append(append(frame.Line{a}, l...), b)
	n := int(math.Ceil((reach + far) / o.RowM))
	if o.Count == 0 {
		return axis, -min(n, layout.MostRows/2-1), min(n, layout.MostRows/2-1), nil
	}
	d := frame.Dist(l[0], l[len(l)-1])
	ahead := frame.XY{X: (l[len(l)-1].X - l[0].X) / d, Y: (l[len(l)-1].Y - l[0].Y) / d}
	right := frame.XY{X: ahead.Y, Y: -ahead.X}
	if o.Side == layout.AsDrawn {
		return axis, 0, o.Count - 1, nil
	}
	toRight, err := o.Side.Beside(f, frame.Between(l[0], l[len(l)-1], 0.5), ahead, right)
	if err != nil {
		return nil, 0, 0, err
	}
	if toRight {
		return axis, 0, o.Count - 1, nil
	}
	return axis, 1 - o.Count, 0, nil
}

// follows tells whether a row runs the way of the line that it is parallel to, piece
// by piece: on the inner side of a sharp bend it would turn back on itself.
func follows(l, axis frame.Line) bool {
	if len(l) != len(axis) {
		return false // a corner was cut
	}
	for i := 1; i < len(l); i++ {
		if (l[i].X-l[i-1].X)*(axis[i].X-axis[i-1].X)+(l[i].Y-l[i-1].Y)*(axis[i].Y-axis[i-1].Y) <= 0 {
			return false
		}
	}
	return true
}

// led is the place so far behind b on the way from a.
func led(a, b frame.XY, by float64) frame.XY {
	d := frame.Dist(a, b)
	return frame.XY{X: b.X + (b.X-a.X)/d*by, Y: b.Y + (b.Y-a.Y)/d*by}
}

// spread is the extent of a block along a unit vector.
func spread(block frame.MultiPolygon, v frame.XY) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, pg := range block {
		for _, r := range pg {
			for _, p := range r {
				d := p.X*v.X + p.Y*v.Y
				lo, hi = min(lo, d), max(hi, d)
			}
		}
	}
	return lo, hi
}
