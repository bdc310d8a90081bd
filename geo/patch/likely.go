package patch

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"courson/geo/stand"
	"courson/geo/vine"
)

// ErrNoStructure is the answer for a sample that does not hang together in space:
// an estimate between its vines is no ground for areas.
var ErrNoStructure = errors.New("no structure in the sample")

// Sample is a block of which only some vines were measured and the others
// estimated between them.
type Sample struct {
	Stand *stand.Stand
	// Probability is how likely the vine lies under the limit, 0 to 1, by kriging;
	// without an entry where there is no estimate.
	Probability Column
	// Measured is what was seen on the vines of the sample.
	Measured Column
	// NuggetShare of the fitted variogram: at 1 a neighbour tells nothing.
	NuggetShare float64
	Level       float64 // probability from which a vine is likely weak; 0: 0.8
	Least       int     // fewest vines of an area; 0: 10
}

// LikelyPatch is an area where vines are likely weak by what was estimated
// between a few measured ones. It was not tested vine by vine: it is not a Patch
// and must not be shown as one.
type LikelyPatch struct {
	Block     vine.ID
	Vines     []int // positions in the outline, rising
	Estimated int   // living vines at or above the level
	Measured  int   // vines of the sample among them
	Living    int
	Gaps      int // missing or dead
	AreaM2    float64
	RowM      float64
	Outline   Outline
	// Probability of lying under the limit: mean and least of Estimated.
	Probability, LeastProbability float64
}

// Hectares of the outline.
func (p *LikelyPatch) Hectares() float64 { return p.AreaM2 / 1e4 }

// LikelyFound is what Likely found.
type LikelyFound struct {
	// Refused says why there are no areas to show: ErrNoStructure, ErrFewValues,
	// ErrNoSpread, ErrSpacing, ErrReach. Nil with no areas: none is likely weak.
	Refused  error
	Measured int     // vines of the sample
	Moran    Global  // of the sample
	PatchOf  []int32 // index in Patches for each vine, -1 for none
	Patches  []LikelyPatch
}

// What Likely takes where nothing is said, and its guards; chosen by us.
const (
	defaultLevel     = 0.8
	fewestSampled    = 20
	nuggetOnly       = 0.95
	wantedInSample   = 12 // values in reach of the test for structure
	leastLevelAsking = 0.5
)

// Likely joins the vines that lie under the limit with at least the set
// probability to areas. Where the sample shows no structure (Moran's I at 5 %, or
// a variogram that is all nugget) there are none: kriging is smooth by
// construction and would show areas in noise.
//
// Errors, for input that does not fit together: ErrColumn, ErrNotFinite,
// ErrOption.
func Likely(s Sample) (LikelyFound, error) {
	if err := s.check(); err != nil {
		return LikelyFound{}, err
	}
	if s.Level == 0 {
		s.Level = defaultLevel
	}
	if s.Least == 0 {
		s.Least = defaultLeast
	}
	n := s.Stand.Ground.Len()
	out := LikelyFound{PatchOf: slices.Repeat([]int32{-1}, n)}
	plan, err := layOut(s.Stand.Ground)
	if err == nil {
		err = s.structure(plan, &out)
	}
	if out.Refused = err; err != nil {
		return out, nil
	}
	s.findAreas(plan, &out)
	return out, nil
}

func (s Sample) check() error {
	if s.Stand == nil || s.Stand.Ground == nil {
		return fmt.Errorf("a sample without a stand: %w", ErrColumn)
	}
	if err := errors.Join(s.Probability.check("probabilities", s.Stand), s.Measured.check("measured values", s.Stand)); err != nil {
		return err
	}
	for i, seen := range s.Probability.Seen {
		if p := s.Probability.Value[i]; seen && (p < 0 || p > 1) {
			return fmt.Errorf("probability of vine %s is %v: %w", s.Stand.Ground.Address(i), p, ErrOption)
		}
	}
	if !(s.NuggetShare >= 0 && s.NuggetShare <= 1) {
		return fmt.Errorf("nugget share %v: %w: it lies between 0 and 1", s.NuggetShare, ErrOption)
	}
	if s.Level != 0 && !(s.Level >= leastLevelAsking && s.Level <= 1) || s.Least < 0 {
		return fmt.Errorf("level %v and least size of %d vines: %w: a level lies between %v and 1", s.Level, s.Least, ErrOption, leastLevelAsking)
	}
	return nil
}

