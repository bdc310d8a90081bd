package pruning

import "fmt"

// Wood is how canes and spurs are chosen and cut.
type Wood struct {
	// MinCaneMM is the least diameter of a cane at its base, and of the cane where
	// it is cut. Default 8, a pencil (Fruiting vines, Winegrowers Supplies UK).
	MinCaneMM float64 `json:"min_cane_mm"`
	// BullCaneMM is the diameter above which a cane is a bull cane: long
	// internodes, uneven budburst. Default 15 (from memory).
	BullCaneMM float64 `json:"bull_cane_mm"`
	// CutBackMM: a vine not yet past CutBackThroughLeaf whose cane is thinner at
	// the wire is cut back to two buds. Defaults 7, of the 7 to 8 mm of a pencil,
	// and leaf 3 (common practice).
	CutBackMM          float64 `json:"cut_back_mm"`
	CutBackThroughLeaf int     `json:"cut_back_through_leaf"`
	// WeakCaneG is the mean cane weight under which last year's wood was weak.
	// Default 20 (from memory). VeryWeakCaneG: few buds and no crop, to rebuild.
	// Default 10 (from memory).
	WeakCaneG     float64 `json:"weak_cane_g"`
	VeryWeakCaneG float64 `json:"very_weak_cane_g"`
	// TwoCanesLeast is the least nodes on each cane where there are two or more.
	// Default 6; OneCaneUpTo is the load up to which there is one cane. Default 12
	// (both common practice).
	TwoCanesLeast int `json:"two_canes_least"`
	OneCaneUpTo   int `json:"one_cane_up_to"`
	// EqualCanes rounds down so that two canes are alike; else the stronger one
	// takes the odd node. Default false.
	EqualCanes bool `json:"equal_canes,omitempty"`
	// GapM is left on the wire between the ends of neighbours. Default 0.10, a
	// hand's width (Westover F., The Proof Is in the Pruning, Wines & Vines, 2016).
	GapM float64 `json:"gap_m"`
	// InternodeM is the length between nodes. Default 0.06 (the ideal shoot of
	// WineSkills UK); Hellman E. names 0.076 to 0.10 as desirable.
	InternodeM float64 `json:"internode_m"`
	// StubMM and StubPerWound give the spare wood over a cut into old wood: the
	// larger of StubMM and StubPerWound × the wound's width. Defaults 20 and 1, up
	// to 2 (trade guidance, not science: cut 2 to 3 cm above the node's diaphragm,
	// OENO One 8101; the factor is questioned in IVES Technical Reviews 8418).
	StubMM       float64 `json:"stub_mm"`
	StubPerWound float64 `json:"stub_per_wound"`
	// TrunkNodes is how many shoots at the top of a new trunk are kept; the lower
	// ones are rubbed off. Default 4 (common practice).
	TrunkNodes int `json:"trunk_nodes"`
}

// Stub is the spare wood to leave over a wound so many mm wide, mm.
func (w Wood) Stub(woundMM float64) float64 { return max(w.StubMM, w.StubPerWound*woundMM) }

// CutBeyondMM is how far beyond the last counted node a cane is cut: 2 cm
// (Growing table grapes in a temperate climate).
const CutBeyondMM = 20

// SpanM is the length of wire that each of so many canes may fill on a vine that
// occupies occupiedM metres of row: one cane S - gap, two (S - gap) / 2 in
// opposite directions; more than two share the wires.
func (w Wood) SpanM(occupiedM float64, canes, wires int) float64 {
	onWire := min(canes, 2)
	if canes > 2 {
		onWire = max(2, (canes+wires-1)/max(1, wires))
	}
	return max(0, (occupiedM-w.GapM)/float64(max(1, onWire)))
}

// NodesThatFit is the whole nodes on so many metres.
func (w Wood) NodesThatFit(spanM float64) int { return wholes(spanM / w.InternodeM) }

// Yield is what a crop is expected from. The defaults are those of a worked
// example and stand for no variety or place: 90 % budburst, 1.7 clusters per
// shoot, 110 g per cluster (invented figures of the example; budburst of 90 to
// 110 % is normal, Practical Winery & Vineyard, June 2017). Put in the block's own.
type Yield struct {
	Budburst         float64 `json:"budburst"` // shoots per count node
	ClustersPerShoot float64 `json:"clusters_per_shoot"`
	ClusterG         float64 `json:"cluster_g"`
}

// Work is what pruning takes. Defaults 3 min per vine with canes, tying
// included, 2 with spurs only (common practice); the young, being trained, take
// longer (an estate's pruning hours, Virginia, 2008; the 3 min are chosen by us).
type Work struct {
	CaneMinutes  float64 `json:"cane_minutes"`
	SpurMinutes  float64 `json:"spur_minutes"`
	YoungMinutes float64 `json:"young_minutes"`
}

