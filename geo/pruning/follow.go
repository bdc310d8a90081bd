package pruning

import "fmt"

// When is the part of the season for a follow-up.
type When string

// The parts of the season.
const (
	AtBudburst     When = "budburst"
	AtShootThining When = "shoot_thinning" // five leaves, shoots about 10 cm, to eight leaves
	BeforeBloom    When = "bloom"
	AtFruitSet     When = "fruit_set"
)

// FollowKind names a follow-up.
type FollowKind string

// The follow-ups that the amount of wood makes; those of single spurs and buds
// are the renewal's matter.
const (
	FollowKeepTwo     FollowKind = "keep_two_shoots"     // cut back: keep the two best shoots, tie the straighter
	FollowRubTrunk    FollowKind = "rub_trunk"           // new trunk: keep the top shoots only
	FollowNoClusters  FollowKind = "take_all_clusters"   // no crop allowed
	FollowThin        FollowKind = "thin_clusters"       // a share of the crop
	FollowFinish      FollowKind = "finish_pruning"      // minimal pruning: finish after budburst
	FollowLookOpen    FollowKind = "look_at_budburst"    // does it open at all
	FollowOverSpan    FollowKind = "take_buds_past_span" // canes longer than their wire
	FollowCountShoots FollowKind = "count_shoots"        // nodes raised or guessed: count what comes
)

// FollowUp is something that this winter's wood asks for later in the season.
type FollowUp struct {
	Kind FollowKind `json:"kind"`
	When When       `json:"when"`
	Text string     `json:"text"`
}

// FollowUps gives what the decision for vine i asks for, in the order of the
// season; nil where nothing.
func (r *Result) FollowUps(i int) (out []FollowUp) {
	if r.Bound[i] == BoundNone {
		return nil
	}
	f, in := r.Flags[i], r.Instructions[i]
	add := func(is bool, kind FollowKind, when When, text string) {
		if is {
			out = append(out, FollowUp{kind, when, text})
		}
	}
	add(f&FlagMinimal != 0, FollowFinish, AtBudburst, "Many buds were dead: finish pruning when it shows which buds have opened.")
	add(f&(FlagLookFirst|FlagRebuild) != 0, FollowLookOpen, AtBudburst, "See whether it opens, and where.")
	add(in.CutBack > 0, FollowKeepTwo, AtShootThining, "Keep the two best shoots, tie up the straighter one, rub off the rest.")
	add(in.Trunk > 0, FollowRubTrunk, AtShootThining, fmt.Sprintf("Keep the top %d shoots of the new trunk, rub off those below.", in.Trunk))
	add(f&FlagOverSpan != 0, FollowOverSpan, AtShootThining, "The cane is longer than its wire: bow it, or take off the shoots past its end.")
	add(f&FlagNoVigour != 0 || r.Reasons[i]&ReasonDeadBuds != 0, FollowCountShoots, AtShootThining, "Count the shoots against the nodes that were left.")
	add(r.Crop[i] == 0, FollowNoClusters, BeforeBloom, "Take off all flower clusters.")
	add(r.Crop[i] > 0 && r.Crop[i] < 1, FollowThin, AtFruitSet, fmt.Sprintf("Thin to %.0f %% of a mature vine's crop.", 100*r.Crop[i]))
	return out
}
