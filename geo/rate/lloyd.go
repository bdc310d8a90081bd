package rate

import (
	"math"
	"math/rand/v2"
)

// Partition is what k-means found: points sorted to the nearest of k centres.
type Partition struct {
	Class    []uint8     // 0 to k-1 of each point
	Centres  [][]float64 // k centres of d numbers
	WithinSS float64
	TotalSS  float64
}

// Explained is the share of the variance between the classes, 0 to 1.
func (p *Partition) Explained() float64 {
	if p.TotalSS <= 0 {
		return 0
	}
	return max(0, 1-p.WithinSS/p.TotalSS)
}

// Large sets: the best of the starts is found on so many points drawn by the
// seed, and all points start from there; the last run then ends when fewer than
// one point in restlessShare changes its class. Chosen by us.
const (
	startOn       = 20_000
	restlessShare = 10_000
	mostRounds    = 200
)

// KMeans sorts points of d numbers each (one after the other in z) into k classes:
// Lloyd's algorithm (S. P. Lloyd, IEEE Trans. Information Theory 28, 1982) from
// the best of so many starts, each drawn by k-means++ (D. Arthur and S.
// Vassilvitskii, SODA 2007). The same seed gives the same classes. Errors:
// ErrOption, ErrFewValues, ErrNotFinite, ErrDistinct.
func KMeans(z []float64, d, k, starts int, seed uint64) (*Partition, error) {
	if err := checkPoints(z, d, k); err != nil {
		return nil, err
	}
	if starts < 1 {
		return nil, refuse(ErrOption, "%d starts: at least 1 is needed", starts)
	}
	draw := rand.New(rand.NewPCG(seed, 0x5eed))
	sample := sampled(z, d, draw)
	if distinct(sample, d, k) < k {
		sample = z
	}
	var best *Partition
	for range starts {
		p := &Partition{Centres: spreadStarts(sample, d, k, draw)}
		p.run(sample, d, 0)
		if best == nil || p.WithinSS < best.WithinSS {
			best = p
		}
	}
	if len(sample) != len(z) {
		best.run(z, d, len(z)/d/restlessShare)
	}
	best.TotalSS = totalSS(z, d)
	return best, nil
}

func checkPoints(z []float64, d, k int) error {
	if d < 1 || len(z)%max(1, d) != 0 || k < 1 || k > mostClasses {
		return refuse(ErrOption, "%d numbers for points of %d, %d classes: not possible", len(z), d, k)
	}
	for i, v := range z {
		if !finite(v) {
			return refuse(ErrNotFinite, "value %d is not a number", i)
		}
	}
	if got := distinct(z, d, k); got < k {
		if got == 0 {
			return refuse(ErrFewValues, "no values to sort into classes")
		}
		return refuse(ErrDistinct, "%d classes asked for, but there are only %d different values: ask for fewer", k, got)
	}
	return nil
}

// distinct counts different points, up to enough.
func distinct(z []float64, d, enough int) int {
	var seen [][]float64
next:
	for i := 0; i < len(z) && len(seen) < enough; i += d {
		for _, s := range seen {
			if same(s, z[i:i+d]) {
				continue next
			}
		}
		seen = append(seen, z[i:i+d])
	}
	return len(seen)
}

func same(a, b []float64) bool {
	for j := range a {
		if a[j] != b[j] {
			return false
		}
	}
	return true
}

// sampled draws startOn points, or gives all where there are not more.
func sampled(z []float64, d int, draw *rand.Rand) []float64 {
	n := len(z) / d
	if n <= startOn {
		return z
	}
	out := make([]float64, 0, startOn*d)
	for k := range startOn { // one from each of as many equal stretches
		lo, hi := k*n/startOn, (k+1)*n/startOn
		i := lo + draw.IntN(hi-lo)
		out = append(out, z[i*d:i*d+d]...)
	}
	return out
}

// spreadStarts draws k points, each in proportion to its squared distance from
// those drawn before.
func spreadStarts(z []float64, d, k int, draw *rand.Rand) [][]float64 {
	n := len(z) / d
	point := func(i int) []float64 { return append([]float64(nil), z[i*d:i*d+d]...) }
	centres := [][]float64{point(draw.IntN(n))}
	away := make([]float64, n)
	for i := range away {
		away[i] = math.Inf(1)
	}
	for len(centres) < k {
		var sum float64
		last := centres[len(centres)-1]
		for i := range away {
			away[i] = min(away[i], squared(z[i*d:i*d+d], last))
			sum += away[i]
		}
		left, at := draw.Float64()*sum, -1
		for i, a := range away {
			if a > 0 {
				at = i
				if left -= a; left < 0 {
					break
				}
			}
		}
		centres = append(centres, point(at))
	}
	return centres
}

func squared(a, b []float64) (sum float64) {
	for j := range a {
		sum += (a[j] - b[j]) * (a[j] - b[j])
	}
	return sum
}

// run moves centres to the means of their points until at most restless points
// change. A class left empty takes the point farthest from its centre.
func (p *Partition) run(z []float64, d, restless int) {
	p.Class = make([]uint8, len(z)/d)
	for round := range mostRounds {
		changed := p.assign(z, d, round == 0)
		if changed <= restless && round > 0 {
			break
		}
		p.move(z, d)
	}
	p.assign(z, d, false)
}

func (p *Partition) assign(z []float64, d int, first bool) (changed int) {
	p.WithinSS = 0
	for i := range p.Class {
		c, least := nearest(z[i*d:i*d+d], p.Centres)
		if first || p.Class[i] != uint8(c) {
			changed++
			p.Class[i] = uint8(c)
		}
		p.WithinSS += least
	}
	return changed
}

// nearest centre, the first of equals, and its squared distance.
func nearest(point []float64, centres [][]float64) (c int, least float64) {
	least = math.Inf(1)
	for k, centre := range centres {
		if s := squared(point, centre); s < least {
			c, least = k, s
		}
	}
	return c, least
}

func (p *Partition) move(z []float64, d int) {
	counts := make([]int, len(p.Centres))
	sums := make([]float64, len(p.Centres)*d)
	for i, c := range p.Class {
		counts[c]++
		for j := range d {
			sums[int(c)*d+j] += z[i*d+j]
		}
	}
	for c := range p.Centres {
		if counts[c] == 0 {
			copy(p.Centres[c], p.farthest(z, d))
			continue
		}
		for j := range d {
			p.Centres[c][j] = sums[c*d+j] / float64(counts[c])
		}
	}
}

func (p *Partition) farthest(z []float64, d int) []float64 {
	at, most := 0, -1.0
	for i := range p.Class {
		if _, s := nearest(z[i*d:i*d+d], p.Centres); s > most {
			at, most = i, s
		}
	}
	return z[at*d : at*d+d]
}

func totalSS(z []float64, d int) (sum float64) {
	mean := make([]float64, d)
	n := float64(len(z) / d)
	for i, v := range z {
		mean[i%d] += v / n
	}
	for i, v := range z {
		sum += (v - mean[i%d]) * (v - mean[i%d])
	}
	return sum
}
