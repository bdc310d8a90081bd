package pruning

import (
	"fmt"
)

// Standards are what a block's owner sets. They go to JSON and back with stable
// keys; a key that is left out keeps its default.
type Standards struct {
	System System `json:"system"`
	Rule   Rule   `json:"load_rule"`
	Limits Limits `json:"limits"`
	// Leaves is the table of young vines, by rising leaf; the last line holds for
	// all older vines and those of unknown age.
	Leaves   []LeafLine `json:"leaf_table"`
	DeadBuds DeadBuds   `json:"dead_buds"`
	Drought  Drought    `json:"drought"`
	Wood     Wood       `json:"wood"`
	Yield    Yield      `json:"yield"`
	Work     Work       `json:"work"`
}

// The floor: two spurs of two nodes (common practice; the least that keeps a
// choice for next winter). It is no setting.
const (
	floorSpurs     = 2
	floorSpurNodes = 2
	floorNodes     = floorSpurs * floorSpurNodes
)

// Limits are applied after the load rule. 0 in a cap means none.
type Limits struct {
	// ShootsPerM is the most shoots per metre of canopy. Default 15 (Plant shape,
	// WineSkills UK; Smart R., Practical Winery & Vineyard, July 2013). Purdue
	// Extension gives 10 to 16 for vinifera and 13 to 20 for hybrids.
	ShootsPerM float64 `json:"shoots_per_m"`
	// CanopiesPerVine is metres of canopy per metre of row: 1, or 2 where the
	// canopy is divided.
	CanopiesPerVine float64 `json:"canopy_m_per_row_m"`
	// CapPerVine and CapPerHa are the legal or agreed caps on nodes; both bind.
	// Default none: rules differ by place and change, see the text in force.
	CapPerVine float64 `json:"cap_per_vine,omitempty"`
	CapPerHa   float64 `json:"cap_per_ha,omitempty"`
	// CapPerHaOver says by which vines the cap per hectare is divided: "all"
	// positions (the default, the stricter: gaps then do not raise what the living
	// vines carry, and decrees name the cap beside a planting density) or
	// "living" ones.
	CapPerHaOver string `json:"cap_per_ha_over"`
	// HoldWeak holds a vine whose last wood was weak at last year's load. Default
	// true.
	HoldWeak bool `json:"hold_weak"`
	// WeakMoreShare lets such a vine carry a little more than last year. Default 0.
	WeakMoreShare float64 `json:"weak_more_share,omitempty"`
	// ChangeShare is the greatest change against last year's load, up and down,
	// for vines past the young ones. Default 0.25 (common practice); 0: no limit.
	ChangeShare float64 `json:"change_share"`
}

// Stage says what a vine of some leaf gets.
type Stage string

// The stages.
const (
	StageCutBack Stage = "cut_back" // back to two buds
	StageTrunk   Stage = "trunk"    // one straight cane to the wire where strong enough, else cut back
	StageShort   Stage = "short"    // a share of the full load, one cane at most
	StagePart    Stage = "part"     // a share of the full load
	StageFull    Stage = "full"     // the full system
)

// LeafLine is one line of the table of young vines.
type LeafLine struct {
	Leaf  int   `json:"leaf"`
	Stage Stage `json:"stage"`
	// NodesShare is the share of the full load that the vine may carry at most.
	NodesShare float64 `json:"nodes_share"`
	// CropShare is the crop that it may ripen, as a share of a mature vine's. It
	// is told apart from the nodes: some keep young vines short, others leave more
	// leaf and take the clusters off (WineSkills UK).
	CropShare float64 `json:"crop_share"`
}

