package renewal_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
)

// lowerShoot and upperShoot are the two shoots of last winter's spur.
func lowerShoot(faces renewal.Facing, baseMM, internodeMM float64, baseBudSound bool) renewal.Shoot {
	return renewal.Shoot{On: renewal.OnSpur, Node: 1, WoodYears: 2, Faces: faces, BaseMM: baseMM, InternodeMM: internodeMM,
		DiameterMM: 9, Sound: true, BaseBudSound: baseBudSound}
}

func upperShoot(diameterMM float64) renewal.Shoot {
	return renewal.Shoot{On: renewal.OnSpur, Node: 2, OutMM: 60, WoodYears: 2, Faces: renewal.Above, BaseMM: 15, InternodeMM: 70,
		DiameterMM: diameterMM, Sound: true}
}

func armOf(shoots ...renewal.Shoot) renewal.Arm { return renewal.Arm{Name: "left", Shoots: shoots} }

// Which way to cut the lower shoot of last winter's spur, with an upper shoot of 9
// mm above it. Buds that face below: Oenopedia, Quel raisonnement adopter pour
// respecter les flux de sève?; inverted spurs and the alarm near the wire: common
// practice. The limit of the climb is 40 mm; the end of the arm lies 120 mm below
// the fruiting wire, or 55 mm where the arm has climbed.
func TestChoose_DecisionTable(t *testing.T) {
	const (
		short, long  = 30, 70 // mm from first to second clear bud
		low, climbed = 120, 55
	)
	for _, c := range []struct {
		firstBud   renewal.Facing
		base, next float64
		baseBud    bool    // sound
		wire       float64 // mm above the end of the arm
		way        renewal.Way
		nodes      int
		climb      float64
		followUp   renewal.FollowUpKind
		alarm      renewal.AlarmKind
	}{
		// bud, base, next, base bud, arm | way, nodes, climb, at shoot thinning, alarm
		{"below", 8, short, true, low, renewal.TwoNodes, 2, 8, "", ""},
		{"below", 8, short, false, low, renewal.TwoNodes, 2, 8, "", ""},
		{"below", 8, long, true, low, renewal.TwoNodes, 2, 8, "", ""},
		{"below", 25, long, false, low, renewal.TwoNodes, 2, 25, "", ""},
		{"above", 8, short, true, low, renewal.ThreeNodes, 3, 38, renewal.RubOff, ""},
		{"above", 8, short, false, low, renewal.ThreeNodes, 3, 38, renewal.RubOff, ""},
		{"above", 10, short, false, low, renewal.ThreeNodes, 3, 40, renewal.RubOff, ""}, // just at the limit
		{"above", 11, short, true, low, renewal.BaseBud, 1, 0, renewal.CheckBoth, ""},
		{"above", 25, long, true, low, renewal.BaseBud, 1, 0, renewal.CheckBoth, ""},
		{"above", 25, long, false, low, "", 0, 0, renewal.KeepLow, ""}, // no spur: the cane's lowest shoots
		{"side", 8, short, true, low, renewal.TwoNodesSide, 2, 8, renewal.TurnIn, ""},
		{"side", 8, long, false, low, renewal.TwoNodesSide, 2, 8, renewal.TurnIn, ""},

		{"below", 8, short, true, climbed, renewal.TwoNodes, 2, 8, "", renewal.NearWire},
		{"below", 5, short, true, climbed, renewal.TwoNodes, 2, 5, "", ""}, // 50 mm are left
		{"below", 8, long, false, climbed, renewal.TwoNodes, 2, 8, "", renewal.NearWire},
		{"above", 8, short, true, climbed, renewal.ThreeNodes, 3, 38, renewal.RubOff, renewal.NearWire},
		{"above", 8, short, false, climbed, renewal.ThreeNodes, 3, 38, renewal.RubOff, renewal.NearWire},
		{"above", 25, long, true, climbed, renewal.BaseBud, 1, 0, renewal.CheckBoth, ""}, // it does not climb
		{"above", 25, long, false, climbed, "", 0, 0, renewal.KeepLow, ""},
		{"side", 8, short, true, climbed, renewal.TwoNodesSide, 2, 8, renewal.TurnIn, renewal.NearWire},
	} {
		name := fmt.Sprintf("bud %s, base %g, next %g, base bud sound %t, wire %g", c.firstBud, c.base, c.next, c.baseBud, c.wire)
		t.Run(name, func(t *testing.T) {
			arm := armOf(lowerShoot(c.firstBud, c.base, c.next, c.baseBud), upperShoot(9))
			arm.BelowWireMM = &c.wire
			got, err := renewal.Choose(arm, renewal.Settings{ClimbLimitMM: 40})
			require.NoError(t, err)
			require.NotNil(t, got.Cane)
			if c.way == "" {
				require.Nil(t, got.Spur)
				require.Equal(t, 0, got.Cane.Shoot, "the lower shoot is the cane, so that the arm grows least")
			} else {
				require.NotNil(t, got.Spur)
				require.Equal(t, 1, got.Cane.Shoot, "the upper shoot is the cane")
				require.Equal(t, 0, got.Spur.Shoot, "the lower shoot is the spur")
				require.Equal(t, c.way, got.Spur.Way)
				require.Equal(t, c.nodes, got.Spur.Nodes)
				require.InDelta(t, c.climb, got.Spur.ClimbMM, 1e-9)
			}
			var kinds []renewal.FollowUpKind
			for _, f := range got.FollowUps {
				kinds = append(kinds, f.Kind)
			}
			var want []renewal.FollowUpKind
			if c.followUp != "" {
				want = append(want, c.followUp)
			}
			if c.way == "" || c.alarm != "" {
				want = append(want, renewal.KeepWater)
			}
			require.Equal(t, want, kinds)
			require.Equal(t, c.alarm != "", len(got.Alarms) > 0)
			for _, a := range got.Alarms {
				require.Equal(t, c.alarm, a.Kind)
			}
		})
	}
}

