package rate

import (
	"math"
	"slices"

	"courson/geo/stand"
)

// lie is how the vines of a block lie: turned so that u runs along the rows and
// w to the left of them, rows cut into pieces in which u rises from vine to vine.
type lie struct {
	g       *stand.Ground
	sin     float64 // of the row direction: along is (cos, sin), east and north
	cos     float64
	origin  XY
	rowM    float64
	vineM   float64
	u, w    []float64
	pieces  []piece
	pieceOf []int32
	stepM   []float64 // planting distance of each row
	cellM2  []float64
	// left and right are the vines of the rows beside that share the longest
	// border; -1 none. next is set where the next vine is in the same piece.
	left, right []int32
}

// piece is an unbroken stretch of row: vines lo to hi-1, with u rising or falling.
type piece struct {
	lo, hi int
	rising bool
	cuts   []int64 // where the ground of each vine begins, rising in u, and the end; mm
	slope  []float64
}

// vine gives the k-th vine of a piece in order of u.
func (p *piece) vine(k int) int {
	if p.rising {
		return p.lo + k
	}
	return p.hi - 1 - k
}

func (p *piece) len() int { return p.hi - p.lo }

// Chosen by us: steps longer than so many planting distances are a break, such as a
// road; rows farther apart than so many row spacings are no neighbours, and the
// ground between them beyond half a spacing is nobody's.
const (
	breakSteps = 1.5
	joinRows   = 1.5
	steepest   = 3.0 // slope of a row against the block's direction, about 70°
)

func layOut(g *stand.Ground) (*lie, error) {
	n := g.Len()
	if n == 0 || len(g.X) != n || len(g.Y) != n {
		return nil, refuse(ErrGround, "no vines with a place in metres")
	}
	l := &lie{g: g, rowM: g.RowSpacingM, vineM: g.VineSpacingM, u: make([]float64, n), w: make([]float64, n)}
	l.origin = XY{float64(g.X[0]), float64(g.Y[0])}
	for i := range n {
		if !finite(float64(g.X[i])) || !finite(float64(g.Y[i])) {
			return nil, refuse(ErrGround, "the place of vine %s is not a number", g.Address(i))
		}
	}
	if !(l.vineM > 0) {
		l.vineM = l.medianStep()
	}
	if !(l.vineM > 0) || !(l.rowM > 0) {
		return nil, refuse(ErrGround, "row spacing %g m, vine spacing %g m: set both on block %s", g.RowSpacingM, g.VineSpacingM, g.Code)
	}
	l.turn()
	l.stepsOfRows()
	l.cutPieces()
	if err := l.measure(); err != nil {
		return nil, err
	}
	return l, nil
}

func (l *lie) step(i int) (dx, dy float64) {
	return float64(l.g.X[i+1]) - float64(l.g.X[i]), float64(l.g.Y[i+1]) - float64(l.g.Y[i])
}

func (l *lie) sameRow(i int) bool { return i+1 < l.g.Len() && l.g.Row[i] == l.g.Row[i+1] }

