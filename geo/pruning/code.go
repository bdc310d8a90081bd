package pruning

import "strings"

// Bound is the rule that bound a vine's nodes. Its numbers are kept in plans and
// never change their meaning.
type Bound uint8

// The rules that can bind.
const (
	BoundNone       Bound = 0  // nothing to prune
	BoundGrowth     Bound = 1  // what last year's growth balances
	BoundNeighbours Bound = 2  // growth not known: the middle of the block's known vines
	BoundLastLoad   Bound = 3  // growth not known: last year's load
	BoundSystem     Bound = 4  // growth not known: the middle of what the system carries
	BoundChangeUp   Bound = 5  // greatest rise against last year
	BoundChangeDown Bound = 6  // greatest fall against last year
	BoundSpace      Bound = 7  // shoots per metre of canopy
	BoundLeaf       Bound = 8  // share of the full load by leaf
	BoundWeakHold   Bound = 9  // weak wood: last year's load
	BoundDrought    Bound = 10 // weak wood after a drought year: the owner's wish
	BoundCapVine    Bound = 11 // cap per vine
	BoundCapHa      Bound = 12 // cap per hectare
	BoundFloor      Bound = 13 // two spurs of two nodes
	BoundOverride   Bound = 14 // the agronomist
	BoundCutBack    Bound = 15 // cut back to begin anew
	BoundTrunk      Bound = 16 // trunk being formed
	BoundCaneLength Bound = 17 // what fits on the wire
	BoundMostNodes  Bound = 18 // most nodes per cane of the system
	BoundPositions  Bound = 19 // spur positions
	BoundNoCane     Bound = 20 // no cane can be laid: spurs only
	boundCount            = 21
)

// words come in the order of the codes.
func boundWord(b Bound) string {
	return [boundCount]string{"none", "growth", "block median", "last year's load, growth not known", "system, growth not known", "greatest rise", "greatest fall",
		"space", "leaf", "weak wood", "drought wish", "cap per vine", "cap per hectare", "floor", "override", "cut back", "trunk",
		"cane length", "most nodes per cane", "spur positions", "no cane"}[b]
}

// String gives the word.
func (b Bound) String() string {
	if b < boundCount {
		return boundWord(b)
	}
	return "unknown"
}

// MarshalText writes the word.
func (b Bound) MarshalText() ([]byte, error) { return []byte(b.String()), nil }

// UnmarshalText reads the word.
func (b *Bound) UnmarshalText(text []byte) error {
	for k := range Bound(boundCount) {
		if boundWord(k) == string(text) {
			*b = k
			return nil
		}
	}
	return wrong(ErrInput, "bound", string(text), "a rule that can bind, such as "+boundWord(BoundGrowth))
}

// Reasons are what else was decided by, one bit each; kept in plans.
type Reasons uint32

// The reasons.
const (
	ReasonOneCaneLoad     Reasons = 1 << iota // one cane: the load is small
	ReasonOneCaneYoung                        // one cane: third leaf or younger
	ReasonOneCaneWeak                         // one cane: last year's wood was weak
	ReasonOneCaneThin                         // fewer canes: not enough arms bear a thick one
	ReasonOneCaneSided                        // one cane: dead zone on one side of the head
	ReasonOneCaneLeast                        // fewer canes: each would be too short
	ReasonTooFewForCane                       // no cane: too few nodes for the shortest one
	ReasonNoThickCane                         // no cane: none is thick enough
	ReasonVeryWeak                            // no cane: very light canes, rebuild
	ReasonThin                                // cut back: not pencil thick
	ReasonFirstLeaf                           // cut back: first leaf, or by the leaf table
	ReasonWeakCondition                       // weak: seen as weak
	ReasonWeakShoots                          // weak: short shoots last year
	ReasonWeakCanes                           // weak: mean cane weight
	ReasonLastUnknown                         // weak, but last year's load is not known
	ReasonRounded                             // nodes fewer than the load by rounding to whole canes and spurs
	ReasonWire                                // nodes fewer than the load: the wire is full
	ReasonMost                                // nodes fewer than the load: the system's most per cane
	ReasonPositions                           // nodes fewer than the load: every spur position is filled
	ReasonDeadBuds                            // raised for dead buds
	ReasonBelowFirst                          // prunings under the rule's first weight
	ReasonAgeUnknown                          // a young vine of unknown age, judged as in its third leaf
	ReasonDiameterUnknown                     // cane diameter not known: judge at the vine
	ReasonDiseased                            // diseased: prune last, clean the shears
	ReasonEitherArm                           // canes alike: either arm
	ReasonMedianOfLeaf                        // block median of the same leaf
	ReasonLeafLimits                          // by its leaf alone
	ReasonOverrideCapped                      // the override lies over a cap
	ReasonOverrideCanes                       // number of canes from the agronomist
	reasonCount           = iota
)

func reasonWord(k int) string {
	return [reasonCount]string{"one cane: small load", "one cane: third leaf or younger", "one cane: weak wood", "fewer canes: not thick enough", "one cane: dead zone on one side",
		"fewer canes: each would be too short", "no cane: too few nodes", "no cane: none thick enough", "no cane: very light canes", "cut back: not pencil thick", "by the leaf table",
		"seen as weak", "short shoots last year", "light canes last year", "last year's load not known", "rounded to whole canes and spurs", "wire is full",
		"most nodes per cane", "spur positions filled", "raised for dead buds", "prunings under the first weight", "age not known", "cane diameter not known",
		"diseased: prune last", "canes alike: either arm", "median of the same leaf", "no more than its leaf allows", "override over a cap", "canes from the agronomist"}[k]
}

// Words gives the reasons in words, in order of their codes.
func (r Reasons) Words() (out []string) {
	for k := range reasonCount {
		if r&(1<<k) != 0 {
			out = append(out, reasonWord(k))
		}
	}
	return out
}

// String joins the words.
func (r Reasons) String() string { return strings.Join(r.Words(), "; ") }

// Flags mark vines that need a second look, one bit each; kept in plans.
type Flags uint16

// The flags.
const (
	FlagCutBack   Flags = 1 << iota // cut back to begin anew
	FlagTrunk                       // trunk being formed
	FlagRebuild                     // weak: rebuild
	FlagEstimated                   // its weight is calibrated or estimated, not measured
	FlagNoVigour                    // nothing is known of its growth
	FlagOverride                    // the agronomist decided
	FlagOverSpan                    // canes longer than their span: bow them or take buds off
	FlagLookFirst                   // look before cutting
	FlagMinimal                     // minimal pruning advised, finish after budburst
	FlagBull                        // its strongest cane is a bull cane: choose a thinner one
	FlagWireGap                     // canes leave wire empty
	FlagDrought                     // the wish after a drought year decided
	flagCount     = iota
)

func flagWord(k int) string {
	return [flagCount]string{"cut back", "trunk", "rebuild", "estimated weight", "no vigour known", "override", "over span", "look first",
		"minimal pruning", "bull cane", "wire gap", "drought wish"}[k]
}

// Words gives the flags in words, in order of their codes.
func (f Flags) Words() (out []string) {
	for k := range flagCount {
		if f&(1<<k) != 0 {
			out = append(out, flagWord(k))
		}
	}
	return out
}

// String joins the words.
func (f Flags) String() string { return strings.Join(f.Words(), "; ") }
