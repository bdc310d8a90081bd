package rate

import (
	"cmp"
	"math"
	"slices"
)

// side is a stretch in which two pieces of row lie beside each other, or one
// beside nobody (-1).
type side struct {
	below, above int32
	from, to     int64
}

// sides walks along u over all pieces and keeps those under way in order of w.
func (l *lie) sides() []side {
	type event struct {
		u     int64
		start bool
		piece int32
	}
	var events []event
	for k := range l.pieces {
		c := l.pieces[k].cuts
		events = append(events, event{c[0], true, int32(k)}, event{c[len(c)-1], false, int32(k)})
	}
	slices.SortFunc(events, func(a, b event) int {
		if a.u == b.u && a.start != b.start {
			return map[bool]int{true: 1, false: -1}[a.start]
		}
		return cmp.Or(cmp.Compare(a.u, b.u), cmp.Compare(a.piece, b.piece))
	})
	w := walk{l: l, since: map[[2]int32]int64{}}
	for _, e := range events {
		if e.start {
			w.enter(e.piece, e.u)
		} else {
			w.leave(e.piece, e.u)
		}
	}
	return w.out
}

// walk holds the pieces under way, and since where each two lie beside each other.
type walk struct {
	l     *lie
	under []int32
	since map[[2]int32]int64
	out   []side
}

func (w *walk) around(k int) (below, above int32) {
	below, above = -1, -1
	if k > 0 {
		below = w.under[k-1]
	}
	if k < len(w.under) {
		above = w.under[k]
	}
	return below, above
}

func (w *walk) part(below, above int32, u int64) {
	if below < 0 && above < 0 {
		return
	}
	key := [2]int32{below, above}
	if from := w.since[key]; from < u {
		w.out = append(w.out, side{below, above, from, u})
	}
	delete(w.since, key)
}

func (w *walk) join(below, above int32, u int64) {
	if below >= 0 || above >= 0 {
		w.since[[2]int32{below, above}] = u
	}
}

func (w *walk) enter(piece int32, u int64) {
	mine := w.l.height(piece, u)
	k, _ := slices.BinarySearchFunc(w.under, mine, func(p int32, h float64) int { return cmp.Compare(w.l.height(p, u), h) })
	below, above := w.around(k)
	w.part(below, above, u)
	w.under = slices.Insert(w.under, k, piece)
	w.join(below, piece, u)
	w.join(piece, above, u)
}

func (w *walk) leave(piece int32, u int64) {
	k := slices.Index(w.under, piece)
	w.under = slices.Delete(w.under, k, k+1)
	below, above := w.around(k)
	w.part(below, piece, u)
	w.part(piece, above, u)
	w.join(below, above, u)
}

func (l *lie) height(piece int32, u int64) float64 {
	p := &l.pieces[piece]
	h, _ := l.at(p, p.holding(u), u)
	return h
}

// borders calls found for every piece of line along the rows between the ground
// of two vines, or of one and nobody. Ground reaches half way to the next row, or
// half a row spacing where that is far. Lines of both sides are cut at the same
// places, so that no gap or overlap can be between them.
func (l *lie) borders(found func(border)) {
	for _, s := range l.sides() {
		var low, high *piece
		var kl, kh int
		if s.below >= 0 {
			low = &l.pieces[s.below]
			kl = low.holding(s.from)
		}
		if s.above >= 0 {
			high = &l.pieces[s.above]
			kh = high.holding(s.from)
		}
		for u := s.from; u < s.to; {
			to := s.to
			if low != nil {
				to = min(to, low.cuts[kl+1])
			}
			if high != nil {
				to = min(to, high.cuts[kh+1])
			}
			l.between(low, high, kl, kh, u, to, found)
			if low != nil && to == low.cuts[kl+1] && kl+1 < low.len() {
				kl++
			}
			if high != nil && to == high.cuts[kh+1] && kh+1 < high.len() {
				kh++
			}
			u = to
		}
	}
}

// between gives the borders of vine kl of the piece below and kh of that above
// from u to v.
func (l *lie) between(low, high *piece, kl, kh int, u, v int64, found func(border)) {
	if u >= v {
		return
	}
	var wl, wh, sl, sh [2]float64
	for j, at := range [2]int64{u, v} {
		if low != nil {
			wl[j], sl[j] = l.at(low, kl, at)
		}
		if high != nil {
			wh[j], sh[j] = l.at(high, kh, at)
		}
	}
	if low != nil && high != nil && wh[0]+wh[1]-wl[0]-wl[1] <= 2*joinRows*l.rowM*stretch((sl[0]+sl[1]+sh[0]+sh[1])/4) {
		found(border{int32(low.vine(kl)), int32(high.vine(kh)), spot{X: u, Y: mm((wl[0] + wh[0]) / 2)}, spot{X: v, Y: mm((wl[1] + wh[1]) / 2)}})
		return
	}
	half := l.rowM / 2
	if low != nil {
		found(border{int32(low.vine(kl)), -1, spot{X: u, Y: mm(wl[0] + half*stretch(sl[0]))}, spot{X: v, Y: mm(wl[1] + half*stretch(sl[1]))}})
	}
	if high != nil {
		found(border{-1, int32(high.vine(kh)), spot{X: u, Y: mm(wh[0] - half*stretch(sh[0]))}, spot{X: v, Y: mm(wh[1] - half*stretch(sh[1]))}})
	}
}

// stretch is how much longer a way straight across the block is than one across
// a row of that slope.
func stretch(slope float64) float64 { return math.Sqrt(1 + slope*slope) }

// measure works out the area of every ground cell and who lies beside whom.
func (l *lie) measure() error {
	n := l.g.Len()
	l.cellM2 = make([]float64, n)
	l.left, l.right = make([]int32, n), make([]int32, n)
	shared := [2][]float32{make([]float32, n), make([]float32, n)} // m, on the left and right
	for i := range n {
		l.left[i], l.right[i] = -1, -1
	}
	l.borders(func(e border) {
		m2 := float64(e.b.X-e.a.X) * float64(e.a.Y+e.b.Y) / 2e6
		long := float32(e.b.X-e.a.X) / 1000
		if e.below >= 0 {
			l.cellM2[e.below] += m2
		}
		if e.above >= 0 {
			l.cellM2[e.above] -= m2
		}
		if e.below < 0 || e.above < 0 {
			return
		}
		if long > shared[0][e.below] {
			shared[0][e.below], l.left[e.below] = long, e.above
		}
		if long > shared[1][e.above] {
			shared[1][e.above], l.right[e.above] = long, e.below
		}
	})
	for i, m2 := range l.cellM2 {
		if !(m2 > 0) {
			return refuse(ErrGround, "vine %s has no ground of its own: its row meets another there; set its place right", l.g.Address(i))
		}
	}
	return nil
}