// DefaultLeaves is the table by common practice; the staging (years 1 to 3
// establishment, 4 development, 5 full) is that of Pate D. et al., Texas Vineyard
// Budgets, T-1-602. First leaf: back to two buds. Second: one cane to the wire,
// the weak back to two buds (Giese G., New Mexico State University); no crop. Third: no crop to a
// third, here the middle. Fourth: half. Fifth: full.
func DefaultLeaves() []LeafLine {
	return []LeafLine{
		{1, StageCutBack, 0, 0},
		{2, StageTrunk, 0, 0},
		{3, StageShort, 1.0 / 3, 1.0 / 6},
		{4, StagePart, 0.5, 0.5},
		{5, StageFull, 1, 1},
	}
}

// DeadRule says how dead buds are made up for.
type DeadRule string

// The rules for dead buds.
const (
	DeadNone  DeadRule = "none"
	DeadExact DeadRule = "exact" // N / (1 - share dead)
	DeadTable DeadRule = "table"
)

// DeadBuds corrects for primary buds that winter killed; cut 10 canes of 10
// nodes and count the brown ones (Growing table grapes in a temperate climate).
type DeadBuds struct {
	Share float64    `json:"share"` // of primary buds found dead, 0 to 1
	Rule  DeadRule   `json:"rule"`
	Table []DeadLine `json:"table"`
	// MinimalFrom is the share above which the advice is minimal pruning, to be
	// finished after budburst. Default 0.5 (Purdue Extension).
	MinimalFrom float64 `json:"minimal_above"`
}

// DeadLine adds a share of nodes from a share of dead buds up.
type DeadLine struct {
	From float64 `json:"from"`
	More float64 `json:"more"`
}

// PurdueDeadBuds is the table of Purdue Extension (Double pruning grapevines for
// spring frost protection): as usual to 15 %, 35 % more buds to 35 %, 50 % more
// to 50 %. The page prints the last line from 25 %, over the one before.
func PurdueDeadBuds() []DeadLine { return []DeadLine{{0.15, 0.35}, {0.35, 0.50}} }

// Wish is what the owner wants of weak vines after a drought year.
type Wish string

// The wishes.
const (
	WishHold Wish = "hold" // at last year's load
	WishEase Wish = "ease" // a share below last year's load
	WishRule Wish = "rule" // as the load rule and the other limits say
)

// Drought is what is done for weak vines of a block that comes from a drought
// year. Nobody has shown which is best: in one dry-farmed trial harder pruning
// cost half the crop and gave no more wood. So the default is "hold", what is
// done for weak wood after any year, and a part of the vines can be left
// untreated for comparison (Block.Treated).
type Drought struct {
	Wish Wish `json:"wish"`
	// EaseShare is how far below last year's load, for "ease". Default 0.2
	// (chosen by us).
	EaseShare float64 `json:"ease_share"`
	// LessCropThroughLeaf lowers the crop share of weak vines up to this leaf to
	// that of the leaf before. Default 0: not done. Advice often is to do so up to
	// the fourth leaf (common practice).
	LessCropThroughLeaf int `json:"less_crop_through_leaf,omitempty"`
}

// Check refuses what contradicts itself. The error wraps ErrStandards or
// ErrSystem.
func (s Standards) Check() error {
	if err := s.System.Check(); err != nil {
		return err
	}
	if err := s.Rule.Check(); err != nil {
		return err
	}
	if err := s.checkFigures(); err != nil {
		return err
	}
	if err := checkLeaves(s.Leaves); err != nil {
		return err
	}
	return s.checkWords()
}

