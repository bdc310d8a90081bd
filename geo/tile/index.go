package tile

import (
	"math"
	"slices"
	"unsafe"

	"courson/geo/stand"
)

// Lengths of row pieces in vines: fine ones show a weak stretch, coarse ones
// are for zooms at which a fine piece is less than a few pixels. A coarse piece
// is a run of fine ones.
const (
	finePiece   = 20
	coarsePiece = 5 * finePiece
)

// longStep is the step between neighbours, in planting distances, from which a
// row counts as broken, as by a road. Vines that are gone still have their
// position, so a gap does not break a row.
const longStep = 2.5

// bendM is how far a vine may stand off the line of its piece before the line
// bends for it, metres: half a pixel at zoom 18.
const bendM = 0.15

// Index is what drawing needs to know of a block's ground, worked out once:
// rows cut into pieces, with their boxes and lines. It also finds the vines of
// a tile: rows and pieces are runs of vines, so a tile looks only at vines of
// the pieces whose box it meets. It is never changed.
type Index struct {
	ground *stand.Ground
	box    wbox
	rows   []wbox // per row, with its end posts
	fine   []piece
	coarse []piece
	line   [][2]uint32 // the lines of all pieces
	starts []int32     // per row: its first fine piece; one more at the end
}

// piece is a run of vines within one row.
type piece struct {
	row         int32
	first, end  int32 // vines first … end-1
	box         wbox  // of vines and line
	line, count int32 // in Index.line
	sub, subEnd int32 // coarse: its fine pieces
}

// NewIndex prepares a ground. The ground must not change afterwards.
func NewIndex(g *stand.Ground) *Index {
	ix := &Index{ground: g, rows: make([]wbox, len(g.Rows)), starts: make([]int32, 0, len(g.Rows)+1)}
	for r, row := range g.Rows {
		ix.starts = append(ix.starts, int32(len(ix.fine)))
		if row.Count <= 0 {
			continue
		}
		for _, part := range parts(g, row) {
			ix.addPart(int32(r), part[0], part[1])
		}
		mine := ix.fine[ix.starts[r]:]
		ix.rows[r] = mine[0].box
		for _, p := range mine[1:] {
			ix.rows[r] = ix.rows[r].join(p.box)
		}
		if hasEnds(row) {
			ix.rows[r] = ix.rows[r].join(wbox{w: row.Ends[0][0], n: row.Ends[0][1]}).
				join(wbox{w: row.Ends[1][0], n: row.Ends[1][1]})
		}
		if len(ix.fine) == len(mine) {
			ix.box = ix.rows[r]
		} else {
			ix.box = ix.box.join(ix.rows[r])
		}
	}
	ix.starts = append(ix.starts, int32(len(ix.fine)))
	ix.fine, ix.coarse, ix.line = slices.Clip(ix.fine), slices.Clip(ix.coarse), slices.Clip(ix.line)
	return ix
}

// hasEnds tells whether a row's end posts are known.
func hasEnds(r stand.Row) bool { return r.Ends != [2][2]uint32{} }

// Bytes is the memory that the index takes, the ground left out: 4 bytes per
// vine in straight rows of a hundred.
func (ix *Index) Bytes() int64 {
	return int64(cap(ix.fine)+cap(ix.coarse))*int64(unsafe.Sizeof(piece{})) +
		int64(cap(ix.rows))*int64(unsafe.Sizeof(wbox{})) + int64(cap(ix.line))*8 + int64(cap(ix.starts))*4
}

// Len is the number of vines.
func (ix *Index) Len() int { return ix.ground.Len() }

// parts cuts a row at its long steps.
func parts(g *stand.Ground, row stand.Row) [][2]int {
	first, end := row.First, row.First+row.Count
	limit := longStep * g.VineSpacingM / metresPerWorldUnit(g.WY[first])
	if !(limit > 0) {
		limit = longStep * medianStep(g, first, end)
	}
	var out [][2]int
	for i := first + 1; i < end; i++ {
		if s := stepLength(g, i); s > limit && limit > 0 {
			out = append(out, [2]int{first, i})
			first = i
		}
	}
	return append(out, [2]int{first, end})
}

// stepLength is the distance from the vine before, world units.
func stepLength(g *stand.Ground, i int) float64 {
	s := stepOf(g, i)
	return math.Hypot(s.x, s.y)
}

func stepOf(g *stand.Ground, i int) vec {
	return vec{float64(int32(g.WX[i] - g.WX[i-1])), float64(int64(g.WY[i]) - int64(g.WY[i-1]))}
}

