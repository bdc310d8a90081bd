package patch

import (
	"cmp"
	"math"
	"slices"
)

// Gi* answers for a vine's surroundings: a sound vine beside a weak patch has
// weak surroundings too, so that the found area is wider than the patch by part
// of the reach. What follows takes from each found area the vines that do not
// themselves belong to it.
//
// Within the area each vine is either sound (its residual normal about 0) or
// weak (about the area's own level), and vines beside each other are likely to be
// the same: a Markov random field of two states, solved by mean field (J. Besag,
// J. R. Stat. Soc. B 48, 1986, for images; J. Zhang, IEEE Trans. Signal
// Processing 40, 1992). Vines are kept from the surest on, as long as the mean
// probability of being sound among those kept is at most the rate (M. A. Newton
// and others, Biostatistics 5, 2004), so that the rate holds vine by vine, and
// not only area by area. Constants chosen by us, tried on planted patches.
const (
	likeness    = 3.3 // log-odds that all neighbours in the area together add if weak, and take if sound
	fewestClose = 4
	rimRate     = 0.05 // the mean probability that is held to where the rate asked for is higher
	rounds      = 30   // of the mean field
	levelling   = 3    // times the level of the area is taken anew
	damping     = 0.5
)

// area is one found area.
type area struct {
	resid []float64 // of each vine in units of the spread, weak ones above 0
	gi    []float64 // |z| of each vine
	near  [][]int32 // tested neighbours of each vine inside the area
	close float64   // tested neighbours of a vine, in the area or not, on average
}

// keep tells which vines belong.
func (a *area) keep(rate float64) []bool {
	p := a.belonging()
	order := make([]int, len(p))
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(i, j int) int { return cmp.Compare(p[j], p[i]) })
	kept := make([]bool, len(p))
	rate = min(rate, rimRate)
	var sound float64
	for n, k := range order {
		sound += 1 - p[k]
		if sound > rate*float64(n+1) {
			break
		}
		kept[k] = true
	}
	return kept
}

// belonging is each vine's probability of being of the patch.
func (a *area) belonging() []float64 {
	p := make([]float64, len(a.resid))
	core := a.core()
	for k := range p {
		p[k] = core[k]
	}
	for range levelling {
		level := a.level(p)
		for range rounds {
			p = a.round(p, level)
		}
	}
	return p
}

// core marks the quarter of the vines whose surroundings stand out most.
func (a *area) core() []float64 {
	z := slices.Sorted(slices.Values(a.gi))
	limit := z[len(z)*3/4]
	out := make([]float64, len(a.gi))
	for k, v := range a.gi {
		if v >= limit {
			out[k] = 1
		}
	}
	return out
}

// level is the mean residual of the vines that belong.
func (a *area) level(p []float64) float64 {
	var sum, n float64
	for k, w := range p {
		sum += w * a.resid[k]
		n += w
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// round is one step of the mean field.
func (a *area) round(p []float64, level float64) []float64 {
	next := make([]float64, len(p))
	each := likeness / max(a.close, fewestClose)
	for k := range p {
		odds := level * (a.resid[k] - level/2)
		for _, j := range a.near[k] {
			odds += each * (2*p[j] - 1)
		}
		next[k] = (1-damping)*p[k] + damping/(1+math.Exp(-odds))
	}
	return next
}
