package patch

import (
	"cmp"
	"math"
	"slices"
)

// outline is the ground of the vines given: the union of their ground cells,
// and of what lies between two neighbouring rows of the patch where they stand
// wider than the block's row spacing, up to half of it. pairs are neighbours in different rows.
func (p *plan) outline(vines []int, pairs [][2]int) Outline {
	runs := p.runs(vines)
	var shapes [][]XY
	lines := make([][]XY, len(runs))
	for k, run := range runs {
		lines[k] = p.line(run)
		shapes = append(shapes, strips(lines[k], p.rowM/2)...)
	}
	for _, k := range runPairs(runs, pairs) {
		if s := fill(lines[k[0]], lines[k[1]], joinRows*p.rowM); s != nil {
			shapes = append(shapes, s)
		}
	}
	return union(shapes, p.leastM2)
}

// runs gives the unbroken runs of vines as first and last.
func (p *plan) runs(vines []int) [][2]int {
	vines = slices.Sorted(slices.Values(vines))
	var out [][2]int
	for k, i := range vines {
		if k > 0 && vines[k-1] == i-1 && p.onward[i-1] {
			out[len(out)-1][1] = i
			continue
		}
		out = append(out, [2]int{i, i})
	}
	return out
}

// runPairs turns pairs of vines into pairs of runs, each once.
func runPairs(runs [][2]int, pairs [][2]int) [][2]int {
	runOf := func(i int) int {
		k, _ := slices.BinarySearchFunc(runs, i, func(r [2]int, i int) int { return cmp.Compare(r[1], i) })
		return k
	}
	var out [][2]int
	for _, q := range pairs {
		a, b := runOf(q[0]), runOf(q[1])
		out = append(out, [2]int{min(a, b), max(a, b)})
	}
	slices.SortFunc(out, func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	return slices.Compact(out)
}

// line is the line of the row from where the ground of the run begins to where
// it ends; wiggles of a surveyed row below a fiftieth of the row spacing are
// drawn straight.
func (p *plan) line(run [2]int) []XY {
	from, _ := p.ends(run[0])
	_, to := p.ends(run[1])
	line := append([]XY{from}, p.at[run[0]:run[1]+1]...)
	return simplify(append(line, to), p.rowM/50)
}

// simplify leaves out places that lie nearer to the line than the tolerance
// (D. Douglas and T. Peucker, Cartographica 10, 1973).
func simplify(line []XY, toleranceM float64) []XY {
	out := line[:1:1]
	var walk func(lo, hi int)
	walk = func(lo, hi int) {
		d := line[hi].minus(line[lo])
		far, at := toleranceM, -1
		for i := lo + 1; i < hi; i++ {
			if f := line[i].minus(nearestOn(line[i], line[lo], d)).length(); f > far {
				far, at = f, i
			}
		}
		if at < 0 {
			out = append(out, line[hi])
			return
		}
		walk(lo, at)
		walk(at, hi)
	}
	walk(0, len(line)-1)
	return out
}

// nearestOn is the place nearest to q on the piece from a along d.
func nearestOn(q, a, d XY) XY {
	if d.dot(d) == 0 {
		return a
	}
	return a.plus(d.times(max(0, min(1, q.minus(a).dot(d)/d.dot(d)))))
}

// strips are the ground on both sides of a line, one four-sided shape for each
// straight piece. At a gentle turn both pieces end on the line that halves the
// angle, so that what is lost inside is gained outside; at a sharp one each ends
// square.
func strips(line []XY, halfM float64) [][]XY {
	line = slices.CompactFunc(slices.Clone(line), func(a, b XY) bool { return b.minus(a).length() < finestUnitM })
	if len(line) < 2 {
		return nil
	}
	normal := make([]XY, len(line)-1) // to the left
	for k := range normal {
		d := line[k+1].minus(line[k])
		normal[k] = d.times(1 / d.length()).left()
	}
	var out [][]XY
	for k, n := range normal {
		a, b := n.times(halfM), n.times(halfM)
		if k > 0 {
			a = joint(normal[k-1], n, a, halfM)
		}
		if k+1 < len(normal) {
			b = joint(n, normal[k+1], b, halfM)
		}
		quad := []XY{line[k].minus(a), line[k+1].minus(b), line[k+1].plus(b), line[k].plus(a)}
		if !convex(quad) {
			s := n.times(halfM)
			quad = []XY{line[k].minus(s), line[k+1].minus(s), line[k+1].plus(s), line[k].plus(s)}
		}
		out = append(out, quad)
	}
	return out
}

// joint is the way from the line to the edge of the strip at a turn; square is
// used where the turn is above sharpestDeg.
func joint(before, after, square XY, halfM float64) XY {
	const sharpestDeg = 60
	if before.dot(after) < math.Cos(sharpestDeg*math.Pi/180) {
		return square
	}
	m := before.plus(after)
	return m.times(halfM / m.dot(after))
}

func convex(q []XY) bool {
	for i, p := range q {
		a, b := q[(i+1)%4].minus(p), q[(i+2)%4].minus(q[(i+1)%4])
		if a.cross(b) <= 0 {
			return false
		}
	}
	return true
}

// fill is the ground between two lines of rows where they run beside each other;
// nil where they do not, or lie farther apart than mostM.
func fill(a, b []XY, mostM float64) []XY {
	a0, a1 := overlap(a, b)
	if a1 <= a0 {
		return nil
	}
	side := stretch(a, a0, a1)
	b0, far0 := project(b, side[0])
	b1, far1 := project(b, side[len(side)-1])
	if max(far0, far1) > mostM || b0 == b1 {
		return nil
	}
	other := stretch(b, min(b0, b1), max(b0, b1))
	if b0 < b1 {
		slices.Reverse(other)
	}
	return append(side, other...)
}

// overlap is the stretch of a, in metres along it, that lies beside b.
func overlap(a, b []XY) (from, to float64) {
	p, _ := project(a, b[0])
	q, _ := project(a, b[len(b)-1])
	return min(p, q), max(p, q)
}

// project gives how far along the line its place nearest to q is, and how far
// from q.
func project(line []XY, q XY) (along, away float64) {
	away = math.Inf(1)
	var done float64
	for i := 1; i < len(line); i++ {
		d := line[i].minus(line[i-1])
		on := nearestOn(q, line[i-1], d)
		if far := q.minus(on).length(); far < away {
			away, along = far, done+on.minus(line[i-1]).length()
		}
		done += d.length()
	}
	return along, away
}

// stretch is the line from one distance along it to another.
func stretch(line []XY, from, to float64) []XY {
	var out []XY
	var done float64
	for i := 1; i < len(line); i++ {
		l := line[i].minus(line[i-1]).length()
		if done+l >= from && len(out) == 0 {
			out = append(out, between(line[i-1], line[i], share(from-done, l)))
		}
		if done+l >= to {
			return append(out, between(line[i-1], line[i], share(to-done, l)))
		}
		if len(out) > 0 {
			out = append(out, line[i])
		}
		done += l
	}
	return append(out, line[len(line)-1])
}

func share(part, whole float64) float64 {
	if whole <= 0 {
		return 0
	}
	return max(0, min(1, part/whole))
}
