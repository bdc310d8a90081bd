package renewal_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
)

// grower grows one arm from winter to winter: invented distances, but buds that
// alternate from one side of a cane to the other, as those of vines do, and a
// first bud that may face anywhere. It stands in for a vine, nothing else.
type grower struct {
	t    *rapid.T
	name string
	head float64 // where this winter's spur is expected, from the trunk
}

func (g *grower) shoot(on renewal.Place, node int, at float64) renewal.Shoot {
	return renewal.Shoot{
		On: on, Node: node, OutMM: at - g.head, WoodYears: 2, Sound: true, BaseBudSound: true,
		Faces:       rapid.SampledFrom([]renewal.Facing{renewal.Below, renewal.Above, renewal.Side}).Draw(g.t, "faces"),
		BaseMM:      float64(rapid.IntRange(5, 30).Draw(g.t, "base")),
		InternodeMM: float64(rapid.IntRange(20, 90).Draw(g.t, "internode")),
		DiameterMM:  float64(rapid.IntRange(80, 140).Draw(g.t, "diameter")) / 10,
	}
}

// young is an arm in its first winter: two shoots.
func (g *grower) young() renewal.Arm {
	return renewal.Arm{Name: g.name, Shoots: []renewal.Shoot{g.shoot(renewal.OnSpur, 1, 0), g.shoot(renewal.OnSpur, 2, 50)}}
}

// next is what stands on the arm a winter later: a shoot of every node of the
// spur that was not rubbed off, of its base bud where that was kept, and one at
// the base of the old cane.
func (g *grower) next(arm renewal.Arm, left renewal.Choice) renewal.Arm {
	from := arm.Shoots[left.Spur.Shoot]
	base := g.head + from.OutMM
	at := []float64{base, base + from.BaseMM}
	for n := 2; n <= left.Spur.Nodes; n++ {
		at = append(at, at[n-1]+from.InternodeMM)
	}
	gone := map[int]bool{0: left.Spur.Way != renewal.BaseBud}
	for _, f := range left.FollowUps {
		for _, n := range f.RubOff {
			gone[n] = true
		}
	}
	caneAt := g.head + arm.Shoots[left.Cane.Shoot].OutMM
	g.head = at[left.Spur.NextSpur]
	out := renewal.Arm{Name: g.name}
	for n := 0; n <= left.Spur.Nodes; n++ {
		if !gone[n] {
			out.Shoots = append(out.Shoots, g.shoot(renewal.OnSpur, n, at[n]))
		}
	}
	out.Shoots = append(out.Shoots, g.shoot(renewal.OnCane, 1, caneAt+20))
	return out
}

// pruner decides for one arm and says what was cut.
type pruner func(renewal.Arm) (renewal.Choice, []vine.Cut, error)

// byTheRules keeps what Choose says. Last year's cane stood above the new spur, so
// the cut that takes it off lies on the upper face.
func byTheRules(settings renewal.Settings) pruner {
	return func(arm renewal.Arm) (renewal.Choice, []vine.Cut, error) {
		c, err := renewal.Choose(arm, settings)
		return c, []vine.Cut{{Face: "upper", DiameterMM: 13}}, err
	}
}

const tenWinters = 10

// tend prunes a vine of two arms for ten winters and gives the record, with each
// choice beside the arm it was made on.
func tend(t *rapid.T, prune pruner) (winters map[int]vine.Pruned, arms []renewal.Arm, choices []renewal.Choice) {
	winters = map[int]vine.Pruned{}
	growers := []*grower{{t: t, name: "left"}, {t: t, name: "right"}}
	standing := []renewal.Arm{growers[0].young(), growers[1].young()}
	for season := 2027; season < 2027+tenWinters; season++ {
		var left []vine.Arm
		for k, g := range growers {
			c, cuts, err := prune(standing[k])
			require.NoError(t, err)
			require.NotNil(t, c.Spur)
			require.NotNil(t, c.Cane)
			left = append(left, c.Record(&vine.Cane{Nodes: 8}, cuts))
			arms, choices = append(arms, standing[k]), append(choices, c)
			standing[k] = g.next(standing[k], c)
		}
		winters[season] = vine.Pruned{Arms: left}
		require.NoError(t, winters[season].Check(0))
	}
	return winters, arms, choices
}

// Ten winters by the rules: each arm keeps a spur below and a cane above it, no
// cut lies on the path of the sap, and the head climbs no more than the limit in
// any winter; what the record leads one to expect is what the choice meant.
func TestTenWinters(t *testing.T) {
	limit := renewal.Usual().ClimbLimitMM
	rapid.Check(t, func(t *rapid.T) {
		winters, arms, choices := tend(t, byTheRules(renewal.Settings{}))
		for k, c := range choices {
			spur, cane := arms[k].Shoots[c.Spur.Shoot], arms[k].Shoots[c.Cane.Shoot]
			require.Greater(t, cane.OutMM, spur.OutMM, "the cane stands above the spur")
			require.GreaterOrEqual(t, cane.DiameterMM, 8.0)
			for i, other := range arms[k].Shoots {
				require.False(t, i != c.Spur.Shoot && other.OutMM < spur.OutMM, "nothing comes off below the spur")
			}
			require.LessOrEqual(t, c.Spur.ClimbMM, limit)
		}
		findings, err := renewal.Review(winters, renewal.Settings{})
		require.NoError(t, err)
		require.Empty(t, findings)
		h, err := renewal.NewHistory(winters, nil, renewal.Settings{})
		require.NoError(t, err)
		for k, a := range h.Arms {
			require.Equal(t, renewal.Unbroken, a.Path)
			require.LessOrEqual(t, a.ClimbMM, tenWinters*limit)
			last := choices[len(choices)-2+k].Spur
			require.True(t, a.Expect[0].Known)
			require.Equal(t, [2]int{last.NextSpur, last.NextCane}, [2]int{a.Expect[0].NextSpur, a.Expect[0].NextCane})
		}
	})
}

