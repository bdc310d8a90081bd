package rate

import (
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

// Fuzzy is what fuzzy c-means found: every point belongs to every class by a
// share, its membership.
type Fuzzy struct {
	M          float64 // fuzziness exponent
	Centres    [][]float64
	Membership []float64 // of point i in class c at i*k + c; sums to 1 over c
	Objective  float64   // sum of membership^M times squared distance
	Rounds     int
}

// DefaultFuzziness is the exponent where none is set (common practice: 1.3 to 2).
const DefaultFuzziness = 2

// FuzzyMeans sorts points as KMeans does, but by shares (J. C. Bezdek, Pattern
// Recognition with Fuzzy Objective Function Algorithms, 1981), starting from the
// centres of k-means with the same seed. m is above 1. Errors as of KMeans.
func FuzzyMeans(z []float64, d, k int, m float64, starts int, seed uint64) (*Fuzzy, error) {
	if !(m > 1) || m > 10 {
		return nil, refuse(ErrOption, "fuzziness %g: above 1 and at most 10 is possible, 2 is usual", m)
	}
	p, err := KMeans(z, d, k, starts, seed)
	if err != nil {
		return nil, err
	}
	centres := p.Centres
	if sample := sampled(z, d, rand.New(rand.NewPCG(seed, 0xf022))); len(sample) < len(z) {
		centres = fuzzyFrom(sample, d, centres, m).Centres // nearly there already
	}
	return fuzzyFrom(z, d, centres, m), nil
}

// Rounds end when no centre moves by more than stillStep on the standardised
// scale, or by coarseStep where there are more than coarseFrom points, of which
// no map shows the difference.
const (
	stillStep      = 1e-10
	coarseStep     = 1e-4
	coarseFrom     = 2000
	mostFuzzRounds = 500
)

// fuzzyFrom runs from given centres.
func fuzzyFrom(z []float64, d int, centres [][]float64, m float64) *Fuzzy {
	f := &Fuzzy{M: m}
	for _, c := range centres {
		f.Centres = append(f.Centres, slices.Clone(c))
	}
	still := stillStep
	if len(z)/d > coarseFrom {
		still = coarseStep
	}
	for f.Rounds = 1; f.Rounds <= mostFuzzRounds; f.Rounds++ {
		if f.move(z, d) <= still {
			break
		}
	}
	f.Membership = make([]float64, len(z)/d*len(centres))
	f.Objective = f.share(z, d)
	return f
}

// share works out memberships from the centres, and gives the objective.
func (f *Fuzzy) share(z []float64, d int) (objective float64) {
	k := len(f.Centres)
	for i := range len(z) / d {
		u := f.Membership[i*k : i*k+k]
		memberships(z[i*d:i*d+d], f.Centres, f.M, u)
		for c, share := range u {
			objective += f.power(share) * squared(z[i*d:i*d+d], f.Centres[c])
		}
	}
	return objective
}

func (f *Fuzzy) power(u float64) float64 {
	if f.M == 2 {
		return u * u
	}
	return math.Pow(u, f.M)
}

// memberships writes the shares of one point. A point on a centre belongs to it
// whole, on two alike to both.
func memberships(point []float64, centres [][]float64, m float64, u []float64) {
	least := math.Inf(1)
	for c, centre := range centres {
		u[c] = squared(point, centre)
		least = min(least, u[c])
	}
	var sum float64
	for c := range u {
		switch {
		case least == 0 && u[c] == 0:
			u[c] = 1
		case least == 0:
			u[c] = 0
		case m == 2:
			u[c] = least / u[c]
		default:
			u[c] = math.Pow(least/u[c], 1/(m-1))
		}
		sum += u[c]
	}
	for c := range u {
		u[c] /= sum
	}
}

// move puts the centres at the weighted means and gives the longest way. Points
// are summed in equal stretches, and those sums in order, so that the result does
// not depend on how many processors there are.
func (f *Fuzzy) move(z []float64, d int) (far float64) {
	n, k := len(z)/d, len(f.Centres)
	stretches := n/startOn + 1
	sums := make([][]float64, stretches)
	var wg sync.WaitGroup
	for s := range stretches {
		wg.Go(func() { sums[s] = f.sums(z[s*n/stretches*d:(s+1)*n/stretches*d], d) })
	}
	wg.Wait()
	for _, s := range sums[1:] {
		for j := range s {
			sums[0][j] += s[j]
		}
	}
	for c := range k {
		of := sums[0][c*(d+1) : (c+1)*(d+1)]
		if of[d] <= 0 {
			continue
		}
		for j := range d {
			to := of[j] / of[d]
			far = max(far, math.Abs(to-f.Centres[c][j]))
			f.Centres[c][j] = to
		}
	}
	return far
}

// sums gives for each class the sum of its points, each times its membership to
// the power m, followed by the sum of those powers.
func (f *Fuzzy) sums(z []float64, d int) []float64 {
	k := len(f.Centres)
	out, u := make([]float64, k*(d+1)), make([]float64, k)
	for i := 0; i < len(z); i += d {
		memberships(z[i:i+d], f.Centres, f.M, u)
		for c, share := range u {
			w, of := f.power(share), out[c*(d+1):(c+1)*(d+1)]
			for j := range d {
				of[j] += w * z[i+j]
			}
			of[d] += w
		}
	}
	return out
}

// PartitionCoefficient is F, the mean of squared memberships: 1 where every point
// belongs to one class alone, 1/k where to all alike.
func (f *Fuzzy) PartitionCoefficient() float64 {
	var sum float64
	for _, u := range f.Membership {
		sum += u * u
	}
	return sum / f.points()
}

// PartitionEntropy is H in nats.
func (f *Fuzzy) PartitionEntropy() float64 {
	var sum float64
	for _, u := range f.Membership {
		if u > 0 {
			sum -= u * math.Log(u)
		}
	}
	return sum / f.points()
}

func (f *Fuzzy) points() float64 { return float64(len(f.Membership) / len(f.Centres)) }

// Performance is the fuzziness performance index FPI = 1 - (kF - 1)/(k - 1): 0 for
// clear classes, 1 for none (I. O. A. Odeh and others, Soil Sci. Soc. Am. J. 56,
// 1992); 0 for one class.
func (f *Fuzzy) Performance() float64 {
	k := float64(len(f.Centres))
	if k < 2 {
		return 0
	}
	return max(0, min(1, 1-(k*f.PartitionCoefficient()-1)/(k-1)))
}

// Entropy is the normalised classification entropy NCE = H / (1 - k/n), in nats
// (J. C. Bezdek, 1981); papers also call H / ln k so, see ModifiedEntropy. 0
// where there are not more points than classes.
func (f *Fuzzy) Entropy() float64 {
	k := float64(len(f.Centres))
	if f.points() <= k {
		return 0
	}
	return f.PartitionEntropy() / (1 - k/f.points())
}

// ModifiedEntropy is H / ln k, 0 to 1 (modified partition entropy, MPE).
func (f *Fuzzy) ModifiedEntropy() float64 {
	if len(f.Centres) < 2 {
		return 0
	}
	return f.PartitionEntropy() / math.Log(float64(len(f.Centres)))
}
