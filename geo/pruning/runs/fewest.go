package runs

// slack is how far over a limit still counts as within it, in nodes: sums of
// decimal fractions are not exact.
const slack = 1e-9

// fewest finds the fewest runs within the limit, and of these the least misfit.
//
// A run of vines v to w-1 under instruction k is allowed where the sum of their
// misfits is at most the sum of their allowances (MeanUnder), or each misfit is at
// most the vine's allowance (GreatestUnder). The allowance is the limit, or the
// least misfit that any instruction of the row gives the vine, if that is more: so
// a vine alone is always allowed. Two runs side by side with one instruction
// would be allowed as one, so that they never come out.
//
// best[v] is the least (runs, misfit) of vine v and all after it, packed into one
// number. Work: vines² × instructions for MeanUnder; less for GreatestUnder, where
// a run ends at the first vine that it cannot hold.
func (s *Splitter[I]) fewest() {
	n, m := len(s.vines), len(s.known)
	s.best, s.given, s.allow = resize(s.best, n+1), resize(s.given, n), resize(s.allow, n)
	for v := range n {
		s.allow[v] = max(s.options.Limit, float64(minOf(s.fits[v*m:(v+1)*m])))
	}
	s.best[n] = 0
	for v := n - 1; v >= 0; v-- {
		s.best[v] = impossible
		for k := range m {
			s.reach(v, k, func(w int, misfit int64) {
				if c := s.best[w] + oneRun + misfit; c < s.best[v] {
					s.best[v] = c
				}
			})
		}
	}
	ordinary := -1
	for v := 0; v < n; {
		k, w := s.choose(v, ordinary)
		for ; v < w; v++ {
			s.given[v] = k
		}
		if !s.known[k].pinned {
			ordinary = k
		}
	}
}

// oneRun weighs more than any sum of misfits (maxVines × maxMisfit < 2³⁰).
const oneRun = 1 << 40

// choose gives the instruction of the run that begins at vine v and where it
// ends: of the best ones the instruction of the last run of ordinary vines, else
// the first of the row, and then the longest run.
func (s *Splitter[I]) choose(v, ordinary int) (k, end int) {
	for round := range len(s.known) + 1 {
		k = round - 1
		if round == 0 {
			k = ordinary
		}
		if k < 0 {
			continue
		}
		end = -1
		s.reach(v, k, func(w int, misfit int64) {
			if s.best[w]+oneRun+misfit == s.best[v] {
				end = w
			}
		})
		if end > 0 {
			return k, end
		}
	}
	return s.own[v], v + 1
}

// reach calls do for every allowed run under instruction k that begins at vine v,
// with the vine after its last and its misfit, from the shortest on.
func (s *Splitter[I]) reach(v, k int, do func(w int, misfit int64)) {
	n, m := len(s.vines), len(s.known)
	var misfit int64
	allowance := slack
	for w := v; w < n; w++ {
		fit := s.fits[w*m+k]
		if fit >= impossible {
			return
		}
		if s.options.Goal == GreatestUnder && float64(fit) > s.allow[w]+slack {
			return
		}
		misfit += fit
		allowance += s.allow[w]
		if s.options.Goal == GreatestUnder || float64(misfit) <= allowance {
			do(w+1, misfit)
		}
	}
}