// The same winters with one rule broken: the check must find it.
func TestTenWinters_RulesBroken(t *testing.T) {
	rules := byTheRules(renewal.Settings{})
	for _, c := range []struct {
		name  string
		prune pruner
		want  renewal.FindingKind
	}{
		{"the limit of the climb is not heeded", byTheRules(renewal.Settings{ClimbLimitMM: 1000}), renewal.ClimbedFar},
		{"an inverted spur is left as any other", func(arm renewal.Arm) (renewal.Choice, []vine.Cut, error) {
			choice, cuts, err := rules(arm)
			if choice.Spur.Faces == renewal.Above {
				choice.Spur.Nodes, choice.Spur.Way, choice.FollowUps = 2, renewal.TwoNodes, nil
				choice.Spur.NextSpur, choice.Spur.NextCane = 1, 2
			}
			return choice, cuts, err
		}, renewal.Inverted},
		{"the cut goes below", func(arm renewal.Arm) (renewal.Choice, []vine.Cut, error) {
			choice, _, err := rules(arm)
			return choice, []vine.Cut{{Face: "lower", DiameterMM: 13}}, err
		}, renewal.PathCut},
		{"the upper shoot is kept for the spur", func(arm renewal.Arm) (renewal.Choice, []vine.Cut, error) {
			upper := renewal.Arm{Name: arm.Name, Shoots: arm.Shoots[1:]}
			if len(upper.Shoots) < 2 {
				return rules(arm)
			}
			choice, cuts, err := rules(upper)
			choice.Spur.Shoot++
			choice.Cane.Shoot++
			return choice, cuts, err
		}, renewal.ClimbedFar},
	} {
		t.Run(c.name, func(t *testing.T) {
			found, vines := 0, 0
			rapid.Check(t, func(t *rapid.T) {
				winters, _, _ := tend(t, c.prune)
				findings, err := renewal.Review(winters, renewal.Settings{})
				require.NoError(t, err)
				vines++
				for _, f := range findings {
					if f.Kind == c.want {
						found++
						break
					}
				}
			})
			// Ten winters of two arms hardly pass without an inverted spur, and an
			// upper shoot does not stand far out every time.
			require.Greater(t, found, vines/2, "of %d vines %d were found out", vines, found)
		})
	}
}

// Whatever stands on an arm: the choice is one of its shoots, sound, within the
// rule, and the same each time; and a wider limit never turns a spur into none.
func TestChoose_Properties(t *testing.T) {
	place := rapid.SampledFrom([]renewal.Place{renewal.OnSpur, renewal.OnCane, renewal.OnOldWood})
	facing := rapid.SampledFrom([]renewal.Facing{"", renewal.Below, renewal.Above, renewal.Side})
	rapid.Check(t, func(t *rapid.T) {
		arm := renewal.Arm{Name: "left"}
		for range rapid.IntRange(0, 5).Draw(t, "shoots") {
			arm.Shoots = append(arm.Shoots, renewal.Shoot{
				On: place.Draw(t, "on"), Node: rapid.IntRange(0, 3).Draw(t, "node"), OutMM: float64(rapid.IntRange(-200, 200).Draw(t, "out")),
				WoodYears: rapid.IntRange(0, 5).Draw(t, "wood"), Faces: facing.Draw(t, "faces"),
				BaseMM: float64(rapid.IntRange(0, 40).Draw(t, "base")), InternodeMM: float64(rapid.IntRange(0, 90).Draw(t, "internode")),
				DiameterMM: float64(rapid.IntRange(0, 18).Draw(t, "diameter")), Sound: rapid.Bool().Draw(t, "sound"), BaseBudSound: rapid.Bool().Draw(t, "base bud"),
			})
		}
		got, err := renewal.Choose(arm, renewal.Settings{})
		require.NoError(t, err)
		again, err := renewal.Choose(arm, renewal.Settings{})
		require.NoError(t, err)
		require.Equal(t, got, again)
		if got.Spur != nil {
			s := arm.Shoots[got.Spur.Shoot]
			require.True(t, s.Sound)
			require.NotEqual(t, renewal.OnOldWood, s.On)
			require.False(t, got.Spur.Way == renewal.ThreeNodes && got.Spur.ClimbKnown && got.Spur.ClimbMM > 40)
			require.False(t, got.Spur.Way == renewal.BaseBud && !s.BaseBudSound)
			require.Equal(t, s.Faces == renewal.Below, got.Spur.Way == renewal.TwoNodes || got.Spur.Way == renewal.BaseBud && s.Faces == renewal.Below)
			wider, err := renewal.Choose(arm, renewal.Settings{ClimbLimitMM: 400})
			require.NoError(t, err)
			require.NotNil(t, wider.Spur)
		}
		if got.Cane != nil {
			require.True(t, arm.Shoots[got.Cane.Shoot].Sound)
			require.True(t, got.Spur == nil || got.Spur.Shoot != got.Cane.Shoot)
		}
		for _, a := range got.Alternatives {
			require.NotEmpty(t, a.Text)
			require.False(t, got.Spur != nil && a.Spur == *got.Spur)
		}
		if len(arm.Shoots) == 0 {
			require.NotEmpty(t, got.Rule)
		}
	})
}