func (l *lie) medianStep() float64 {
	var steps []float64
	for i := range l.g.Len() {
		if l.sameRow(i) {
			steps = append(steps, math.Hypot(l.step(i)))
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// turn finds the mean direction of the rows, either way along a row being the
// same, and turns the block.
func (l *lie) turn() {
	var s, c float64 // of doubled angles
	for i := range l.g.Len() {
		if l.sameRow(i) {
			dx, dy := l.step(i)
			if d := math.Hypot(dx, dy); d > 0 {
				c += (dx*dx - dy*dy) / d
				s += 2 * dx * dy / d
			}
		}
	}
	l.sin, l.cos = 1, 0
	if math.Hypot(s, c) > 1e-9 {
		l.sin, l.cos = math.Sincos(math.Atan2(s, c) / 2)
	}
	for i := range l.u {
		x, y := float64(l.g.X[i])-l.origin.X, float64(l.g.Y[i])-l.origin.Y
		l.u[i], l.w[i] = x*l.cos+y*l.sin, y*l.cos-x*l.sin
	}
}

// back gives the place in the block's plane, east and north.
func (l *lie) back(u, w float64) XY {
	return XY{l.origin.X + u*l.cos - w*l.sin, l.origin.Y + u*l.sin + w*l.cos}
}

// stepsOfRows finds each row's own planting distance, where it is wider than the
// block's and the row has steps enough to tell.
func (l *lie) stepsOfRows() {
	l.stepM = make([]float64, len(l.g.Rows))
	var steps []float64
	for r, row := range l.g.Rows {
		l.stepM[r] = l.vineM
		steps = steps[:0]
		for i := row.First; i+1 < row.First+row.Count; i++ {
			steps = append(steps, math.Hypot(l.step(i)))
		}
		if len(steps) >= 3 {
			slices.Sort(steps)
			l.stepM[r] = max(l.vineM, steps[len(steps)/2])
		}
	}
}

// cutPieces cuts rows at breaks, at parts, and where they turn back.
func (l *lie) cutPieces() {
	n := l.g.Len()
	l.pieceOf = make([]int32, n)
	for lo := 0; lo < n; {
		hi, rising := lo+1, true
		for ; hi < n && l.sameRow(hi-1); hi++ {
			du, dw := l.u[hi]-l.u[hi-1], l.w[hi]-l.w[hi-1]
			if hi == lo+1 {
				rising = du > 0
			}
			if rising != (du > 0) || math.Hypot(du, dw) > breakSteps*l.stepM[l.g.Row[lo]] || math.Abs(dw) > steepest*math.Abs(du) || l.parted(hi) {
				break
			}
		}
		p := piece{lo: lo, hi: hi, rising: rising}
		l.cut(&p)
		for i := lo; i < hi; i++ {
			l.pieceOf[i] = int32(len(l.pieces))
		}
		l.pieces = append(l.pieces, p)
		lo = hi
	}
}

func (l *lie) parted(i int) bool { return l.g.Part != nil && l.g.Part[i] != l.g.Part[i-1] }

// cut sets the borders of the vines' ground along the row: half way between
// vines, half a planting distance at the ends.
func (l *lie) cut(p *piece) {
	n := p.len()
	p.cuts, p.slope = make([]int64, n+1), make([]float64, n+1)
	for k := 1; k < n; k++ {
		a, b := p.vine(k-1), p.vine(k)
		p.cuts[k] = mm((l.u[a] + l.u[b]) / 2)
		p.slope[k] = (l.w[b] - l.w[a]) / (l.u[b] - l.u[a])
	}
	if n > 1 {
		p.slope[0], p.slope[n] = p.slope[1], p.slope[n-1]
	}
	end := func(k int) float64 { return l.stepM[l.g.Row[p.lo]] / 2 / math.Sqrt(1+p.slope[k]*p.slope[k]) }
	p.cuts[0] = mm(l.u[p.vine(0)] - end(0))
	p.cuts[n] = mm(l.u[p.vine(n-1)] + end(n))
}

// at gives w of the row's line at u (mm), and its slope there; k is the vine
// whose ground u lies in.
func (l *lie) at(p *piece, k int, u int64) (w, slope float64) {
	i := p.vine(k)
	j := k // the border between vines that u is nearer to
	if float64(u)/1000 > l.u[i] {
		j = k + 1
	}
	slope = p.slope[j]
	return l.w[i] + slope*(float64(u)/1000-l.u[i]), slope
}

// holding gives the vine of the piece whose ground holds u, as near as there is.
func (p *piece) holding(u int64) int {
	k, found := slices.BinarySearch(p.cuts, u)
	if !found {
		k--
	}
	return max(0, min(p.len()-1, k))
}

// border is a piece of line along the rows between the ground of two vines: below
// lies to the right of the line, above to the left; -1 is nobody's ground.
type border struct {
	below, above int32
	a, b         spot // a.X < b.X
}