// DefaultStandards gives a single Guyot by cane weight (35 g, the middle of 30
// to 40 g) with every default named above.
func DefaultStandards() Standards {
	return Standards{
		System:   SingleGuyot(),
		Rule:     ByCaneWeight(35),
		Limits:   Limits{ShootsPerM: 15, CanopiesPerVine: 1, CapPerHaOver: "all", HoldWeak: true, ChangeShare: 0.25},
		Leaves:   DefaultLeaves(),
		DeadBuds: DeadBuds{Rule: DeadNone, Table: PurdueDeadBuds(), MinimalFrom: 0.5},
		Drought:  Drought{Wish: WishHold, EaseShare: 0.2},
		Wood: Wood{MinCaneMM: 8, BullCaneMM: 15, CutBackMM: 7, CutBackThroughLeaf: 3, WeakCaneG: 20, VeryWeakCaneG: 10,
			TwoCanesLeast: 6, OneCaneUpTo: 12, GapM: 0.10, InternodeM: 0.06, StubMM: 20, StubPerWound: 1, TrunkNodes: 4},
		Yield: Yield{Budburst: 0.90, ClustersPerShoot: 1.7, ClusterG: 110},
		Work:  Work{CaneMinutes: 3, SpurMinutes: 2, YoungMinutes: 3},
	}
}

// ParseStandards reads standards as JSON over the defaults and checks them. Keys
// that are not known are refused; a system, rule or table is given whole.
func ParseStandards(data []byte) (Standards, error) {
	s := DefaultStandards()
	var given struct {
		System *System     `json:"system"`
		Rule   *Rule       `json:"load_rule"`
		Limits *Limits     `json:"limits"`
		Leaves *[]LeafLine `json:"leaf_table"`
		Dead   *DeadBuds   `json:"dead_buds"`
		Dry    *Drought    `json:"drought"`
		Wood   *Wood       `json:"wood"`
		Yield  *Yield      `json:"yield"`
		Work   *Work       `json:"work"`
	}
	given.Limits, given.Dead, given.Dry, given.Wood, given.Yield, given.Work = &s.Limits, &s.DeadBuds, &s.Drought, &s.Wood, &s.Yield, &s.Work
	table := s.DeadBuds.Table
	s.DeadBuds.Table = nil // else lines given in part would keep parts of the default
	if err := decodeStrict(data, &given); err != nil {
		return Standards{}, fmt.Errorf("%w: %w", ErrStandards, err)
	}
	if s.DeadBuds.Table == nil {
		s.DeadBuds.Table = table
	}
	if given.System != nil {
		s.System = *given.System
	}
	if given.Rule != nil {
		s.Rule = *given.Rule
	}
	if given.Leaves != nil {
		s.Leaves = *given.Leaves
	}
	return s, s.Check()
}

// checkFigures holds each number to what can be meant; the ends are chosen by us.
func (s Standards) checkFigures() error {
	l, d, w := s.Limits, s.DeadBuds, s.Wood
	for _, f := range []struct {
		field        string
		v, low, high float64
	}{
		{"limits.shoots_per_m", l.ShootsPerM, 3, 60},
		{"limits.canopy_m_per_row_m", l.CanopiesPerVine, 1, 4},
		{"limits.cap_per_vine", l.CapPerVine, 0, mostNodes},
		{"limits.cap_per_ha", l.CapPerHa, 0, 1e6},
		{"limits.weak_more_share", l.WeakMoreShare, 0, 1},
		{"limits.change_share", l.ChangeShare, 0, 1},
		{"dead_buds.share", d.Share, 0, 0.95},
		{"dead_buds.minimal_above", d.MinimalFrom, 0, 1},
		{"drought.ease_share", s.Drought.EaseShare, 0, 0.9},
		{"drought.less_crop_through_leaf", float64(s.Drought.LessCropThroughLeaf), 0, mostLeaves},
		{"wood.min_cane_mm", w.MinCaneMM, 3, 15},
		{"wood.bull_cane_mm", w.BullCaneMM, w.MinCaneMM, 40},
		{"wood.cut_back_mm", w.CutBackMM, 0, 15},
		{"wood.cut_back_through_leaf", float64(w.CutBackThroughLeaf), 0, mostLeaves},
		{"wood.very_weak_cane_g", w.VeryWeakCaneG, 0, 100},
		{"wood.weak_cane_g", w.WeakCaneG, w.VeryWeakCaneG, 200},
		{"wood.two_canes_least", float64(w.TwoCanesLeast), 1, mostOnCane},
		{"wood.one_cane_up_to", float64(w.OneCaneUpTo), 0, mostNodes},
		{"wood.gap_m", w.GapM, 0, 2},
		{"wood.internode_m", w.InternodeM, 0.02, 0.3},
		{"wood.stub_mm", w.StubMM, 0, 100},
		{"wood.stub_per_wound", w.StubPerWound, 0, 5},
		{"wood.trunk_nodes", float64(w.TrunkNodes), 1, 20},
		{"yield.budburst", s.Yield.Budburst, 0, 3},
		{"yield.clusters_per_shoot", s.Yield.ClustersPerShoot, 0, 6},
		{"yield.cluster_g", s.Yield.ClusterG, 0, 3000},
		{"work.cane_minutes", s.Work.CaneMinutes, 0, 120},
		{"work.spur_minutes", s.Work.SpurMinutes, 0, 120},
		{"work.young_minutes", s.Work.YoungMinutes, 0, 120},
	} {
		if !(f.v >= f.low && f.v <= f.high) {
			return wrong(ErrStandards, f.field, f.v, fmt.Sprintf("%g to %g", f.low, f.high))
		}
	}
	return nil
}
