package patch

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"courson/geo/stand"
)

// LeafClass is a span of leaves (growing seasons of a plant's life) whose vines
// are judged alike. The first four leaves stand alone, since vines are built up
// in them; the spans above are chosen by us.
type LeafClass struct{ From, To int } // both included; 0, 0: leaf not known

// ClassOfLeaf gives the class of a leaf.
func ClassOfLeaf(leaf int) LeafClass {
	switch {
	case leaf <= 0:
		return LeafClass{}
	case leaf <= 4:
		return LeafClass{leaf, leaf}
	}
	for _, c := range []LeafClass{{5, 7}, {8, 14}, {15, 29}} {
		if leaf <= c.To {
			return c
		}
	}
	return LeafClass{30, math.MaxInt}
}

// fewestAlike is the least number of measured vines of one leaf class from which
// a value to expect is taken; chosen by us.
const fewestAlike = 8

// Weights that draw the spread of a small group towards that of its block.
const spreadPrior = 20

// madScale makes the median absolute deviation of normal values their standard
// deviation: 1 / Φ⁻¹(3/4), to the digits that R takes.
const madScale = 1.4826

// kind is what vines must share to be expected to grow alike.
type kind struct {
	cultivar string
	leaf     LeafClass
}

func compareKinds(a, b kind) int {
	return cmp.Or(strings.Compare(a.cultivar, b.cultivar), cmp.Compare(a.leaf.From, b.leaf.From))
}

// level is what to expect of a kind in a block.
type level struct {
	value float64
	n     int
}

// expectation says what leaf and cultivar lead one to expect of each vine of a
// block: the median of the vines of its cultivar and leaf class in the block. A
// class with fewer than eight of them borrows from the other blocks of the map:
// the proportion of that class to the block's own largest one, where a block has
// eight vines of both (the median of such blocks). Where there is none, the class
// is not judged. Medians are not drawn off by patches that cover less than half
// of a class, nor by a mistyped value.
type expectation struct {
	levels map[kind]float64
	spread map[kind]float64 // robust standard deviation about the level
}

func kindOf(b *Block, i int) kind {
	k := kind{b.Cultivar, ClassOfLeaf(int(b.Stand.Leaf[i]))}
	if b.Cultivars != nil {
		k.cultivar = b.Cultivars[i]
	}
	return k
}

// judged tells whether vine i has a value that can be tested: a living vine that
// was seen.
func judged(s *stand.Stand, c Column, i int) bool {
	return c.Seen[i] && s.Condition[i].Living()
}

// expect gives the expectation of every block of the map.
func expect(blocks []Block) []expectation {
	values := make([]map[kind][]float64, len(blocks))
	levels := make([]map[kind]level, len(blocks))
	for k := range blocks {
		values[k], levels[k] = group(&blocks[k]), map[kind]level{}
		for g, v := range values[k] {
			levels[k][g] = level{median(v), len(v)}
		}
	}
	out := make([]expectation, len(blocks))
	for k := range blocks {
		out[k] = expectBlock(values[k], k, levels)
	}
	return out
}

func group(b *Block) map[kind][]float64 {
	out := map[kind][]float64{}
	for i := range b.Stand.Condition {
		if judged(b.Stand, b.Value, i) {
			g := kindOf(b, i)
			out[g] = append(out[g], b.Value.Value[i])
		}
	}
	return out
}

func expectBlock(values map[kind][]float64, block int, levels []map[kind]level) expectation {
	e := expectation{map[kind]float64{}, map[kind]float64{}}
	main := largest(levels[block])
	var about []float64 // deviations of all vines
	deviations := map[kind][]float64{}
	for _, g := range sortedKinds(values) {
		expected, ok := levels[block][g].value, levels[block][g].n >= fewestAlike
		if !ok {
			expected, ok = borrow(g, main, levels[block][main], levels)
		}
		if !ok {
			continue
		}
		e.levels[g] = expected
		for _, v := range values[g] {
			deviations[g] = append(deviations[g], math.Abs(v-expected))
		}
		about = append(about, deviations[g]...)
	}
	pooled := madScale * median(about)
	if pooled == 0 { // more than half on the median, as with scores
		pooled = rootMeanSquare(about)
	}
	for g, d := range deviations {
		n, mad := float64(len(d)), madScale*median(d)
		e.spread[g] = math.Sqrt((n*mad*mad + spreadPrior*pooled*pooled) / (n + spreadPrior))
	}
	return e
}

// largest is the kind with the most vines; of equal ones the first in order.
func largest(levels map[kind]level) (main kind) {
	most := 0
	for _, g := range sortedKinds(levels) {
		if levels[g].n > most {
			main, most = g, levels[g].n
		}
	}
	return main
}

// borrow gives the level of kind g from that of the main kind here and how the
// two stand to each other in other blocks; by difference where a level is not
// above 0.
func borrow(g, main kind, here level, levels []map[kind]level) (float64, bool) {
	if here.n < fewestAlike {
		return 0, false
	}
	var there []float64
	for _, l := range levels {
		a, b := l[g], l[main]
		switch {
		case a.n < fewestAlike || b.n < fewestAlike:
		case a.value > 0 && b.value > 0 && here.value > 0:
			there = append(there, here.value*a.value/b.value)
		default:
			there = append(there, here.value+a.value-b.value)
		}
	}
	return median(there), len(there) > 0
}

func sortedKinds[V any](m map[kind]V) []kind {
	var out []kind
	for g := range m {
		out = append(out, g)
	}
	slices.SortFunc(out, compareKinds)
	return out
}

func rootMeanSquare(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(max(1, len(v))))
}