// Near the wire the way that climbs less is named, with its drawback.
func TestChoose_ClimbLess(t *testing.T) {
	near := 55.0
	arm := armOf(lowerShoot("above", 8, 30, true), upperShoot(9))
	arm.BelowWireMM = &near
	got, err := renewal.Choose(arm, renewal.Settings{})
	require.NoError(t, err)
	require.Contains(t, strings.Join(got.Notes, " "), "To climb less, 0 in place of 38 mm: spur of 1 node and the base bud")
}

// Next winter begins where the last one ended: what was left is shown, and what of
// it is missing.
func TestChoose_Remembers(t *testing.T) {
	h, err := renewal.NewHistory(map[int]vine.Pruned{2026: {Arms: []vine.Arm{{Name: "left", Spurs: []vine.Spur{{Nodes: 3, FirstBudFaces: "above"}}}}}}, nil, renewal.Settings{})
	require.NoError(t, err)
	second, third := lowerShoot("below", 8, 30, true), upperShoot(9)
	second.Node, third.Node = 2, 3
	for _, c := range []struct {
		name   string
		shoots []renewal.Shoot
		lacks  []string
	}{
		{"both there", []renewal.Shoot{second, third}, nil},
		{"the lower one did not push", []renewal.Shoot{third}, []string{"meant for the spur (node 2"}},
		{"nobody looked", nil, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := renewal.Choose(renewal.Arm{Name: "left", Shoots: c.shoots, Expect: h.Arms[0].Expect}, renewal.Settings{})
			require.NoError(t, err)
			notes := strings.Join(got.Notes, " ")
			require.Contains(t, notes, "Last winter: Spur of 3 nodes, first bud on top")
			require.Contains(t, notes, "Look: see whether the first and the base shoots were rubbed off")
			require.Equal(t, len(c.lacks), strings.Count(notes, "is not there"))
			for _, l := range c.lacks {
				require.Contains(t, notes, l)
			}
		})
	}
}

