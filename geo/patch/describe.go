package patch

import (
	"math"
	"slices"

	"courson/geo/vine"
)

// Kind says which way a patch stands out.
type Kind uint8

// The kinds of patch.
const (
	Weak Kind = iota
	Strong
)

// String gives the word.
func (k Kind) String() string {
	if k == Strong {
		return "strong"
	}
	return "weak"
}

// side is above 0 for what stands out in the way of the kind.
func (k Kind) side(v float64) float64 {
	if k == Weak {
		return -v
	}
	return v
}

// Patch is an area of weak, or strong, vines that is more than chance. Values
// are in the unit of the column tested.
type Patch struct {
	Kind  Kind
	Block vine.ID
	// Vines are the positions in the outline, rising: those found, and those
	// among them that could not be tested.
	Vines  []int
	Found  int // vines found weak (strong)
	Living int
	Gaps   int // missing or dead
	Unseen int // living, but not tested

	AreaM2  float64 // of the outline
	RowM    float64 // metres of row inside
	Outline Outline

	// Mean over the vines found.
	Expected  float64
	Mean      float64
	Shortfall float64 // expected less mean; below 0 in a strong patch
	// ShortfallShare is the shortfall as a share of 1 of what was expected; 0
	// where nothing above 0 was expected.
	ShortfallShare float64

	// Leaf of the living vines of known leaf; all 0 where none is known.
	LeafMedian          float64
	LeafLeast, LeafMost int

	Z float64 // Gi* of the vine that stands out most
	Q float64 // and its adjusted p

	Since *Since // change since the earlier season; nil without values of both
}

// Hectares of the outline.
func (p *Patch) Hectares() float64 { return p.AreaM2 / 1e4 }

// GapShare is the gaps as a share of 1 of the positions in the outline.
func (p *Patch) GapShare() float64 { return float64(p.Gaps) / float64(len(p.Vines)) }

// Since is how the vines of a patch changed since an earlier season, beside the
// other vines of the block. Only vines with values in both seasons count.
type Since struct {
	Pairs, RestPairs       int
	Mean, RestMean         float64 // later less earlier
	Percent, RestPercent   float64 // of the earlier mean; 0 where that is not above 0
	MeanBefore, RestBefore float64
}

// add makes a patch of the vines given, if enough of them were found. across are
// all links between rows.
func (t *trial) add(kind Kind, vines []int, belongs []bool, across [][2]int) {
	p := Patch{Kind: kind, Block: t.block.Stand.Ground.Block, Vines: vines, Q: 1}
	for _, i := range vines {
		if belongs[i] {
			p.Found++
		}
	}
	if p.Found < t.in.Least {
		t.found.Scattered += p.Found
		return
	}
	in := make(map[int]bool, len(vines))
	var leaves []float64
	for _, i := range vines {
		in[i] = true
		t.count(&p, i, belongs[i])
		if leaf := t.block.Stand.Leaf[i]; leaf > 0 && t.block.Stand.Condition[i].Living() {
			leaves = append(leaves, float64(leaf))
		}
	}
	p.setMeans()
	if len(leaves) > 0 {
		p.LeafMedian, p.LeafLeast, p.LeafMost = median(leaves), int(slices.Min(leaves)), int(slices.Max(leaves))
	}
	p.Outline = t.plan.outline(vines, within(across, vines))
	p.AreaM2 = p.Outline.AreaM2()
	p.Since = t.since(in)
	t.found.Patches = append(t.found.Patches, p)
}

// count takes vine i into the sums of a patch.
func (t *trial) count(p *Patch, i int, found bool) {
	p.RowM += t.plan.lengthM(i)
	switch {
	case !t.block.Stand.Condition[i].Living():
		p.Gaps++
	case !t.found.Tested[i]:
		p.Unseen++
	}
	if t.block.Stand.Condition[i].Living() {
		p.Living++
	}
	if !found {
		return
	}
	p.Expected += t.found.Expected.Value[i]
	p.Mean += t.block.Value.Value[i]
	if z := t.found.Z[i]; math.Abs(z) > math.Abs(p.Z) {
		p.Z, p.Q = z, t.found.Q[i]
	}
}

// setMeans turns sums over the vines found into means.
func (p *Patch) setMeans() {
	n := float64(p.Found)
	p.Expected, p.Mean = p.Expected/n, p.Mean/n
	p.Shortfall = p.Expected - p.Mean
	if p.Expected > 0 {
		p.ShortfallShare = p.Shortfall / p.Expected
	}
}

// since compares the vines of a patch and the rest of the block with the earlier
// season.
func (t *trial) since(in map[int]bool) *Since {
	if t.block.Before.empty() {
		return nil
	}
	var s Since
	for _, i := range t.vines {
		if !t.block.Before.Seen[i] {
			continue
		}
		before, change := t.block.Before.Value[i], t.block.Value.Value[i]-t.block.Before.Value[i]
		if in[i] {
			s.Pairs, s.MeanBefore, s.Mean = s.Pairs+1, s.MeanBefore+before, s.Mean+change
		} else {
			s.RestPairs, s.RestBefore, s.RestMean = s.RestPairs+1, s.RestBefore+before, s.RestMean+change
		}
	}
	if s.Pairs == 0 {
		return nil
	}
	s.MeanBefore, s.Mean, s.Percent = means(s.MeanBefore, s.Mean, s.Pairs)
	s.RestBefore, s.RestMean, s.RestPercent = means(s.RestBefore, s.RestMean, s.RestPairs)
	return &s
}

func means(before, change float64, n int) (meanBefore, meanChange, percent float64) {
	if n == 0 {
		return 0, 0, 0
	}
	before, change = before/float64(n), change/float64(n)
	if before > 0 {
		percent = 100 * change / before
	}
	return before, change, percent
}
