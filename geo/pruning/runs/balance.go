package runs

// balance finds the division with the least misfit plus price of its runs.
//
// best[v][k] is the least cost of vine v and all after it where v gets
// instruction k: its misfit, and the cheaper of going on with k and of changing
// at v+1 to the best there. Costs are whole thousandths of a node, with the number
// of changes below them, so that of equal costs the fewest runs win and nothing is
// rounded. Work: vines × instructions.
func (s *Splitter[I]) balance() {
	n, m := len(s.vines), len(s.known)
	if n == 0 {
		s.given = s.given[:0]
		return
	}
	s.best = resize(s.best, n*m)
	change := thousandths(s.options.Change)<<changeBits + 1
	for v := n - 1; v >= 0; v-- {
		least := int64(0)
		if v+1 < n {
			least = minOf(s.best[(v+1)*m:(v+2)*m]) + change
		}
		for k := range m {
			rest := least
			if v+1 < n {
				rest = min(least, s.best[(v+1)*m+k])
			}
			s.best[v*m+k] = impossible
			if fit := s.fits[v*m+k]; fit < impossible && rest < impossible {
				s.best[v*m+k] = fit*1000<<changeBits + rest
			}
		}
	}
	s.follow(change)
}

// changeBits leaves room for a change at each of maxVines vines; above it fit
// maxVines × maxMisfit × 1000 thousandths, twice over.
const changeBits = 17

// follow walks the row from its first vine and takes the instructions that lead
// to the least cost.
func (s *Splitter[I]) follow(change int64) {
	n, m := len(s.vines), len(s.known)
	s.given = resize(s.given, n)
	at, ordinary := -1, -1
	for v := range n {
		row := s.best[v*m : (v+1)*m]
		least := minOf(row)
		switch {
		case at >= 0 && row[at] <= least+change && row[at] < impossible:
		case ordinary >= 0 && row[ordinary] == least:
			at = ordinary
		default:
			at = firstOf(row, least)
		}
		if !s.known[at].pinned {
			ordinary = at
		}
		s.given[v] = at
	}
}

func minOf(v []int64) int64 {
	least := v[0]
	for _, x := range v[1:] {
		least = min(least, x)
	}
	return least
}

func firstOf(v []int64, x int64) int {
	for k := range v {
		if v[k] == x {
			return k
		}
	}
	return 0
}

// resize gives a slice of length n, in the memory of v if that is enough; what
// stands in it is not cleared.
func resize[T any](v []T, n int) []T {
	if cap(v) < n {
		return make([]T, n)
	}
	return v[:n]
}
