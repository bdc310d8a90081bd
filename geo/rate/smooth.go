package rate

import (
	"cmp"
	"slices"
)

// onward gives the next vine of the same piece of row, -1 for none.
func (l *lie) onward(i int) int32 {
	if i+1 < len(l.pieceOf) && l.pieceOf[i] == l.pieceOf[i+1] {
		return int32(i + 1)
	}
	return -1
}

func (l *lie) before(i int) int32 {
	if i > 0 && l.pieceOf[i] == l.pieceOf[i-1] {
		return int32(i - 1)
	}
	return -1
}

// beside gives the four vines beside vine i, -1 for none: before and after it in
// the row, and in the rows left and right.
func (l *lie) beside(i int) [4]int32 {
	return [4]int32{l.before(i), l.onward(i), l.left[i], l.right[i]}
}

// spread gives vines without a zone that of the vines around, nearest first, so
// that gaps lie in a zone too. It gives how many have none left: pieces of row
// in which, and beside which, no vine has a value.
func (l *lie) spread(zone []uint8) (left int) {
	var rim []int32
	for i, z := range zone {
		if z > 0 {
			rim = append(rim, int32(i))
		}
	}
	touching := l.touching()
	for len(rim) > 0 {
		var next []int32
		for _, i := range rim {
			for _, j := range touching(int(i)) {
				if zone[j] == 0 {
					zone[j] = zone[i]
					next = append(next, j)
				}
			}
		}
		rim = next
	}
	for _, z := range zone {
		if z == 0 {
			left++
		}
	}
	return left
}

// touching gives the vines whose cells touch: those of beside, both ways round.
func (l *lie) touching() func(i int) []int32 {
	n := len(l.pieceOf)
	start := make([]int32, n+1)
	each := func(do func(a, b int32)) {
		for i := range n {
			for _, j := range [...]int32{l.onward(i), l.left[i], l.right[i]} {
				if j >= 0 {
					do(int32(i), j)
					do(j, int32(i))
				}
			}
		}
	}
	each(func(a, _ int32) { start[a+1]++ })
	for i := range n {
		start[i+1] += start[i]
	}
	to, next := make([]int32, start[n]), slices.Clone(start[:n])
	each(func(a, b int32) {
		to[next[a]] = b
		next[a]++
	})
	return func(i int) []int32 { return to[start[i]:start[i+1]] }
}

// majority gives each vine the zone that most vines around it have: two before
// and two behind in the row, the three nearest in the rows left and right, and
// itself. Only a zone with more votes than its own takes its place.
func (l *lie) majority(zone []uint8, k, rounds int) []uint8 {
	now, next := slices.Clone(zone), slices.Clone(zone)
	votes := make([]int, k+1)
	for range rounds {
		changed := false
		for i := range now {
			clear(votes)
			l.vote(now, i, votes)
			best := now[i]
			for z := 1; z <= k; z++ {
				if votes[z] > votes[best] {
					best = uint8(z)
				}
			}
			changed = changed || best != now[i]
			next[i] = best
		}
		now, next = next, now
		if !changed {
			break
		}
	}
	return now
}

func (l *lie) vote(zone []uint8, i int, votes []int) {
	count := func(j int32) {
		if j >= 0 {
			votes[zone[j]]++
		}
	}
	near := func(j int32) {
		if j >= 0 {
			count(j)
			count(l.before(int(j)))
			count(l.onward(int(j)))
		}
	}
	near(int32(i))
	if b := l.before(i); b >= 0 {
		count(l.before(int(b)))
	}
	if o := l.onward(i); o >= 0 {
		count(l.onward(int(o)))
	}
	near(l.left[i])
	near(l.right[i])
	votes[0] = 0
}

// part is a connected part of a zone.
type part struct {
	zone   uint8
	areaM2 float64
	first  int32 // its first vine
	root   int32 // the part it was merged into; itself at first
}

// parts joins vines beside each other that have the same zone.
func (l *lie) parts(zone []uint8) (of []int32, all []part) {
	f := newForest(len(zone))
	for i := range zone {
		for _, j := range l.beside(i) {
			if j >= 0 && zone[j] == zone[i] {
				f.join(int32(i), j)
			}
		}
	}
	of = make([]int32, len(zone))
	number := make([]int32, len(zone))
	for i := range zone {
		r := f.root(int32(i))
		if number[r] == 0 {
			all = append(all, part{zone: zone[i], first: int32(i), root: int32(len(all))})
			number[r] = int32(len(all))
		}
		of[i] = number[r] - 1
		all[of[i]].areaM2 += l.cellM2[i]
	}
	return of, all
}

// forest joins numbers to sets.
type forest []int32

func newForest(n int) forest {
	f := make(forest, n)
	for i := range f {
		f[i] = int32(i)
	}
	return f
}

func (f forest) root(i int32) int32 {
	for f[i] != i {
		f[i] = f[f[i]]
		i = f[i]
	}
	return i
}

func (f forest) join(a, b int32) {
	if a, b = f.root(a), f.root(b); a != b {
		f[max(a, b)] = min(a, b)
	}
}

// merge gives parts smaller than the least area to the zone that they border on
// most, smallest first, until none is left that has a neighbour.
func (l *lie) merge(zone []uint8, leastM2 float64) {
	for {
		of, all := l.parts(zone)
		to := l.neighbourOf(of, all, leastM2)
		if len(to) == 0 {
			return
		}
		for _, m := range to {
			a, b := rootOf(all, m[0]), rootOf(all, m[1])
			if a != b && all[a].areaM2 < leastM2 {
				all[a].root = b
				all[b].areaM2 += all[a].areaM2
			}
		}
		for i := range zone {
			zone[i] = all[rootOf(all, of[i])].zone
		}
	}
}

func rootOf(all []part, i int32) int32 {
	for all[i].root != i {
		i = all[i].root
	}
	return i
}

// neighbourOf lists the parts below the least area with the neighbour of the
// longest border, smallest first.
func (l *lie) neighbourOf(of []int32, all []part, leastM2 float64) [][2]int32 {
	type meeting struct{ small, other int32 }
	var meetings []meeting
	for i := range of {
		if all[of[i]].areaM2 >= leastM2 || all[of[i]].zone == 0 {
			continue
		}
		for _, j := range l.beside(i) {
			if j >= 0 && of[j] != of[i] && all[of[j]].zone != 0 {
				meetings = append(meetings, meeting{of[i], of[j]})
			}
		}
	}
	slices.SortFunc(meetings, func(a, b meeting) int { return cmp.Or(cmp.Compare(a.small, b.small), cmp.Compare(a.other, b.other)) })
	var out [][2]int32
	most := 0
	for i := 0; i < len(meetings); {
		m, n := meetings[i], 0
		for ; i < len(meetings) && meetings[i] == m; i++ {
			n++
		}
		if len(out) == 0 || out[len(out)-1][0] != m.small {
			out, most = append(out, [2]int32{m.small, m.other}), n
		} else if n > most {
			out[len(out)-1][1], most = m.other, n
		}
	}
	slices.SortStableFunc(out, func(a, b [2]int32) int { return cmp.Compare(all[a[0]].areaM2, all[b[0]].areaM2) })
	return out
}
