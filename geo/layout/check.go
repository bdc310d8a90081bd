package layout

import (
	"math"
	"sort"

	"courson/geo/frame"
)

// ShareOutside is the share (0 to 1) of a row's length that lies outside its block.
// Ground within the tolerance of the border, m, counts as inside, since outlines
// are often drawn along the end posts.
func ShareOutside(r Row, block frame.MultiPolygon, toleranceM float64) float64 {
	length := r.LengthM()
	var inside float64
	for _, p := range r.Parts {
		for _, c := range p.Clip(block) {
			inside += c.Length()
		}
	}
	if length-inside <= 1e-6 {
		return 0
	}
	var in, n int
	for _, p := range r.Parts {
		l := p.Length()
		k := int(min(2000, max(20, math.Ceil(l/0.25))))
		for i := range k {
			at, _ := p.At(l * (float64(i) + 0.5) / float64(k))
			n++
			if block.Contains(at) || block.BorderDist(at) <= toleranceM {
				in++
			}
		}
	}
	return 1 - float64(in)/float64(n)
}

// LyingOn is a pair of rows of which one lies on the other.
type LyingOn struct {
	A, B  int     // indices, A before B
	Share float64 // share of the one that lies most on the other
	// ApartM is the mean distance of that share from the other, m.
	ApartM float64
}

// onSamples is the number of places along a row that are looked at to tell
// whether it lies on another.
const onSamples = 9

// Duplicates gives pairs of rows, of one block, that lie on each other for at
// least half the length of one: the same row twice, or a slip of numbering. The
// tolerance in metres should be well below half the row spacing.
func Duplicates(rows []Row, toleranceM float64) []LyingOn {
	var out []LyingOn
	each := func(i, j int) {
		a, da := liesOn(rows[i], rows[j], toleranceM)
		if b, db := liesOn(rows[j], rows[i], toleranceM); b > a {
			a, da = b, db
		}
		if a >= 0.5 {
			out = append(out, LyingOn{A: min(i, j), B: max(i, j), Share: a, ApartM: da})
		}
	}
	boxes := make([]box, len(rows))
	for i, r := range rows {
		boxes[i] = boxOf(r, toleranceM)
	}
	sweep(boxes, each)
	sort.Slice(out, func(a, b int) bool {
		return out[a].A < out[b].A || out[a].A == out[b].A && out[a].B < out[b].B
	})
	return out
}

// Match tells, for each row of a new file, on which stored row it lies for the
// most part: its index, or -1. The tolerance in metres should be well below
// half the row spacing.
func Match(rows, stored []Row, toleranceM float64) []int {
	out := make([]int, len(rows))
	best := make([]float64, len(rows))
	boxes := make([]box, 0, len(rows)+len(stored))
	for i, r := range rows {
		out[i] = -1
		boxes = append(boxes, boxOf(r, toleranceM))
	}
	for _, r := range stored {
		boxes = append(boxes, boxOf(r, toleranceM))
	}
	sweep(boxes, func(i, j int) {
		i, j = min(i, j), max(i, j)-len(rows)
		if i >= len(rows) || j < 0 {
			return
		}
		share, _ := liesOn(rows[i], stored[j], toleranceM)
		if share > best[i] || share == best[i] && share > 0 && j < out[i] {
			best[i] = share
			if share > 0.5 {
				out[i] = j
			}
		}
	})
	return out
}

// liesOn gives the share of sampled places of a that lie on b, and their mean
// distance from it.
func liesOn(a, b Row, toleranceM float64) (share, apartM float64) {
	length := a.LengthM()
	on := 0
	for k := range onSamples {
		d := length * (float64(k) + 0.5) / onSamples
		if hit := b.Nearest(a.at(d)); hit.Dist <= toleranceM {
			on++
			apartM += hit.Dist
		}
	}
	if on == 0 {
		return 0, 0
	}
	return float64(on) / onSamples, apartM / float64(on)
}

// at is the place at a distance along the planted ground.
func (r Row) at(d float64) frame.XY {
	for i, p := range r.Parts {
		l := p.Length()
		if d <= l || i == len(r.Parts)-1 {
			at, _ := p.At(d)
			return at
		}
		d -= l
	}
	return frame.XY{}
}

// box is the extent of a row in its frame.
type box struct{ minX, minY, maxX, maxY float64 }

func boxOf(r Row, by float64) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, l := range r.Parts {
		for _, p := range l {
			b.minX, b.maxX = min(b.minX, p.X-by), max(b.maxX, p.X+by)
			b.minY, b.maxY = min(b.minY, p.Y-by), max(b.maxY, p.Y+by)
		}
	}
	return b
}

// sweep calls do for every pair of boxes that overlap, from west to east.
func sweep(boxes []box, do func(i, j int)) {
	order := make([]int, len(boxes))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return boxes[order[a]].minX < boxes[order[b]].minX })
	var active []int
	for _, i := range order {
		keep := active[:0]
		for _, j := range active {
			if boxes[j].maxX < boxes[i].minX {
				continue
			}
			keep = append(keep, j)
			if boxes[j].maxY >= boxes[i].minY && boxes[i].maxY >= boxes[j].minY {
				do(i, j)
			}
		}
		active = append(keep, i)
	}
}
