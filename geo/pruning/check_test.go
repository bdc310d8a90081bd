package pruning

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// The check values of the trade, by their number in our reference table. Kinds: P
// printed in the source, R worked out from a rule printed there, M from memory, C
// common practice, D arithmetic.
func TestCheckValues(t *testing.T) {
	byWeight := func(r Rule, kg float64) float64 {
		n, _, ok := r.ByWeight(kg * 1000)
		require.True(t, ok)
		return n
	}
	lb := func(r Rule, w float64) float64 { return byWeight(r, w*KgPerLb) }
	rounded := func(n float64) float64 { return float64(nearest(n)) }
	const (
		ohio   = "R: Smith M., 2023 Grape Pruning Primer, Ohio State University"
		wv     = "P: Growing Grapes in WV, West Virginia Department of Agriculture"
		nz     = "Practical Winery & Vineyard in Wines & Vines, June 2017"
		uk     = "R: Factors to be taken into account when pruning, WineSkills (UK)"
		purdue = "R: Double pruning grapevines, Purdue Extension"
		gamay  = "P: decree JORFARTI000002264915"
		decree = "R: decree JORFARTI000019776684, Côtes d'Auvergne, 2008"
	)
	shoots := ByEffectiveShoots()
	esn := shoots.Effective(repeat(3, 17, 14, 12, 6, 8, 4, 5))
	esnNodes, ok := shoots.ByShoots(esn, 0)
	require.True(t, ok)
	ratio, _, _ := BudburstRatio(23, 24)
	ravaz, _ := Ravaz(3.6, 0.6)
	lowWall, highWall := LeafWallM(1.5)
	wood := DefaultStandards().Wood
	dead := func(rule DeadRule, share float64) DeadBuds {
		return DeadBuds{Rule: rule, Share: share, Table: PurdueDeadBuds(), MinimalFrom: 0.5}
	}
	for _, c := range []struct {
		row            int
		what           string
		got, want, tol float64
		source         string
	}{
		{1, "30+10, 3 lb", lb(PerPound(30, 10), 3), 50, 1e-9, wv},
		{2, "30+10, 4 lb", lb(PerPound(30, 10), 4), 60, 1e-9, "P: gardening page, third-year pruning"},
		{3, "20+20, 2 lb", lb(PerPound(20, 20), 2), 40, 1e-9, "P: a home grower's pruning notes, 2013"},
		{4, "20+10, 3 lb", lb(PerPound(20, 10), 3), 40, 1e-9, ohio},
		{5, "20+20, 2.5 lb", lb(PerPound(20, 20), 2.5), 50, 1e-9, ohio},
		{6, "30+10, 1 kg", byWeight(PerPound(30, 10), 1), 42.05, 0.05, ohio},
		{6, "30+10, 1 kg, shown", rounded(byWeight(PerPound(30, 10), 1)), 42, 0, ohio},
		{7, "20+20, 1 kg", byWeight(PerPound(20, 20), 1), 44.09, 0.05, ohio},
		{7, "20+20, 1 kg, shown", rounded(byWeight(PerPound(20, 20), 1)), 44, 0, ohio},
		{8, "Concord metric, 0.5 kg", byWeight(ConcordMetric(), 0.5), 55, 1e-9, "P: " + nz},
		{9, "Concord metric, 1.5 kg", byWeight(ConcordMetric(), 1.5), 77, 1e-9, "R: " + nz},
		{10, "Concord metric, 2.5 kg", byWeight(ConcordMetric(), 2.5), 99, 1e-9, "R: " + nz},
		{11, "840 g at 35 g", byWeight(ByCaneWeight(35), 0.840), 24, 1e-9, uk},
		{12, "1200 g at 40 g", byWeight(ByCaneWeight(40), 1.2), 30, 1e-9, uk},
		{12, "1200 g at 30 g", byWeight(ByCaneWeight(30), 1.2), 40, 1e-9, uk},
		{13, "effective shoots", esn, 23, 0, "R: " + nz},
		{13, "nodes to retain", esnNodes, 28, 0, "R: " + nz},
		{14, "budburst ratio", ratio, 0.958, 0.001, "R: " + nz},
		{16, "50 buds as spurs of 5", float64(Pieces(50, 5)), 10, 0, wv},
		{16, "50 buds as canes of 10", float64(Pieces(50, 10)), 5, 0, wv},
		{17, "bunches of 20 buds", Clusters(20, 2), 40, 0, "P: Fruiting vines, Winegrowers Supplies (UK)"},
		{18, "dead buds by the table", float64(dead(DeadTable, 0.20).Corrected(20)), 27, 0, purdue},
		{19, "dead buds exactly", float64(dead(DeadExact, 0.20).Corrected(24)), 30, 0, "D"},
		{20, "buds to cut", float64(BudSample(10, 10)), 100, 0, "P: Growing table grapes in a temperate climate"},
		{21, "Ravaz index", ravaz, 6.0, 0.001, "R: " + nz},
		{24, "1 m²/kg in cm²/g", 1 * CM2PerGOfM2PerKg, 10, 0, "D"},
		{25, "0.2 lb/ft", 0.2 * KgPerMOfLbPerFt, 0.298, 0.001, "D"},
		{25, "0.4 lb/ft", 0.4 * KgPerMOfLbPerFt, 0.595, 0.001, "D"},
		{26, "3 shoots per foot", 3 * PerMOfPerFt, 9.84, 0.01, "D; limits: Shoot thinning, Purdue Extension"},
		{26, "5 shoots per foot", 5 * PerMOfPerFt, 16.40, 0.01, "D; limits: Shoot thinning, Purdue Extension"},
		{27, "span of one of two canes", wood.SpanM(1.8, 2, 1), 0.85, 1e-9, "R: Naylor A., interview, winetitles"},
		{27, "nodes that fit", float64(wood.NodesThatFit(0.85)), 14, 0, "R: Naylor A., interview, winetitles (12 to 15)"},
		{28, "internode of 12 buds on 2.5 ft, cm", 100 * InternodeM(2.5*MPerFt, 12), 6.35, 0.05, "R: Smart R., Practical Winery & Vineyard, July 2013"},
		{29, "spur spacing for 15 shoots/m, cm", 100 * SpurSpacingM(15, 2), 13.3, 0.1, "R: Plant shape, WineSkills (UK)"},
		{32, "12 buds at 4400 vines/ha", 12 * 4400, 52_800, 0, decree},
		{33, "cap per vine of 58 000 at 5000", CapPerVine(58_000, 5000), 11.6, 1e-9, decree},
		{34, "cap per vine of 100 000 at 7500", CapPerVine(100_000, 7500), 13.33, 0.01, "R: decree JORFARTI000001273806"},
		{35, "leaf wall, low", lowWall, 0.90, 0.001, "R: decree JORFARTI000002264915"},
		{35, "leaf wall, high", highWall, 1.20, 0.001, "R: decree JORFARTI000002264915"},
		{36, "6 buds/m² at 2 × 1 m", NodesForGround(6, 2, 1), 12, 0, "R: Plant spacing implications II, S. Afr. J. Enol. Vitic."},
		{36, "6 buds/m² at 3 × 1.5 m", NodesForGround(6, 3, 1.5), 27, 0, "R: Plant spacing implications II, S. Afr. J. Enol. Vitic."},
		{37, "leaf of 2026, planted spring 2024", float64(vine.Leaf(2024, 2026)), 3, 0, "C"},
		{62, "767 vines, 40 clusters, 0.25 lb, tons/acre", YieldTonsPerAcre(767, 40, 0.25), 3.835, 0.01, "R: Dami I., How to estimate grape yields, Ohio State University"},
		{62, "the same, t/ha", YieldTonsPerAcre(767, 40, 0.25) * TPerHaOfTonPerAcre, 8.60, 0.01, "R: Dami I., How to estimate grape yields, Ohio State University"},
		{64, "metric yield, t/ha", YieldKgPerHa(4000, 0.05, 24, 0.90, 1.7, 0.110) / 1000, 15.35, 0.01, "D"},
		{102, "stub over 15 mm", wood.Stub(15), 20, 0, "C; IVES Technical Reviews 8418 for the factor 1"},
		{102, "stub over 30 mm", wood.Stub(30), 30, 0, "C; IVES Technical Reviews 8418 for the factor 1"},
		{103, "crop share in leaf 4", crop(4), 0.5, 0.17, "C"},
	} {
		require.False(t, math.IsNaN(c.got), "row %d: %s", c.row, c.what)
		require.InDelta(t, c.want, c.got, c.tol, "row %d: %s (%s)", c.row, c.what, c.source)
	}
}

