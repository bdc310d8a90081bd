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
// deviation: 1 / Φ⁻¹(3/4).
const madScale = 1.482602218505602

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
// class with fewer than eight of them borrows the median of that class over all
// blocks of the map, in the proportion of the block's largest class to the same
// class over all; where that too has fewer than eight vines, the class is not
// judged. Medians are not drawn off by patches that cover less than half of a
// class, nor by a mistyped value.
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
	all := map[kind][]float64{}
	own := make([]map[kind][]float64, len(blocks))
	for k := range blocks {
		own[k] = group(&blocks[k])
		for g, values := range own[k] {
			all[g] = append(all[g], values...)
		}
	}
	wide := map[kind]level{}
	for g, values := range all {
		wide[g] = level{median(values), len(values)}
	}
	out := make([]expectation, len(blocks))
	for k := range blocks {
		out[k] = expectBlock(own[k], wide)
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

func expectBlock(own map[kind][]float64, wide map[kind]level) expectation {
	e := expectation{map[kind]float64{}, map[kind]float64{}}
	share := shareOfAll(own, wide)
	var about []float64 // deviations of all vines
	deviations := map[kind][]float64{}
	for _, g := range sortedKinds(own) {
		values := own[g]
		switch {
		case len(values) >= fewestAlike:
			e.levels[g] = median(values)
		case wide[g].n >= fewestAlike:
			e.levels[g] = share(wide[g].value)
		default:
			continue
		}
		for _, v := range values {
			deviations[g] = append(deviations[g], math.Abs(v-e.levels[g]))
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

// shareOfAll turns a level of all blocks into the block's, by the block's
// largest class; by difference where a level is not above 0.
func shareOfAll(own map[kind][]float64, wide map[kind]level) func(float64) float64 {
	var main kind
	most := 0
	for _, g := range sortedKinds(own) {
		if len(own[g]) > most {
			main, most = g, len(own[g])
		}
	}
	here, there := median(own[main]), wide[main].value
	return func(v float64) float64 {
		if most < fewestAlike {
			return v
		}
		if here > 0 && there > 0 && v > 0 {
			return v * here / there
		}
		return v + here - there
	}
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
