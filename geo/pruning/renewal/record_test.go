package renewal_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
)

// Spare wood: wounds of 15 and 30 mm, k 1, at least 20 mm → 20 and 30 mm (rule of
// the trade, in IVES Technical Reviews 8418 for k = 1; common practice for k up to
// 2 on wood of two years or more). Large: 2 cm or more, or wood over two years
// (common practice).
func TestCutAdvice(t *testing.T) {
	for _, c := range []struct {
		name  string
		wound renewal.Wound
		k     float64
		stub  float64
		large bool
		warns string
	}{
		{"15 mm", renewal.Wound{Face: renewal.Upper, DiameterMM: 15, WoodYears: 2}, 1, 20, false, ""},
		{"30 mm", renewal.Wound{Face: renewal.Upper, DiameterMM: 30, WoodYears: 2}, 1, 30, true, ""},
		{"30 mm, k 2", renewal.Wound{Face: renewal.Upper, DiameterMM: 30, WoodYears: 2}, 2, 60, true, ""},
		{"20 mm is large", renewal.Wound{Face: renewal.Upper, DiameterMM: 20, WoodYears: 1}, 1, 20, true, ""},
		{"old wood is large", renewal.Wound{Face: renewal.Upper, DiameterMM: 8, WoodYears: 3}, 1, 20, true, ""},
		{"below", renewal.Wound{Face: renewal.Lower, DiameterMM: 12}, 1, 20, false, "lower face"},
		{"large on the side", renewal.Wound{Face: renewal.SideFace, DiameterMM: 22}, 1, 22, true, "narrows"},
		{"very large on the side", renewal.Wound{Face: renewal.SideFace, DiameterMM: 30}, 1, 30, true, "reaches the path"},
		{"small on the side", renewal.Wound{Face: renewal.SideFace, DiameterMM: 9}, 1, 20, false, ""},
		{"on the path", renewal.Wound{Face: renewal.Upper, DiameterMM: 12, OnPath: true}, 1, 20, false, "between the trunk"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := renewal.CutAdvice(c.wound, renewal.Settings{StubFactor: c.k})
			require.NoError(t, err)
			require.InDelta(t, c.stub, got.StubMM, 1e-9)
			require.Equal(t, c.large, got.Large)
			require.Equal(t, c.large, len(got.Cautions) > 0)
			require.Equal(t, c.warns != "", len(got.Warnings) > 0)
			require.Contains(t, strings.Join(got.Warnings, " "), c.warns)
			require.Contains(t, got.Guidance, "not science")
		})
	}
	for _, w := range []renewal.Wound{{DiameterMM: -1}, {DiameterMM: math.NaN()}, {Face: "back"}, {WoodYears: -1}} {
		_, err := renewal.CutAdvice(w, renewal.Settings{})
		require.ErrorIs(t, err, renewal.ErrWound)
	}
}

// No pruning in rain nor for 36 hours after: Growers respond to trunk disease
// threat, Wine Australia.
func TestWoundCare(t *testing.T) {
	require.Contains(t, strings.Join(renewal.WoundCare(), " "), "nor for 36 hours after")
}

func armLeft(name string, cuts ...vine.Cut) vine.Arm {
	return vine.Arm{Name: name, Spurs: []vine.Spur{{Nodes: 2, FirstBudFaces: "below"}}, Canes: []vine.Cane{{Nodes: 8}}, LargeCuts: cuts, ClimbMM: 12}
}