func crop(leaf uint8) float64 {
	s := DefaultStandards()
	return s.line(leaf).CropShare
}

// repeat gives diameters from pairs of count and mm.
func repeat(pairs ...int) (out []float64) {
	for k := 0; k < len(pairs); k += 2 {
		for range pairs[k] {
			out = append(out, float64(pairs[k+1]))
		}
	}
	return out
}

// The check values that are words.
func TestCheckClasses(t *testing.T) {
	concord, err := RavazSpan("concord")
	require.NoError(t, err)
	general, err := RavazSpan("general")
	require.NoError(t, err)
	read := func(ratio float64) string {
		_, r, ok := BudburstRatio(ratio*100, 100)
		require.True(t, ok)
		return string(r)
	}
	size := SizeSpan(false)
	for _, c := range []struct {
		row       int
		got, want string
		source    string
	}{
		{14, read(0.958), "right", "R: Practical Winery & Vineyard, June 2017"},
		{15, read(0.85), "blind", "R: Practical Winery & Vineyard, June 2017"},
		{15, read(1.00), "right", "R: Practical Winery & Vineyard, June 2017"},
		{15, read(1.20), "non_count", "R: Practical Winery & Vineyard, June 2017"},
		{21, string(general.Side(6)), "within", "R: Practical Winery & Vineyard, June 2017"},
		{22, string(concord.Side(9)), "under", "R: Bates T., Cornell Lake Erie Laboratory"},
		{22, string(concord.Side(15)), "within", "R: Bates T., Cornell Lake Erie Laboratory"},
		{22, string(concord.Side(21)), "over", "R: Bates T., Cornell Lake Erie Laboratory"},
		{23, string(size.Side(0.4)), "under", "R: Kliewer W.M., Dokoozlian N.K., 2005"},
		{23, string(size.Side(0.7)), "within", "R: Kliewer W.M., Dokoozlian N.K., 2005"},
		{23, string(size.Side(1.2)), "over", "R: Kliewer W.M., Dokoozlian N.K., 2005"},
		{38, string(DevelopmentOf(3)), "establishment", "P: Pate D. et al., Texas Vineyard Budgets, T-1-602"},
		{38, string(DevelopmentOf(4)), "development", "P: Pate D. et al., Texas Vineyard Budgets, T-1-602"},
		{38, string(DevelopmentOf(5)), "full", "P: Pate D. et al., Texas Vineyard Budgets, T-1-602"},
	} {
		require.Equal(t, c.want, c.got, "row %d (%s)", c.row, c.source)
	}
}