// Renewal spur, first clear bud below: two nodes, the lower shoot the next spur,
// the upper the next cane, no follow-up (common practice; orientation: Oenopedia).
func TestChoose_FirstBudBelow(t *testing.T) {
	got, err := renewal.Choose(armOf(lowerShoot("below", 8, 60, true), upperShoot(9)), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, 2, got.Spur.Nodes)
	require.Equal(t, 1, got.Spur.NextSpur)
	require.Equal(t, 2, got.Spur.NextCane)
	require.Empty(t, got.Spur.Drawback)
	require.Empty(t, got.FollowUps)
	require.Empty(t, got.Alarms)
}

// Inverted, short internodes: base to first 8 mm, first to second 30 mm, limit 40
// mm: three nodes, climb 38 mm; at shoot thinning keep second and third, rub off
// the first and the base shoots (common practice).
func TestChoose_InvertedShort(t *testing.T) {
	got, err := renewal.Choose(armOf(lowerShoot("above", 8, 30, true), upperShoot(9)), renewal.Settings{ClimbLimitMM: 40})
	require.NoError(t, err)
	require.Equal(t, 3, got.Spur.Nodes)
	require.InDelta(t, 38, got.Spur.ClimbMM, 1e-9)
	require.Len(t, got.FollowUps, 1)
	f := got.FollowUps[0]
	require.Equal(t, []int{2, 3}, f.Keep)
	require.Equal(t, []int{0, 1}, f.RubOff)
	require.Equal(t, "At shoot thinning keep the second and third shoots of the spur; rub off the first and the base shoots.", f.Text)
	require.Equal(t, renewal.BaseBud, got.Alternatives[0].Way)
	require.Contains(t, got.Alternatives[0].Drawback, "very close together")
}

// Inverted, long internodes: base to first 25 mm, first to second 70 mm, limit 40
// mm: one node and the base bud; the shoots stand very close together; check that
// both pushed (common practice).
func TestChoose_InvertedLong(t *testing.T) {
	got, err := renewal.Choose(armOf(lowerShoot("above", 25, 70, true), upperShoot(9)), renewal.Settings{ClimbLimitMM: 40})
	require.NoError(t, err)
	require.Equal(t, renewal.BaseBud, got.Spur.Way)
	require.Equal(t, 1, got.Spur.Nodes)
	require.Contains(t, got.Spur.Drawback, "very close together")
	require.Contains(t, got.FollowUps[0].Text, "check that both")
	over := got.Alternatives[0]
	require.Equal(t, renewal.ThreeNodes, over.Way)
	require.Contains(t, over.Drawback, "climbs 95 mm in one winter, 40 mm are the limit")
}

// What becomes of an arm whose lower shoot cannot be the spur.
func TestChoose_NoGoodLowerShoot(t *testing.T) {
	caneBase := renewal.Shoot{On: renewal.OnCane, Node: 1, OutMM: 75, WoodYears: 2, Faces: "below", BaseMM: 10, InternodeMM: 60, DiameterMM: 9, Sound: true}
	water := renewal.Shoot{On: renewal.OnOldWood, OutMM: -120, WoodYears: 8, Faces: "above", DiameterMM: 8, Sound: true}
	dead := lowerShoot("below", 8, 30, true)
	dead.Sound = false
	thin := lowerShoot("below", 8, 30, true)
	thin.DiameterMM = 5
	stuck := lowerShoot("above", 25, 70, false)
	near := upperShoot(9)
	near.OutMM, near.Faces = 28, "below"

	t.Run("dead: the upper shoot, if the climb allows, with the cane from last year's cane", func(t *testing.T) {
		got, err := renewal.Choose(armOf(dead, near, caneBase), renewal.Settings{ClimbLimitMM: 45})
		require.NoError(t, err)
		require.Equal(t, 1, got.Spur.Shoot)
		require.InDelta(t, 43, got.Spur.ClimbMM, 1e-9)
		require.Equal(t, 2, got.Cane.Shoot)
		require.Equal(t, []renewal.Unusable{{Shoot: 0, Reason: "dead, unripe or diseased"}}, got.Unusable)
	})
	t.Run("thin: likewise, and the climb over the limit is an alarm", func(t *testing.T) {
		got, err := renewal.Choose(armOf(thin, near, caneBase), renewal.Settings{})
		require.NoError(t, err)
		require.Equal(t, 1, got.Spur.Shoot)
		require.Equal(t, renewal.ClimbOver, got.Alarms[0].Kind)
		require.Contains(t, strings.Join(got.Notes, " "), "never cut it flush")
	})
	// E. Hellman, Cane Pruning, eXtension Grapes, 2019.
	t.Run("inverted, long, base bud dead: the cane from the base of last year's cane", func(t *testing.T) {
		last := caneBase
		last.Faces, last.InternodeMM = "above", 80
		got, err := renewal.Choose(armOf(stuck, last), renewal.Settings{})
		require.NoError(t, err)
		require.Nil(t, got.Spur)
		require.Equal(t, 1, got.Cane.Shoot)
		require.Equal(t, renewal.KeepLow, got.FollowUps[0].Kind)
		require.Equal(t, renewal.ThreeNodes, got.Alternatives[0].Way)
	})
	// Shoot thinning, Lodi Winegrape Commission: a well-placed water shoot is kept
	// to rebuild a position that has climbed.
	t.Run("and a water shoot to rebuild the arm", func(t *testing.T) {
		got, err := renewal.Choose(armOf(dead, water), renewal.Settings{})
		require.NoError(t, err)
		require.Nil(t, got.Spur)
		require.Nil(t, got.Cane)
		require.Equal(t, 1, got.Rebuild.Shoot)
		require.Contains(t, got.Rebuild.Drawback, "graft union")
		require.Equal(t, renewal.KeepWater, got.FollowUps[0].Kind)
	})
}

