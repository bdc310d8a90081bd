package krige

import (
	"fmt"
	"math"
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
// pairs at distance 0 and belong to no class. Cost is the square of the points;
// above some thousands take a sample. Errors: ErrFewPoints under 3 points,
// ErrNoExtent, ErrNotFinite.
func Empirical(points []Point, b Bins) ([]Bin, error) {
	if len(points) < 3 {
		return nil, fmt.Errorf("variogram of %d points: %w", len(points), ErrFewPoints)
	}
	edges := b.Edges
	diagonal, err := diagonal(points)
	if err != nil {
		return nil, err
	}
	if len(edges) == 0 {
		for i := range usualBins {
			edges = append(edges, diagonal/usualCutoff*float64(i+1)/usualBins)
		}
	}
	bins := make([]Bin, len(edges))
	sums := make([]float64, len(edges))
	for i, p := range points {
		for _, q := range points[:i] {
			h := math.Hypot(p.X-q.X, p.Y-q.Y)
			k := class(edges, h)
			if h == 0 || k < 0 || !b.directed(p, q) {
				continue
			}
			bins[k].Pairs++
			bins[k].Dist += h
			sums[k] += (p.V - q.V) * (p.V - q.V)
		}
	}
	out := bins[:0]
	for k, bin := range bins {
		if bin.Pairs > 0 {
			n := float64(bin.Pairs)
			out = append(out, Bin{Pairs: bin.Pairs, Dist: bin.Dist / n, Gamma: sums[k] / (2 * n)})
		}
	}
	return out, nil
}

// class gives the index of the distance class, -1 beyond the last edge. Classes
// of equal width are found directly.
func class(edges []float64, h float64) int {
	last := len(edges) - 1
	if h > edges[last] {
		return -1
	}
	k := min(last, int(h/edges[last]*float64(len(edges))))
	for k > 0 && h <= edges[k-1] {
		k--
	}
	for h > edges[k] {
		k++
	}
	return k
}

// directed tells whether a pair lies in the wanted direction.
func (b Bins) directed(p, q Point) bool {
	if b.DirTolDeg <= 0 || b.DirTolDeg >= 90 {
		return true
	}
	turned := math.Mod(math.Atan2(p.X-q.X, p.Y-q.Y)*180/math.Pi-b.DirDeg, 180)
	turned = math.Abs(turned)
	return min(turned, 180-turned) <= b.DirTolDeg
}

// diagonal of the box around the points.
func diagonal(points []Point) (float64, error) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i, p := range points {
		if s := p.X + p.Y + p.V; math.IsNaN(s) || math.IsInf(s, 0) {
			return 0, fmt.Errorf("point %d: %w", i, ErrNotFinite)
		}
		x0, x1 = min(x0, p.X), max(x1, p.X)
		y0, y1 = min(y0, p.Y), max(y1, p.Y)
	}
	d := math.Hypot(x1-x0, y1-y0)
	if d == 0 {
		return 0, ErrNoExtent
	}
	return d, nil
}