// Legal caps hold in the plan: what is legal stays, what is not is cut to what is.
func TestCheckCaps(t *testing.T) {
	for _, c := range []struct {
		row         int
		what        string
		sys         System
		capVine     float64
		capHa, vine float64 // vines per ha
		asked, want int
		bound       Bound
		source      string
	}{
		{30, "gamay, single Guyot 6 + 2", SingleGuyot(), 8, 0, 6000, 8, 8, BoundOverride, "P: decree JORFARTI000002264915"},
		{30, "gamay, single Guyot 6 + 3", SingleGuyot(), 8, 0, 6000, 9, 8, BoundCapVine, "P: decree JORFARTI000002264915"},
		{31, "pinot, 6 spurs of 2", UnilateralCordon(), 12, 0, 6000, 12, 12, BoundOverride, "P: decree JORFARTI000002264915"},
		{31, "pinot, 7 spurs of 2", UnilateralCordon(), 12, 0, 6000, 14, 12, BoundCapVine, "P: decree JORFARTI000002264915"},
		{32, "12 buds at 4400 vines/ha", SingleGuyot(), 12, 58_000, 4400, 12, 12, BoundOverride, "R: decree JORFARTI000019776684"},
		{33, "12 buds at 5000 vines/ha", SingleGuyot(), 12, 58_000, 5000, 12, 11, BoundCapHa, "R: decree JORFARTI000019776684"},
		{34, "14 buds at 7500 vines/ha", DoubleGuyot(), 14, 100_000, 7500, 14, 13, BoundCapHa, "R: decree JORFARTI000001273806"},
	} {
		o := one{leaf: 12, override: &Override{Nodes: c.asked, Canes: -1, Reason: "trial", Author: "A. Roche"}}
		b := o.block(t)
		b.AreaHa = 1 / c.vine
		r, err := Plan(b, with(c.sys, func(s *Standards) { s.Limits.CapPerVine, s.Limits.CapPerHa = c.capVine, c.capHa }))
		require.NoError(t, err)
		require.Equal(t, c.want, int(r.Load[0]), "row %d: %s (%s)", c.row, c.what, c.source)
		require.Equal(t, c.bound, r.Bound[0], "row %d: %s", c.row, c.what)
		require.Equal(t, c.bound != BoundOverride, r.Reasons[0]&ReasonOverrideCapped != 0, "row %d: %s", c.row, c.what)
		require.True(t, r.Sum().WithinCaps)
	}
}

