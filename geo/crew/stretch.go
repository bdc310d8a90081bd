package crew

import (
	"cmp"
	"math/bits"
	"slices"
	"sort"
)

// mostOrders is the number of crews up to which every order of them along the
// rows is looked at.
const mostOrders = 10

// oneStretch gives each crew one stretch of the listed rows, so that the greatest
// days are least; nil where that cannot be, because rows for skilled hands lie
// between others. exact is false where the crews were too many to try each order.
//
// Whether a number of days is enough is found by subsets: reach[m] is how many
// rows the crews of the set m can take from the first row on. The set is best
// served by the last crew c that goes on from reach[m without c] as far as its
// days go; to reach further is never worse. The least number of days is then
// closed in on, each time down to the greatest days of the shares found. Work:
// 2^crews × crews × log rows for each step.
func (s *sharing) oneStretch(list []int, had []float64) (to []int, exact bool) {
	l := s.line(list, had)
	hi := 0.0
	for c := range s.crews {
		hi = max(hi, (had[c]+l.sum[len(list)])/s.speed[c])
	}
	best := l.within(hi * (1 + tiny))
	if best == nil {
		return nil, false
	}
	lo, hi := 0.0, l.days(best)
	for hi-lo > 1e-10*hi {
		mid := (lo + hi) / 2
		got := l.within(mid)
		if got == nil {
			lo = mid
			continue
		}
		best, hi = got, min(mid, l.days(got))
	}
	l.even(best)
	to = make([]int, len(list))
	for c, span := range best {
		for k := span[0]; k < span[1]; k++ {
			to[k] = c
		}
	}
	return to, len(s.crews) <= mostOrders
}

// line is rows side by side.
type line struct {
	*sharing
	had   []float64
	sum   []float64 // minutes of the rows before
	stop  []int     // the next row for skilled hands, at or after
	reach []int
	last  []int8 // crew that came last in the set
}

func (s *sharing) line(list []int, had []float64) *line {
	n := len(list)
	l := &line{sharing: s, had: had, sum: make([]float64, n+1), stop: make([]int, n+1)}
	for k, r := range list {
		l.sum[k+1] = l.sum[k] + s.rows[r].Minutes
	}
	l.stop[n] = n
	for k := n - 1; k >= 0; k-- {
		l.stop[k] = l.stop[k+1]
		if s.rows[list[k]].Skilled {
			l.stop[k] = k
		}
	}
	if len(s.crews) <= mostOrders {
		l.reach, l.last = make([]int, 1<<len(s.crews)), make([]int8, 1<<len(s.crews))
	}
	return l
}

// extend tells up to which row crew c gets from one on within so many days.
func (l *line) extend(from, c int, days float64) int {
	end := len(l.sum) - 1
	if !l.crews[c].Skilled {
		end = l.stop[from]
	}
	room := l.sum[from] + days*l.speed[c] - l.had[c]
	room += tiny * (1 + l.sum[from]) * 1e-3
	k := sort.Search(end-from, func(k int) bool { return l.sum[from+k+1] > room })
	return from + k
}

// within gives each crew's rows, from and to, if so many days are enough.
func (l *line) within(days float64) [][2]int {
	for c := range l.crews {
		if l.had[c] > days*l.speed[c]*(1+tiny)+tiny {
			return nil
		}
	}
	if l.reach == nil {
		return l.inOrder(days)
	}
	n, full := len(l.sum)-1, len(l.reach)-1
	for m := 1; m <= full; m++ {
		l.reach[m] = -1
		for rest := m; rest != 0; {
			c := bits.Len(uint(rest)) - 1 // of equal ones the crews follow each other as listed
			rest &^= 1 << c
			if k := l.extend(l.reach[m&^(1<<c)], c, days); k > l.reach[m] {
				l.reach[m], l.last[m] = k, int8(c)
			}
		}
	}
	if l.reach[full] < n {
		return nil
	}
	spans := make([][2]int, len(l.crews))
	for m := full; m != 0; {
		c := int(l.last[m])
		before := m &^ (1 << c)
		spans[c] = [2]int{l.reach[before], l.reach[m]}
		m = before
	}
	return spans
}

