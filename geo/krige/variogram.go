package krige

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Bin is one distance class of an empirical variogram.
type Bin struct {
	Pairs int
	Dist  float64 // mean distance of its pairs
	Gamma float64 // semivariance: half the mean squared difference
}

// Bins says how pairs are put into distance classes.
type Bins struct {
	// Edges are rising upper edges; a pair belongs to the first class whose edge
	// it does not exceed. Empty: fifteen classes up to a third of the diagonal
	// of the box around the points.
	Edges []float64
	// Where DirTolDeg is above 0 only pairs within so many degrees of the
	// direction DirDeg, clockwise from north, either way, are taken.
	DirDeg, DirTolDeg float64
}

// usual number of classes and share of the diagonal, as R's gstat has them.
const (
	usualBins   = 15
	usualCutoff = 3.0
)

// Empirical measures the variogram of the points. Points on one spot count as
// pairs at distance 0 and belong to no class. From each pair the mean of the two
// points' own error variances E is taken off, since it is known not to belong to
// the field; no class falls below 0. Cost is the square of the points; above
// some thousands take a Sample. Errors: ErrFewPoints under 3 points,
// ErrNoExtent, ErrNotFinite, ErrModel for edges that do not rise from above 0.
func Empirical(points []Point, b Bins) ([]Bin, error) {
	edges, err := b.edges(points)
	if err != nil {
		return nil, err
	}
	t := newTally(edges)
	for i, p := range points {
		for _, q := range points[:i] {
			if k, h := t.class(p.X-q.X, p.Y-q.Y); k >= 0 && b.directed(p, q) {
				t.add(k, h, p, q)
			}
		}
	}
	return t.bins(), nil
}

// edges gives the classes to be used for the points.
func (b Bins) edges(points []Point) ([]float64, error) {
	if len(points) < 3 {
		return nil, fmt.Errorf("variogram of %d points: %w", len(points), ErrFewPoints)
	}
	diagonal, err := diagonal(points)
	if err != nil {
		return nil, err
	}
	if len(b.Edges) == 0 {
		return EvenEdges(diagonal/usualCutoff, usualBins), nil
	}
	before := 0.0
	for _, e := range b.Edges {
		if !(e > before) || math.IsInf(e, 0) {
			return nil, fmt.Errorf("variogram: edges %v of the distance classes: %w", b.Edges, ErrModel)
		}
		before = e
	}
	return b.Edges, nil
}

// EvenEdges gives upper edges of so many equal classes up to a distance.
func EvenEdges(cutoff float64, classes int) []float64 {
	edges := make([]float64, max(0, classes))
	for i := range edges {
		edges[i] = cutoff * float64(i+1) / float64(classes)
	}
	return edges
}

// tally adds up pairs by distance class.
type tally struct {
	edges []float64
	last2 float64 // square of the last edge, a little wider
	pairs []int
	dist  []float64
	sums  []float64
}

func newTally(edges []float64) *tally {
	n := len(edges)
	last := edges[n-1]
	return &tally{edges: edges, last2: last * last * (1 + 1e-12), pairs: make([]int, n), dist: make([]float64, n), sums: make([]float64, n)}
}

// class gives the index of the distance class and the distance, -1 beyond the
// last edge and on one spot. Classes of equal width are found directly.
func (t *tally) class(dx, dy float64) (int, float64) {
	h := dx*dx + dy*dy
	if h > t.last2 {
		return -1, 0
	}
	h = math.Sqrt(h)
	last := len(t.edges) - 1
	if h == 0 || h > t.edges[last] {
		return -1, 0
	}
	k := min(last, int(h/t.edges[last]*float64(last+1)))
	for k > 0 && h <= t.edges[k-1] {
		k--
	}
	for h > t.edges[k] {
		k++
	}
	return k, h
}

func (t *tally) add(k int, h float64, p, q Point) {
	d := p.V - q.V
	t.pairs[k]++
	t.dist[k] += h
	t.sums[k] += d*d - p.E - q.E
}

// bins gives the classes that have pairs.
func (t *tally) bins() []Bin {
	out := []Bin{}
	for k, pairs := range t.pairs {
		if pairs > 0 {
			n := float64(pairs)
			out = append(out, Bin{Pairs: pairs, Dist: t.dist[k] / n, Gamma: max(0, t.sums[k]/(2*n))})
		}
	}
	return out
}

// directed tells whether a pair lies in the wanted direction.
func (b Bins) directed(p, q Point) bool {
	if b.DirTolDeg <= 0 || b.DirTolDeg >= 90 {
		return true
	}
	turned := math.Mod(math.Atan2(p.X-q.X, p.Y-q.Y)*180/math.Pi-b.DirDeg, 180)
	turned = math.Abs(turned)
	return min(turned, 180-turned) <= b.DirTolDeg+1e-9 // on a planting grid many lie just so
}

// diagonal of the box around the points.
func diagonal(points []Point) (float64, error) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i, p := range points {
		if !p.finite() {
			return 0, fmt.Errorf("point %d (%g, %g: %g ± %g): %w", i, p.X, p.Y, p.V, p.E, ErrNotFinite)
		}
		x0, x1 = min(x0, p.X), max(x1, p.X)
		y0, y1 = min(y0, p.Y), max(y1, p.Y)
	}
	d := math.Hypot(x1-x0, y1-y0)
	if d < 1e-9 {
		return 0, ErrNoExtent
	}
	return d, nil
}

// Sample gives at most so many of the points, in their order, chosen as if at
// random but always the same ones for the same places: which points are chosen
// does not depend on their order. Unlike every n-th point it keeps the mix of
// near and far pairs that a variogram is measured from.
func Sample(points []Point, most int) []Point {
	if len(points) <= most {
		return points
	}
	keys := make([]uint64, len(points))
	for i, p := range points {
		keys[i] = scatter(math.Float64bits(p.X) ^ scatter(math.Float64bits(p.Y)))
	}
	byKey := make([]int, len(points))
	for i := range byKey {
		byKey[i] = i
	}
	slices.SortStableFunc(byKey, func(a, b int) int { return cmp.Compare(keys[a], keys[b]) })
	chosen := byKey[:max(0, most)]
	slices.Sort(chosen)
	out := make([]Point, len(chosen))
	for k, i := range chosen {
		out[k] = points[i]
	}
	return out
}

// scatter mixes the bits of a number (G. L. Steele, D. Lea, C. H. Flood, Fast
// splittable pseudorandom number generators, OOPSLA 2014: its finisher).
func scatter(z uint64) uint64 {
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