// Row 107 (C): a young vine after a dry year, last year's shoots weak, one cane
// last year: one cane, not more nodes than last year, a little more only if the
// owner allows, never two canes.
func TestCheckYoungAfterDrought(t *testing.T) {
	v := one{spacingM: 1.8, leaf: 4, weightG: 900, caneG: 15, weakShoots: true, nodesLeft: 10, canesLeft: 1, drought: true, left: 9, right: 9}
	for _, c := range []struct {
		what  string
		more  float64
		wish  Wish
		nodes int
		bound Bound
	}{
		{"held", 0, WishHold, 10, BoundDrought},
		{"held, a little more", 0.2, WishHold, 12, BoundDrought},
		{"eased by a fifth", 0, WishEase, 8, BoundDrought},
		{"by the rule: the leaf binds (half of 27)", 0, WishRule, 14, BoundLeaf},
	} {
		r := v.plan(t, with(DoubleGuyot(), func(s *Standards) { s.Limits.WeakMoreShare, s.Drought.Wish = c.more, c.wish }))
		require.Equal(t, c.nodes, int(r.Nodes[0]), c.what)
		require.Equal(t, c.bound, r.Bound[0], c.what)
		require.EqualValues(t, 1, r.Instructions[0].Canes, c.what)
		require.NotZero(t, r.Reasons[0]&ReasonOneCaneWeak, c.what)
	}
}

// Row 108 (C): the stronger arm keeps the cane; equal ones are a free choice.
func TestCheckStrongerArm(t *testing.T) {
	for _, c := range []struct {
		left, right float64
		want        Arm
	}{{9.5, 8.6, ArmLeft}, {8.6, 9.5, ArmRight}, {9.0, 9.0, ArmEither}, {9.5, 7, ArmLeft}} {
		r := one{leaf: 10, weightG: 300, left: c.left, right: c.right}.plan(t, with(TwoArmedGuyot()))
		require.Equal(t, c.want, r.Arm[0], "%g and %g mm", c.left, c.right)
		require.Equal(t, c.want == ArmEither, r.Reasons[0]&ReasonEitherArm != 0)
	}
}

// Row 90 (P: an estate's pruning hours, Virginia, 2008): 80 vines at 3 min take 4 h.
func TestCheckHours(t *testing.T) {
	s := plotStand(t, 2, 40, 1, 2010)
	r, err := Plan(&Block{Stand: s}, DefaultStandards())
	require.NoError(t, err)
	require.InDelta(t, 4.0, r.Sum().Hours, 1e-9)
}

// Row 64 (D) through a plan: 4000 vines/ha, one in twenty missing, 24 nodes.
func TestCheckYieldOfPlan(t *testing.T) {
	s := plotStand(t, 10, 100, 1.8, 2010)
	for i := 0; i < s.Ground.Len(); i += 20 {
		s.Condition[i] = vine.Missing
	}
	st := with(DoubleGuyot(), func(s *Standards) { s.Rule = FixedNodes(24) })
	r, err := Plan(&Block{Stand: s, AreaHa: 1000.0 / 4000}, st)
	require.NoError(t, err)
	sum := r.Sum()
	require.InDelta(t, 15_349, sum.ExpectedKgPerHa, 10)
	require.InDelta(t, 4000*0.95*24, sum.NodesPerHa, 1e-6)
}