func medianStep(g *stand.Ground, first, end int) float64 {
	steps := make([]float64, 0, end-first)
	for i := first + 1; i < end; i++ {
		steps = append(steps, stepLength(g, i))
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// addPart cuts an unbroken part of a row into pieces of nearly equal length.
func (ix *Index) addPart(row int32, first, end int) {
	coarse := max(1, (end-first+coarsePiece/2)/coarsePiece)
	for c := range coarse {
		a, b := split(first, end, c, coarse), split(first, end, c+1, coarse)
		sub := int32(len(ix.fine))
		fine := max(1, (b-a+finePiece/2)/finePiece)
		for f := range fine {
			ix.fine = append(ix.fine, ix.newPiece(row, first, end, split(a, b, f, fine), split(a, b, f+1, fine)))
		}
		p := ix.newPiece(row, first, end, a, b)
		p.sub, p.subEnd = sub, int32(len(ix.fine))
		ix.coarse = append(ix.coarse, p)
	}
}

// split gives where the k-th of n nearly equal shares of first … end begins.
func split(first, end, k, n int) int { return first + (end-first)*k/n }

// newPiece makes the piece of vines a … b-1 in the part first … end-1. Its line
// reaches half a step beyond its first and last vine, so that the pieces of a
// row touch and a lone vine still has a line.
func (ix *Index) newPiece(row int32, first, end, a, b int) piece {
	g := ix.ground
	p := piece{row: row, first: int32(a), end: int32(b), line: int32(len(ix.line))}
	from := half(g, a, ix.stepAt(row, first, end, a), -0.5)
	to := half(g, b-1, ix.stepAt(row, first, end, b), 0.5)
	ix.line = append(ix.line, from)
	ix.line = appendBends(ix.line, g, from, to, a, b)
	ix.line = append(ix.line, to)
	p.count = int32(len(ix.line)) - p.line
	p.box = wbox{w: g.WX[a], n: g.WY[a]}
	for i := a + 1; i < b; i++ {
		p.box = p.box.join(wbox{w: g.WX[i], n: g.WY[i]})
	}
	for _, at := range ix.line[p.line:] {
		p.box = p.box.join(wbox{w: at[0], n: at[1]})
	}
	return p
}

// stepAt is the step into vine i of the part first … end-1; at the part's ends
// the step next to it, and for a lone vine one planting distance along the row.
func (ix *Index) stepAt(row int32, first, end, i int) vec {
	g := ix.ground
	if end-first > 1 {
		return stepOf(g, min(max(i, first+1), end-1))
	}
	ends := g.Rows[row].Ends
	d := vec{float64(int32(ends[1][0] - ends[0][0])), float64(int64(ends[1][1]) - int64(ends[0][1]))}
	length := math.Hypot(d.x, d.y)
	if length == 0 {
		return vec{}
	}
	f := g.VineSpacingM / metresPerWorldUnit(g.WY[first]) / length
	return vec{d.x * f, d.y * f}
}

// half gives the position a share of a step away from vine i.
func half(g *stand.Ground, i int, step vec, share float64) [2]uint32 {
	y := float64(g.WY[i]) + math.Round(step.y*share)
	return [2]uint32{g.WX[i] + uint32(int32(math.Round(step.x*share))), uint32(max(0, min(worldSide-1, y)))}
}

// appendBends adds those of vines a … b-1 at which the line from one position to
// another must bend (D. H. Douglas and T. K. Peucker, Cartographica 10, 1973).
func appendBends(line [][2]uint32, g *stand.Ground, from, to [2]uint32, a, b int) [][2]uint32 {
	if a >= b {
		return line
	}
	local := func(x, y uint32) vec {
		return vec{float64(int32(x - from[0])), float64(int64(y) - int64(from[1]))}
	}
	chord := local(to[0], to[1])
	worst, at := bendM/metresPerWorldUnit(g.WY[a]), -1
	for i := a; i < b; i++ {
		p := local(g.WX[i], g.WY[i])
		off := math.Hypot(p.x, p.y)
		if chord != (vec{}) {
			off = away(p.x, p.y, 0, 0, chord.x, chord.y)
		}
		if off > worst {
			worst, at = off, i
		}
	}
	if at < 0 {
		return line
	}
	bend := [2]uint32{g.WX[at], g.WY[at]}
	line = append(appendBends(line, g, from, bend, a, at), bend)
	return appendBends(line, g, bend, to, at+1, b)
}