// structure tests the sample itself, in a reach wide enough for its vines.
func (s Sample) structure(plan *plan, out *LikelyFound) error {
	var vines []int
	var v []float64
	for i := range s.Stand.Condition {
		if judged(s.Stand, s.Measured, i) {
			vines, v = append(vines, i), append(v, s.Measured.Value[i])
		}
	}
	if out.Measured = len(vines); len(vines) < fewestSampled {
		return fmt.Errorf("%w: %d living vines were measured, at least %d are needed", ErrFewValues, len(vines), fewestSampled)
	}
	x, y := plan.places(vines)
	each := plan.vineM * plan.pitchM * float64(len(plan.at)) / float64(len(vines)) // m² for each value
	r := math.Sqrt(wantedInSample * each / math.Pi)
	reach := plan.reach(r, r)
	if err := check(x, y, v, reach); err != nil {
		return err
	}
	var err error
	if out.Moran, err = moran(x, y, v, reach, nil); err != nil {
		return err
	}
	switch {
	case !out.Moran.Structured(structureLevel):
		return fmt.Errorf("%w: measured vines near each other are no more alike than others (Moran's I %.3f, p %.2g)",
			ErrNoStructure, out.Moran.I, out.Moran.P)
	case s.NuggetShare >= nuggetOnly:
		return fmt.Errorf("%w: the variogram is all nugget (%.0f %%)", ErrNoStructure, 100*s.NuggetShare)
	}
	return nil
}

func (s Sample) findAreas(plan *plan, out *LikelyFound) {
	n := len(plan.at)
	likely, estimated := make([]bool, n), make([]bool, n)
	for i := range n {
		estimated[i] = judged(s.Stand, s.Probability, i)
		likely[i] = estimated[i] && s.Probability.Value[i] >= s.Level
	}
	if !slices.Contains(likely, true) {
		return
	}
	reach := plan.reach(reachAlongM*rounded, reachRows*plan.pitchM*rounded)
	members := plan.enclose(likely, estimated, make([]bool, n), reach)
	l := plan.linksOf(members)
	for _, vines := range parts(members, l) {
		if p := s.describe(vines, likely); p.Estimated >= s.Least {
			p.setOutline(plan, l.across)
			out.Patches = append(out.Patches, p)
		}
	}
	slices.SortStableFunc(out.Patches, func(a, b LikelyPatch) int {
		return cmp.Or(cmp.Compare(b.Estimated, a.Estimated), cmp.Compare(a.Vines[0], b.Vines[0]))
	})
	for k, p := range out.Patches {
		for _, i := range p.Vines {
			out.PatchOf[i] = int32(k)
		}
	}
}

func (s Sample) describe(vines []int, likely []bool) LikelyPatch {
	p := LikelyPatch{Block: s.Stand.Ground.Block, Vines: vines, LeastProbability: 1}
	for _, i := range vines {
		if !s.Stand.Condition[i].Living() {
			p.Gaps++
			continue
		}
		p.Living++
		if s.Measured.Seen[i] {
			p.Measured++
		}
		if likely[i] {
			p.Estimated++
			p.Probability += s.Probability.Value[i]
			p.LeastProbability = min(p.LeastProbability, s.Probability.Value[i])
		}
	}
	p.Probability /= float64(max(1, p.Estimated))
	return p
}

func (p *LikelyPatch) setOutline(plan *plan, across [][2]int) {
	for _, i := range p.Vines {
		p.RowM += plan.lengthM(i)
	}
	p.Outline = plan.outline(p.Vines, within(across, p.Vines))
	p.AreaM2 = p.Outline.AreaM2()
}

// within keeps the pairs of which both vines are among those given, which rise.
func within(pairs [][2]int, vines []int) [][2]int {
	in := make(map[int]bool, len(vines))
	for _, i := range vines {
		in[i] = true
	}
	var out [][2]int
	for _, q := range pairs {
		if in[q[0]] && in[q[1]] {
			out = append(out, q)
		}
	}
	return out
}