// The alarm: the head closer than 5 cm to the fruiting wire, or above it (common
// practice).
func TestChoose_ArmClimbing(t *testing.T) {
	water := renewal.Shoot{On: renewal.OnOldWood, OutMM: -90, WoodYears: 6, DiameterMM: 8, Sound: true}
	for _, c := range []struct {
		name    string
		belowMM float64
		shoots  []renewal.Shoot
		alarm   renewal.AlarmKind
		rebuild bool
	}{
		{"well below", 120, []renewal.Shoot{lowerShoot("below", 8, 30, true), water}, "", false},
		{"just far enough after the climb of 8 mm", 58, []renewal.Shoot{lowerShoot("below", 8, 30, true), water}, "", false},
		{"too close after it", 57, []renewal.Shoot{lowerShoot("below", 8, 30, true), water}, renewal.NearWire, true},
		{"inverted, it climbs above the wire", 30, []renewal.Shoot{lowerShoot("above", 8, 30, true), water}, renewal.AboveWire, true},
		{"no water shoot to use", 30, []renewal.Shoot{lowerShoot("below", 8, 30, true)}, renewal.NearWire, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			arm := armOf(c.shoots...)
			arm.BelowWireMM = &c.belowMM
			got, err := renewal.Choose(arm, renewal.Settings{})
			require.NoError(t, err)
			require.Equal(t, c.rebuild, got.Rebuild != nil)
			if c.alarm == "" {
				require.Empty(t, got.Alarms)
				return
			}
			require.Equal(t, c.alarm, got.Alarms[0].Kind)
			last := got.FollowUps[len(got.FollowUps)-1]
			require.Equal(t, renewal.KeepWater, last.Kind)
		})
	}
}

// Without detail the pruner gets the rule.
func TestChoose_WithoutDetail(t *testing.T) {
	rule, err := renewal.RuleText(renewal.Settings{})
	require.NoError(t, err)
	got, err := renewal.Choose(renewal.Arm{Name: "left"}, renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, rule, got.Rule)
	require.Nil(t, got.Spur)
	require.Contains(t, strings.Join(rule, "\n"), "at most 40 mm from the base")

	notLooked := lowerShoot("", 0, 0, false)
	got, err = renewal.Choose(armOf(notLooked, upperShoot(9)), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, renewal.LookFirst, got.Spur.Way)
	require.Equal(t, rule, got.Rule)

	notMeasured := lowerShoot("above", 0, 0, true)
	got, err = renewal.Choose(armOf(notMeasured, upperShoot(9)), renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, renewal.ThreeNodes, got.Spur.Way)
	require.False(t, got.Spur.ClimbKnown)
	require.Contains(t, got.Spur.Drawback, "only if its second bud sits at most 40 mm from the base")
}