func (s Standards) checkWords() error {
	for _, w := range []struct {
		field string
		ok    bool
		found any
		want  string
	}{
		{"limits.cap_per_ha_over", s.Limits.CapPerHaOver == "all" || s.Limits.CapPerHaOver == "living", s.Limits.CapPerHaOver, "all or living"},
		{"limits.cap_per_vine", s.Limits.CapPerVine == 0 || s.Limits.CapPerVine >= floorNodes, s.Limits.CapPerVine, fmt.Sprintf("0 (none) or at least the floor of %d nodes", floorNodes)},
		{"drought.wish", s.Drought.Wish == WishHold || s.Drought.Wish == WishEase || s.Drought.Wish == WishRule, s.Drought.Wish, "hold, ease or rule"},
		{"dead_buds.rule", s.DeadBuds.Rule == DeadNone || s.DeadBuds.Rule == DeadExact || s.DeadBuds.Rule == DeadTable, s.DeadBuds.Rule, "none, exact or table"},
	} {
		if !w.ok {
			return wrong(ErrStandards, w.field, w.found, w.want)
		}
	}
	for k, l := range s.DeadBuds.Table {
		before := DeadLine{}
		if k > 0 {
			before = s.DeadBuds.Table[k-1]
		}
		if !(l.From > before.From && l.From <= 1 && l.More >= before.More && l.More <= 2) {
			return wrong(ErrStandards, fmt.Sprintf("dead_buds.table[%d]", k), fmt.Sprintf("from %g more %g", l.From, l.More), "lines that rise, from 0 to 1, more up to 2")
		}
	}
	if s.DeadBuds.Rule == DeadTable && len(s.DeadBuds.Table) == 0 {
		return wrong(ErrStandards, "dead_buds.table", "no lines", "at least one where the rule is table")
	}
	return nil
}

// mostLeaves bounds the table of young vines; chosen by us.
const mostLeaves = 20

func checkLeaves(lines []LeafLine) error {
	if len(lines) == 0 || len(lines) > mostLeaves {
		return wrong(ErrStandards, "leaf_table", fmt.Sprint(len(lines), " lines"), fmt.Sprintf("1 to %d", mostLeaves))
	}
	for k, l := range lines {
		field := fmt.Sprintf("leaf_table[%d]", k)
		switch {
		case l.Leaf != lines[0].Leaf+k || lines[0].Leaf != 1:
			return wrong(ErrStandards, field+".leaf", l.Leaf, fmt.Sprintf("%d: every leaf from the first on", k+1))
		case l.Stage != StageCutBack && l.Stage != StageTrunk && l.Stage != StageShort && l.Stage != StagePart && l.Stage != StageFull:
			return wrong(ErrStandards, field+".stage", fmt.Sprintf("%q", l.Stage), "cut_back, trunk, short, part or full")
		case !(l.NodesShare >= 0 && l.NodesShare <= 1) || !(l.CropShare >= 0 && l.CropShare <= 1):
			return wrong(ErrStandards, field, fmt.Sprintf("nodes_share %g, crop_share %g", l.NodesShare, l.CropShare), "0 to 1")
		}
	}
	if last := lines[len(lines)-1]; last.Stage != StageFull || last.NodesShare != 1 {
		return wrong(ErrStandards, fmt.Sprintf("leaf_table[%d]", len(lines)-1), fmt.Sprintf("stage %s, nodes_share %g", last.Stage, last.NodesShare), "full and 1 in the last line")
	}
	return nil
}

// line is the table's line for a leaf; unknown and older leaves are the last.
func (s *Standards) line(leaf uint8) LeafLine {
	if leaf == 0 || int(leaf) > len(s.Leaves) {
		return s.Leaves[len(s.Leaves)-1]
	}
	return s.Leaves[leaf-1]
}

// factor is what the load is multiplied by for dead buds, and whether minimal
// pruning is advised.
func (d DeadBuds) factor() (f float64, minimal bool) {
	minimal = d.Rule != DeadNone && d.Share > d.MinimalFrom
	f = 1
	switch d.Rule {
	case DeadExact:
		f = 1 / (1 - d.Share)
	case DeadTable:
		for _, l := range d.Table {
			if d.Share >= l.From {
				f = 1 + l.More
			}
		}
	}
	return f, minimal
}

// Corrected gives the nodes to leave so that as many live as without damage,
// rounded to the nearest whole.
func (d DeadBuds) Corrected(nodes float64) int {
	f, _ := d.factor()
	return nearest(nodes * f)
}