// Wound faces over winters: a cut above each winter leaves the path unbroken; one
// cut below on one arm breaks it on that arm only (common practice).
func TestHistory_Path(t *testing.T) {
	above, below := vine.Cut{Face: "upper", DiameterMM: 14}, vine.Cut{Face: "lower", DiameterMM: 14}
	winters := map[int]vine.Pruned{}
	for season := 2021; season <= 2026; season++ {
		winters[season] = vine.Pruned{Arms: []vine.Arm{armLeft("left", above), armLeft("right", above)}}
	}
	h, err := renewal.NewHistory(winters, nil, renewal.Settings{})
	require.NoError(t, err)
	for _, a := range h.Arms {
		require.Equal(t, renewal.Unbroken, a.Path)
		require.Len(t, a.Cuts, 6)
		require.InDelta(t, 72, a.ClimbMM, 1e-9)
		require.InDelta(t, 12, a.ClimbYearMM, 1e-9)
	}
	winters[2024] = vine.Pruned{Arms: []vine.Arm{armLeft("left", above, below), armLeft("right", above)}}
	h, err = renewal.NewHistory(winters, nil, renewal.Settings{})
	require.NoError(t, err)
	left, _ := h.Arm("left")
	right, _ := h.Arm("right")
	require.Equal(t, renewal.Broken, left.Path)
	require.Equal(t, []renewal.MadeCut{{Season: 2024, Face: renewal.Lower, DiameterMM: 14}}, left.Harm)
	require.Equal(t, renewal.Unbroken, right.Path)
	require.Equal(t, "left: path of the sap broken; large cuts: 6 upper, 1 lower; climbed 72 mm, 12 mm a winter.", left.Text())

	// The arm rebuilt from a low shoot in 2025 is whole again, and so is all of the
	// vine with a new trunk; the head carries every arm.
	for _, c := range []struct {
		name    string
		rebuilt []renewal.Rebuilt
		want    renewal.Path
	}{
		{"the arm", []renewal.Rebuilt{{Arm: "left", Season: 2025}}, renewal.Unbroken},
		{"the trunk", []renewal.Rebuilt{{Arm: "trunk", Season: 2025}}, renewal.Unbroken},
		{"the other arm", []renewal.Rebuilt{{Arm: "right", Season: 2025}}, renewal.Broken},
		{"too early", []renewal.Rebuilt{{Arm: "left", Season: 2024}}, renewal.Broken},
	} {
		h, err := renewal.NewHistory(winters, c.rebuilt, renewal.Settings{})
		require.NoError(t, err)
		left, ok := h.Arm("left")
		require.True(t, ok)
		require.Equal(t, c.want, left.Path, c.name)
	}
	winters[2023] = vine.Pruned{Arms: []vine.Arm{armLeft("left"), armLeft("right"), {Name: "head", LargeCuts: []vine.Cut{below}}}}
	h, err = renewal.NewHistory(winters, []renewal.Rebuilt{{Arm: "left", Season: 2025}}, renewal.Settings{})
	require.NoError(t, err)
	right, _ = h.Arm("right")
	require.Equal(t, renewal.Broken, right.Path)
}

// Side cuts: the rule is ours, see PathOf.
func TestPathOf(t *testing.T) {
	for _, c := range []struct {
		name string
		cuts []renewal.MadeCut
		want renewal.Path
		harm int
	}{
		{"no cut", nil, renewal.Unbroken, 0},
		{"a small side cut", []renewal.MadeCut{{2026, renewal.SideFace, 15}}, renewal.Narrowed, 1},
		{"one not measured", []renewal.MadeCut{{2026, renewal.SideFace, 0}}, renewal.Narrowed, 1},
		{"a wide one", []renewal.MadeCut{{2026, renewal.SideFace, 30}}, renewal.Broken, 1},
		{"below, then to the side", []renewal.MadeCut{{2025, renewal.Lower, 0}, {2026, renewal.SideFace, 10}}, renewal.Broken, 2},
	} {
		got, harm, err := renewal.PathOf(c.cuts, renewal.Settings{})
		require.NoError(t, err)
		require.Equal(t, c.want, got, c.name)
		require.Len(t, harm, c.harm, c.name)
	}
}

// What should stand on an arm after each kind of spur.
func TestHistory_Expect(t *testing.T) {
	for _, c := range []struct {
		spur       vine.Spur
		spurFrom   int
		caneFrom   int
		known      bool
		look, says string
	}{
		{vine.Spur{Nodes: 2, FirstBudFaces: "below"}, 1, 2, true, "", "first bud below"},
		{vine.Spur{Nodes: 3, FirstBudFaces: "above"}, 2, 3, true, "rubbed off", "second node"},
		{vine.Spur{Nodes: 1, FirstBudFaces: "above"}, 0, 1, true, "both pushed", "base bud"},
		{vine.Spur{Nodes: 2, FirstBudFaces: "above"}, 2, 0, false, "look at the vine", "nothing above it"},
		{vine.Spur{Nodes: 2, FirstBudFaces: "side"}, 1, 2, true, "turned into the row", "side"},
		{vine.Spur{Nodes: 1, FirstBudFaces: "below"}, 1, 0, false, "last year's cane", "nothing above"},
		{vine.Spur{Nodes: 2}, 0, 0, false, "stands lower", "not recorded"},
	} {
		h, err := renewal.NewHistory(map[int]vine.Pruned{2026: {Arms: []vine.Arm{{Name: "left", Spurs: []vine.Spur{c.spur}}}}}, nil, renewal.Settings{})
		require.NoError(t, err)
		e := h.Arms[0].Expect[0]
		require.Equal(t, c.spurFrom, e.NextSpur, "%+v", c.spur)
		require.Equal(t, c.caneFrom, e.NextCane, "%+v", c.spur)
		require.Equal(t, c.known, e.Known)
		require.Contains(t, e.Look, c.look)
		require.Contains(t, e.Text, c.says)
	}
}

