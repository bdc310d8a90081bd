package renewal

import "fmt"

// RuleText is the rule for the pruner who decides at the vine, line by line.
func RuleText(settings Settings) ([]string, error) {
	s, err := settings.filled()
	if err != nil {
		return nil, err
	}
	return s.rule(), nil
}

func (s Settings) rule() []string {
	return []string{
		"Take the lowest sound shoot of last winter's spur for the new spur, one above it for the cane.",
		"First clear bud below: leave 2 nodes. The lower shoot is next winter's spur, the upper one its cane.",
		fmt.Sprintf("First clear bud on top: if the second bud sits at most %.0f mm from the base, leave 3 nodes and rub off the first and the base shoots at shoot thinning.", s.ClimbLimitMM),
		"If it sits farther out: leave 1 node and the base bud, if the base bud is sound, and check at shoot thinning that both pushed.",
		"First clear bud to a side: leave 2 nodes and turn both shoots into the row at shoot thinning.",
		"No usable spur: lay a cane from the base of last year's cane.",
		fmt.Sprintf("Cane: %.0f to %.0f mm thick, ripe, round, from near the head.", s.CaneLeastMM, s.BullMM),
		fmt.Sprintf("Cut on the upper face, clear of the path of the sap, and leave spare wood: %.0f mm at least.", s.StubLeastMM),
	}
}

// FollowUpKind is what is to be done at shoot thinning.
type FollowUpKind string

// Follow-ups.
const (
	RubOff     FollowUpKind = "rub off"     // shoots that are not wanted
	CheckBoth  FollowUpKind = "check both"  // whether both shoots pushed
	TurnIn     FollowUpKind = "turn in"     // shoots that stand across the row
	KeepLow    FollowUpKind = "keep low"    // low shoots on a cane that stands for a spur
	KeepWater  FollowUpKind = "keep water"  // a water shoot that is to rebuild the arm
	SeeFacings FollowUpKind = "see facings" // of a spur that was left without looking
)

// FollowUp is a visit that a choice needs at shoot thinning.
type FollowUp struct {
	Arm    string
	Kind   FollowUpKind
	Keep   []int // nodes whose shoots stay; 0 the base bud
	RubOff []int // nodes whose shoots go; 0 base shoots
	Text   string
}

func (p Spur) followUps(arm string) []FollowUp {
	f := FollowUp{Arm: arm}
	switch p.Way {
	case ThreeNodes:
		f.Kind, f.Keep, f.RubOff = RubOff, []int{2, 3}, []int{0, 1}
		f.Text = "At shoot thinning keep the second and third shoots of the spur; rub off the first and the base shoots."
	case BaseBud:
		f.Kind, f.Keep = CheckBoth, []int{0, 1}
		f.Text = "At shoot thinning check that both the base bud and the first bud of the spur pushed; keep both shoots."
	case TwoNodesSide:
		f.Kind, f.Keep = TurnIn, []int{1, 2}
		f.Text = "At shoot thinning turn both shoots of the spur into the row before they stiffen."
	case LookFirst:
		f.Kind = SeeFacings
		f.Text = "At shoot thinning see which shoot of the spur stands lower: keep it and the next one above, rub off the rest."
	default:
		return nil
	}
	return []FollowUp{f}
}