func TestChoose_Refuses(t *testing.T) {
	good := lowerShoot("below", 8, 30, true)
	for name, change := range map[string]func(*renewal.Shoot){
		"place":    func(s *renewal.Shoot) { s.On = "wire" },
		"facing":   func(s *renewal.Shoot) { s.Faces = "up" },
		"negative": func(s *renewal.Shoot) { s.BaseMM = -1 },
		"NaN":      func(s *renewal.Shoot) { s.InternodeMM = math.NaN() },
		"thick":    func(s *renewal.Shoot) { s.DiameterMM = 90 },
		"far":      func(s *renewal.Shoot) { s.OutMM = math.Inf(1) },
		"node":     func(s *renewal.Shoot) { s.Node = -1 },
		"wood":     func(s *renewal.Shoot) { s.WoodYears = -1 },
	} {
		s := good
		change(&s)
		_, err := renewal.Choose(armOf(good, s), renewal.Settings{})
		require.ErrorIs(t, err, renewal.ErrShoot, name)
		require.ErrorContains(t, err, `arm "left", shoot 2`, name)
	}
	nan := math.NaN()
	_, err := renewal.Choose(renewal.Arm{BelowWireMM: &nan}, renewal.Settings{})
	require.ErrorIs(t, err, renewal.ErrShoot)
	for _, s := range []renewal.Settings{{ClimbLimitMM: -1}, {StubFactor: 0.5}, {StubFactor: 3}, {CaneLeastMM: 20}, {BullMM: math.NaN()}} {
		_, err := renewal.Choose(armOf(good), s)
		require.ErrorIs(t, err, renewal.ErrSetting)
		_, err = renewal.RuleText(s)
		require.ErrorIs(t, err, renewal.ErrSetting)
	}
}

// Which arm keeps the cane: 9.5 and 8.6 mm, the stronger; 9.0 and 9.0 mm, either,
// stated as a free choice (common practice).
func TestWhichArm(t *testing.T) {
	cane := func(arm string, mm float64) renewal.ArmCane {
		return renewal.ArmCane{Arm: arm, DiameterMM: mm, Sound: true}
	}
	for _, c := range []struct {
		name string
		arms []renewal.ArmCane
		last string
		want string
		free bool
		says string
	}{
		{"the stronger", []renewal.ArmCane{cane("left", 8.6), cane("right", 9.5)}, "", "right", false, "the stronger one"},
		{"equal", []renewal.ArmCane{cane("left", 9.0), cane("right", 9.0)}, "", "left", true, "Free choice"},
		{"equal, and left had it last winter", []renewal.ArmCane{cane("left", 9.0), cane("right", 9.0)}, "left", "right", true, "the sides alternate"},
		{"equal to a tenth", []renewal.ArmCane{cane("left", 9.02), cane("right", 8.99)}, "", "left", true, "Free choice"},
		{"a bull cane gives way", []renewal.ArmCane{cane("left", 17), cane("right", 9)}, "", "right", false, ""},
		{"a thin one is said to be thin", []renewal.ArmCane{cane("left", 6), cane("right", 7)}, "", "right", false, "too thin: think of spurs only"},
		{"dead canes", []renewal.ArmCane{{Arm: "left", DiameterMM: 9}, {Arm: "right", DiameterMM: 9}}, "", "", false, "No arm"},
		{"no arm", nil, "", "", false, "No arm"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := renewal.WhichArm(c.arms, c.last, renewal.Settings{})
			require.NoError(t, err)
			require.Equal(t, c.want, got.Arm)
			require.Equal(t, c.free, got.Free)
			require.Contains(t, got.Text, c.says)
		})
	}
	_, err := renewal.WhichArm([]renewal.ArmCane{cane("left", -1)}, "", renewal.Settings{})
	require.ErrorIs(t, err, renewal.ErrShoot)
}