// Winters without detail, arms that come late, and nothing at all.
func TestHistory_Sparse(t *testing.T) {
	h, err := renewal.NewHistory(nil, nil, renewal.Settings{})
	require.NoError(t, err)
	require.Empty(t, h.Arms)
	a, ok := h.Arm("left")
	require.False(t, ok)
	require.Equal(t, "left: no winter recorded.", a.Text())

	nodes := 12
	h, err = renewal.NewHistory(map[int]vine.Pruned{2024: {}, 2025: {Nodes: &nodes}, 2026: {Arms: []vine.Arm{{Name: "head", Canes: []vine.Cane{{Nodes: 8}}}}}}, nil, renewal.Settings{})
	require.NoError(t, err)
	require.Equal(t, []int{2024, 2025}, h.Silent)
	require.Equal(t, [2]int{2024, 2026}, [2]int{h.First, h.Last})
	require.Contains(t, h.Arms[0].Expect[0].Text, "lowest shoots of last winter's cane")

	_, err = renewal.NewHistory(map[int]vine.Pruned{20: {}}, nil, renewal.Settings{})
	require.ErrorContains(t, err, "season 20")
}

func TestReview(t *testing.T) {
	good := vine.Pruned{Arms: []vine.Arm{armLeft("left", vine.Cut{Face: "upper"}), armLeft("right")}}
	change := func(f func(*vine.Arm)) vine.Pruned {
		a := armLeft("left")
		f(&a)
		return vine.Pruned{Arms: []vine.Arm{a, armLeft("right")}}
	}
	for _, c := range []struct {
		name string
		p    vine.Pruned
		want renewal.FindingKind
	}{
		{"by the rules", good, ""},
		{"without detail", vine.Pruned{}, ""},
		{"a cut below", change(func(a *vine.Arm) { a.LargeCuts = []vine.Cut{{Face: "lower"}} }), renewal.PathCut},
		{"a climb", change(func(a *vine.Arm) { a.ClimbMM = 41 }), renewal.ClimbedFar},
		{"a wrong bud", change(func(a *vine.Arm) { a.Spurs[0].FirstBudFaces = "above" }), renewal.Inverted},
		{"no spur", change(func(a *vine.Arm) { a.Spurs = nil }), renewal.NoSpur},
		{"no cane", vine.Pruned{Arms: []vine.Arm{{Name: "left", Spurs: []vine.Spur{{Nodes: 2}}}}}, renewal.NoCane},
	} {
		got, err := renewal.Review(map[int]vine.Pruned{2025: good, 2026: c.p}, renewal.Settings{})
		require.NoError(t, err)
		if c.want == "" {
			require.Empty(t, got, c.name)
			continue
		}
		require.Len(t, got, 1, c.name)
		require.Equal(t, c.want, got[0].Kind)
		require.Equal(t, 2026, got[0].Season)
	}
	// A vine of spurs only lacks no cane.
	got, err := renewal.Review(map[int]vine.Pruned{2026: {Arms: []vine.Arm{{Name: "1", Spurs: []vine.Spur{{Nodes: 2, FirstBudFaces: "below"}}}}}}, renewal.Settings{})
	require.NoError(t, err)
	require.Empty(t, got)
}