// inOrder lets the crews follow each other as they are listed, the others before
// the skilled ones and, if that is not enough, after them.
func (l *line) inOrder(days float64) [][2]int {
	for _, skilledLast := range []bool{true, false} {
		spans, at := make([][2]int, len(l.crews)), 0
		for _, skilled := range []bool{!skilledLast, skilledLast} {
			for c, crew := range l.crews {
				if crew.Skilled == skilled {
					spans[c] = [2]int{at, l.extend(at, c, days)}
					at = spans[c][1]
				}
			}
		}
		if at == len(l.sum)-1 {
			return spans
		}
	}
	return nil
}

// mostSweeps bounds the evening out.
const mostSweeps = 50

// even shifts the borders between neighbours so that the later of the two is done
// as early as can be. That makes nobody later than the last; it keeps the crew at
// the end of the rows from being left with next to nothing.
func (l *line) even(spans [][2]int) {
	order := make([]int, len(spans))
	for c := range order {
		order[c] = c
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(spans[a][0], spans[b][0]), cmp.Compare(spans[a][1], spans[b][1]))
	})
	for range mostSweeps {
		moved := false
		for k := 1; k < len(order); k++ {
			moved = l.shift(&spans[order[k-1]], &spans[order[k]], order[k-1], order[k]) || moved
		}
		if !moved {
			return
		}
	}
}

// shift sets the border between crews a and b, who stand side by side.
func (l *line) shift(a, b *[2]int, first, second int) (moved bool) {
	cost := func(k int) float64 {
		return max((l.had[first]+l.sum[k]-l.sum[a[0]])/l.speed[first], (l.had[second]+l.sum[b[1]]-l.sum[k])/l.speed[second])
	}
	at, least := a[1], cost(a[1])
	for k := a[0]; k <= b[1]; k++ {
		open := (l.crews[first].Skilled || l.stop[a[0]] >= k) && (l.crews[second].Skilled || l.stop[k] >= b[1])
		if c := cost(k); open && c < least-tiny*(1+least) {
			at, least = k, c
		}
	}
	moved = at != a[1]
	a[1], b[0] = at, at
	return moved
}

// days gives the greatest days of stretches.
func (l *line) days(spans [][2]int) (d float64) {
	for c, span := range spans {
		d = max(d, (l.had[c]+l.sum[span[1]]-l.sum[span[0]])/l.speed[c])
	}
	return d
}

// twoStretches gives the rows for skilled hands in one stretch to each skilled
// crew, and then all others in one stretch to each crew, with regard to what the
// skilled ones have by then; nil where the rows are not of both kinds.
func (s *sharing) twoStretches() []int {
	var few, others []int
	for r, row := range s.rows {
		if row.Skilled {
			few = append(few, r)
		} else {
			others = append(others, r)
		}
	}
	if len(few) == 0 || len(others) == 0 {
		return nil
	}
	first, _ := s.oneStretchOfSkilled(few)
	if first == nil {
		return nil
	}
	had := slices.Clone(s.had)
	for k, r := range few {
		had[first[k]] += s.rows[r].Minutes
	}
	then, _ := s.oneStretch(others, had)
	if then == nil {
		return nil
	}
	to := make([]int, len(s.rows))
	for k, r := range few {
		to[r] = first[k]
	}
	for k, r := range others {
		to[r] = then[k]
	}
	return to
}

// oneStretchOfSkilled shares rows for skilled hands among the skilled crews.
func (s *sharing) oneStretchOfSkilled(few []int) (to []int, exact bool) {
	only := &sharing{rows: s.rows}
	var index []int
	for c, crew := range s.crews {
		if crew.Skilled {
			index = append(index, c)
			only.crews, only.speed, only.had = append(only.crews, crew), append(only.speed, s.speed[c]), append(only.had, s.had[c])
		}
	}
	to, exact = only.oneStretch(few, only.had)
	for k := range to {
		to[k] = index[to[k]]
	}
	return to, exact
}
