package renewal

import (
	"cmp"
	"fmt"
	"math"
)

// Facing is where the first clear bud of a shoot or spur faces, in the words of
// the record (vine.Spur); empty where nobody looked.
type Facing string

// Where a bud can face.
const (
	Below Facing = "below"
	Above Facing = "above"
	Side  Facing = "side" // across the row, into the alley
)

// Place is the wood a shoot stands on.
type Place string

// Where a shoot can stand.
const (
	OnSpur    Place = "spur"     // last winter's spur
	OnCane    Place = "cane"     // last winter's cane
	OnOldWood Place = "old wood" // head, arm or trunk: a water shoot
)

// Shoot is one ripe shoot of last summer, a candidate for spur or cane.
type Shoot struct {
	On   Place
	Node int // of the spur or cane it grew from: 1 the first clear bud, 0 the base bud; not read on old wood
	// OutMM is how far out along the arm it stands, from where this winter's spur
	// is expected: 0 the lower shoot of last winter's spur, more above it, less
	// than 0 nearer the trunk.
	OutMM     float64
	WoodYears int // age of the wood it stands on: 2 for last winter's spur or cane; 0 not known

	Faces        Facing  // its first clear bud
	BaseMM       float64 // base to first clear bud; 0 not measured
	InternodeMM  float64 // first to second clear bud; 0 not measured
	DiameterMM   float64 // 0 not measured
	Sound        bool    // ripe, alive, no disease
	BaseBudSound bool
}

func (s Shoot) oldWood() bool { return s.On == OnOldWood || s.WoodYears > 2 }

// lower orders shoots from the trunk outwards.
func lower(a, b Shoot) int {
	rank := map[Place]int{OnOldWood: 0, OnSpur: 1, OnCane: 2}
	return cmp.Or(cmp.Compare(a.OutMM, b.OutMM), cmp.Compare(rank[a.On], rank[b.On]), cmp.Compare(a.Node, b.Node))
}

// Bounds against slips, chosen by us.
const (
	farOutMM  = 3000
	longMM    = 500
	thickMM   = 60
	manyNodes = 60
)

func (s Shoot) check() error {
	switch {
	case s.On != OnSpur && s.On != OnCane && s.On != OnOldWood:
		return fmt.Errorf("%w: it stands on %q (spur, cane or old wood)", ErrShoot, s.On)
	case s.Faces != "" && s.Faces != Below && s.Faces != Above && s.Faces != Side:
		return fmt.Errorf("%w: its first clear bud faces %q (below, above, side, or nothing)", ErrShoot, s.Faces)
	case s.Node < 0 || s.Node > manyNodes:
		return fmt.Errorf("%w: it grew from node %d (0 to %d)", ErrShoot, s.Node, manyNodes)
	case s.WoodYears < 0 || s.WoodYears > 200:
		return fmt.Errorf("%w: it stands on wood of %d years", ErrShoot, s.WoodYears)
	case math.IsNaN(s.OutMM) || math.Abs(s.OutMM) > farOutMM:
		return fmt.Errorf("%w: it stands %g mm out (at most %d either way)", ErrShoot, s.OutMM, farOutMM)
	}
	for _, f := range []struct {
		name   string
		v, max float64
	}{{"base to first bud", s.BaseMM, longMM}, {"first to second bud", s.InternodeMM, longMM}, {"diameter", s.DiameterMM, thickMM}} {
		if math.IsNaN(f.v) || f.v < 0 || f.v > f.max {
			return fmt.Errorf("%w: %s is %g mm (0 to %g)", ErrShoot, f.name, f.v, f.max)
		}
	}
	return nil
}

// Verdict is how well a shoot serves as a cane.
type Verdict string

// Verdicts, best first. Unmeasured canes are taken as adequate, and said to be
// unmeasured.
const (
	Adequate Verdict = "adequate"
	Bull     Verdict = "bull cane"
	Thin     Verdict = "too thin"
	Unsound  Verdict = "unsound"
)

// JudgeCane says how well a shoot of this diameter serves as a cane, and why.
func JudgeCane(diameterMM float64, sound bool, settings Settings) (Verdict, string, error) {
	s, err := settings.filled()
	if err != nil {
		return "", "", err
	}
	v, why := s.judge(diameterMM, sound)
	return v, why, nil
}

func (s Settings) judge(mm float64, sound bool) (Verdict, string) {
	switch {
	case !sound:
		return Unsound, "dead, unripe or diseased"
	case mm == 0:
		return Adequate, fmt.Sprintf("not measured: see that it is %g mm thick at least", s.CaneLeastMM)
	case mm < s.CaneLeastMM:
		return Thin, fmt.Sprintf("%g mm, under %g mm", mm, s.CaneLeastMM)
	case mm > s.BullMM:
		return Bull, fmt.Sprintf("%g mm, over %g mm: opens unevenly, long between buds, cold tender", mm, s.BullMM)
	}
	return Adequate, fmt.Sprintf("%g mm", mm)
}

// worse orders verdicts.
func (v Verdict) worse() int {
	switch v {
	case Adequate:
		return 0
	case Bull:
		return 1
	case Thin:
		return 2
	}
	return 3
}