// "Renewal left 2024, use 2025, remove old trunk 2026": trunk renewal steps,
// Growing table grapes in a temperate climate.
func TestDue(t *testing.T) {
	plan := renewal.Renewal{Arm: "trunk", Left: 2024, Use: 2025, Remove: 2026}
	require.NoError(t, plan.Check())
	steps := func(done renewal.Step, season int) (out []renewal.Step) {
		r := plan
		r.Done = done
		for _, d := range renewal.Due([]renewal.Renewal{r}, season) {
			out = append(out, d.Step)
		}
		return out
	}
	require.Empty(t, steps(renewal.NotBegun, 2023))
	require.Equal(t, []renewal.Step{renewal.Leave}, steps(renewal.NotBegun, 2024))
	require.Empty(t, steps(renewal.Leave, 2024))
	require.Equal(t, []renewal.Step{renewal.Use}, steps(renewal.Leave, 2025))
	require.Equal(t, []renewal.Step{renewal.RemoveOld}, steps(renewal.Use, 2026))
	require.Empty(t, steps(renewal.RemoveOld, 2030))
	// Late: the shoot was not left in its winter, so nothing can take over yet.
	require.Equal(t, []renewal.Step{renewal.Leave}, steps(renewal.NotBegun, 2026))
	late := renewal.Due([]renewal.Renewal{plan}, 2026)[0]
	require.Equal(t, 2, late.Late)
	require.Contains(t, late.Text, "Planned for 2024")

	both := renewal.Renewal{Arm: "left", Left: 2024, Use: 2025, Remove: 2025, Done: renewal.Leave}
	due := renewal.Due([]renewal.Renewal{plan, both}, 2025)
	require.Equal(t, []string{"left", "left", "trunk"}, []string{due[0].Arm, due[1].Arm, due[2].Arm})
	require.NotEmpty(t, due[1].Cautions)
	open := renewal.Renewal{Arm: "left", Left: 2024, Use: 2025, Done: renewal.Use}
	require.NoError(t, open.Check())
	require.Empty(t, renewal.Due([]renewal.Renewal{open}, 2030))
}

func TestCheckPlans(t *testing.T) {
	for name, r := range map[string]renewal.Renewal{
		"no arm":              {Left: 2024, Use: 2025},
		"used at once":        {Arm: "left", Left: 2024, Use: 2024},
		"removed before used": {Arm: "left", Left: 2024, Use: 2026, Remove: 2025},
		"a slip of the year":  {Arm: "left", Left: 2024, Use: 2052},
		"no season":           {Arm: "left", Use: 2025},
		"an unknown step":     {Arm: "left", Left: 2024, Use: 2025, Done: 9},
	} {
		require.ErrorIs(t, r.Check(), renewal.ErrPlan, name)
		require.ErrorIs(t, renewal.CheckPlans([]renewal.Renewal{r}), renewal.ErrPlan, name)
	}
	first := renewal.Renewal{Arm: "left", Left: 2024, Use: 2025, Remove: 2026}
	require.NoError(t, renewal.CheckPlans([]renewal.Renewal{first, {Arm: "right", Left: 2024, Use: 2025}, {Arm: "left", Left: 2027, Use: 2028}}))
	require.ErrorIs(t, renewal.CheckPlans([]renewal.Renewal{first, {Arm: "left", Left: 2026, Use: 2028}}), renewal.ErrPlan)
}

// A low shoot that is left begins a plan; plans keep through JSON.
func TestPlan(t *testing.T) {
	near := 30.0
	water := renewal.Shoot{On: renewal.OnOldWood, OutMM: -90, WoodYears: 6, DiameterMM: 8, Sound: true}
	arm := renewal.Arm{Name: "left", BelowWireMM: &near, Shoots: []renewal.Shoot{lowerShoot("below", 8, 30, true), water}}
	c, err := renewal.Choose(arm, renewal.Settings{})
	require.NoError(t, err)
	plan, ok := c.Plan(2027)
	require.True(t, ok)
	require.NoError(t, plan.Check())
	require.Equal(t, renewal.Renewal{Arm: "left", Left: 2027, Use: 2028, Remove: 2029}, plan)
	left := c.Record(nil, nil)
	require.Len(t, left.Spurs, 2, "the spur and the low one")

	arm.BelowWireMM = nil
	c, err = renewal.Choose(arm, renewal.Settings{})
	require.NoError(t, err)
	_, ok = c.Plan(2027)
	require.False(t, ok)

	for _, done := range []renewal.Step{renewal.NotBegun, renewal.Leave, renewal.Use, renewal.RemoveOld} {
		plan.Done = done
		text, err := json.Marshal(plan)
		require.NoError(t, err)
		var again renewal.Renewal
		require.NoError(t, json.Unmarshal(text, &again))
		require.Equal(t, plan, again)
	}
	require.ErrorIs(t, json.Unmarshal([]byte(`{"done":"half"}`), &plan), renewal.ErrPlan)
	_, err = renewal.Step(7).MarshalText()
	require.ErrorIs(t, err, renewal.ErrPlan)
	require.Equal(t, "leave a low shoot", renewal.Leave.String())
}
