package crew

import (
	"cmp"
	"math"
	"slices"
)

// rowByRow gives rows to crews one by one, wherever they lie: longest first to
// the crew that would finish soonest, those for skilled hands before the others;
// then moves and swaps as long as the last crew gets earlier; and where rows are
// few, by trying everything that could be better. exact: nothing can be better.
func (s *sharing) rowByRow() (to []int, exact bool) {
	order := s.longestFirst()
	to = make([]int, len(s.rows))
	load := slices.Clone(s.had)
	for _, r := range order {
		best := -1
		for c := range s.crews {
			if s.may(c, r) && (best < 0 || (load[c]+s.rows[r].Minutes)/s.speed[c] < (load[best]+s.rows[r].Minutes)/s.speed[best]-tiny) {
				best = c
			}
		}
		to[r] = best
		load[best] += s.rows[r].Minutes
	}
	s.improve(to)
	if s.greatest(to) <= s.least()*(1+tiny)+tiny {
		return to, true
	}
	if len(s.rows) <= mostTried {
		t := trial{sharing: s, order: order, to: slices.Clone(to), best: slices.Clone(to), days: s.greatest(to), load: slices.Clone(s.had), left: mostSteps}
		t.try(0)
		return t.best, t.left > 0
	}
	return to, false
}

// knownBound is how many times longer than the fairest sharing longest-first can
// be: 4/3 - 1/(3m) for m crews of one speed who may take every row and had nothing
// (R. L. Graham, Bounds on multiprocessing timing anomalies, SIAM Journal on
// Applied Mathematics 17, 1969). Elsewhere nothing is claimed beforehand.
func (s *sharing) knownBound() float64 {
	for c := range s.crews {
		if s.had[c] != 0 || s.speed[c] != s.speed[0] {
			return math.Inf(1)
		}
	}
	for r := range s.rows {
		for c := range s.crews {
			if !s.may(c, r) {
				return math.Inf(1)
			}
		}
	}
	return 4.0/3 - 1/(3*float64(len(s.crews)))
}

func (s *sharing) longestFirst() []int {
	order := s.all()
	rank := func(r int) int {
		if s.rows[r].Skilled {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Or(rank(a)-rank(b), cmp.Compare(s.rows[b].Minutes, s.rows[a].Minutes))
	})
	return order
}

// mostRounds bounds moves and swaps.
const mostRounds = 200

// improve takes a row from the crew that finishes last, for nothing or for
// another row, as long as the later of the two crews gets earlier.
func (s *sharing) improve(to []int) {
	load := s.loads(to)
	for range mostRounds {
		last := 0
		for c := range load {
			if load[c]/s.speed[c] > load[last]/s.speed[last]+tiny {
				last = c
			}
		}
		if !s.relieve(to, load, last) {
			return
		}
	}
}

// relieve makes the one move or swap that helps most.
func (s *sharing) relieve(to []int, load []float64, last int) bool {
	days := load[last] / s.speed[last]
	best, give, take, taker := days-tiny*(1+days), -1, -1, -1
	for r := range to {
		if to[r] != last {
			continue
		}
		for c := range s.crews {
			if c == last || !s.may(c, r) {
				continue
			}
			if d := max((load[c]+s.rows[r].Minutes)/s.speed[c], (load[last]-s.rows[r].Minutes)/s.speed[last]); d < best {
				best, give, take, taker = d, r, -1, c
			}
		}
	}
	if give < 0 && len(to) <= mostSwapped {
		for r := range to {
			for q := range to {
				c := to[q]
				if to[r] != last || c == last || !s.may(c, r) || !s.may(last, q) {
					continue
				}
				d := s.rows[r].Minutes - s.rows[q].Minutes
				if d := max((load[c]+d)/s.speed[c], (load[last]-d)/s.speed[last]); d < best {
					best, give, take, taker = d, r, q, c
				}
			}
		}
	}
	if give < 0 {
		return false
	}
	to[give] = taker
	if take >= 0 {
		to[take] = last
	}
	copy(load, s.loads(to))
	return true
}

// mostSwapped is the number of rows up to which swaps are looked for: beyond it
// longest first leaves next to nothing to gain.
const mostSwapped = 300

// Limits of trying everything.
const (
	mostTried = 16
	mostSteps = 300_000
)

// trial tries every way to give rows to crews that could still beat the best.
type trial struct {
	*sharing
	order    []int
	to, best []int
	days     float64
	load     []float64
	left     int // steps
}

func (t *trial) try(k int) {
	if t.left--; t.left <= 0 {
		return
	}
	if k == len(t.order) {
		if days := t.greatest(t.to); days < t.days {
			t.days = days
			copy(t.best, t.to)
		}
		return
	}
	r := t.order[k]
	for c := range t.crews {
		after := t.load[c] + t.rows[r].Minutes
		if !t.may(c, r) || after/t.speed[c] >= t.days*(1-1e-12) || t.alike(c) {
			continue
		}
		before := t.load[c]
		t.load[c], t.to[r] = after, c
		t.try(k + 1)
		t.load[c] = before
		if t.left <= 0 {
			return
		}
	}
}

// alike tells that an earlier crew stands the same, so that trying this one too
// would find nothing else.
func (t *trial) alike(c int) bool {
	for d := range c {
		if t.load[d] == t.load[c] && t.speed[d] == t.speed[c] && t.crews[d].Skilled == t.crews[c].Skilled {
			return true
		}
	}
	return false
}
