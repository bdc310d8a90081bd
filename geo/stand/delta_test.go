package stand

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestSince_JSON(t *testing.T) {
	s := goldenStand(t)
	text, err := json.Marshal(Since(s, 8))
	require.NoError(t, err)
	var got map[string]json.RawMessage
	require.NoError(t, json.Unmarshal(text, &got))
	require.Contains(t, got, "totals")
	delete(got, "totals")
	rest, err := json.Marshal(got)
	require.NoError(t, err)
	require.JSONEq(t, `{"block":3,"season":2027,"revision":9,"whole":false,"index":[2,14],"condition":[3,7],"leaf":[13,2],"vigour":[0,0],
		"progress":[3,0],"flags":[10,1],"nodes":[12,255],"left":[10,255],"load":[3,0],"follow":[0,0]}`, string(rest))
}

func TestSince_Whole(t *testing.T) {
	s := goldenStand(t) // ground of revision 5
	text, err := json.Marshal(Since(s, 4))
	require.NoError(t, err)
	require.JSONEq(t, `{"block":3,"season":2027,"revision":9,"whole":true}`, string(text))
	require.False(t, Since(s, 5).Whole)
	require.Equal(t, []int{0, 1, 2, 3, 4, 14}, Since(s, 5).Index)
	require.Empty(t, Since(s, 9).Index)
	require.NotNil(t, Since(s, 9).Totals)
}

// A reader who lays what changed over an older stand has the newer one.
func TestSince_BringsUpToDate(t *testing.T) {
	g := smallPlot.ground(t)
	rapid.Check(t, func(t *rapid.T) {
		old := anyStand(t, g)
		var changes []Change
		for range rapid.IntRange(0, 4).Draw(t, "changes") {
			changes = append(changes, Change{rapid.IntRange(0, g.Len()-1).Draw(t, "vine"), anyState(t), 10})
		}
		want := old.With(10, changes).WithPlan(11, []PlanNodes{{3, rapid.IntRange(-1, 20).Draw(t, "nodes")}})
		got := old.Clone()
		d := Since(want, old.Revision)
		require.False(t, d.Whole)
		for k, i := range d.Index {
			require.Equal(t, uint8(want.Condition[i]), d.Condition[k])
			got.Leaf[i], got.Vigour[i], got.Nodes[i], got.Left[i] = d.Leaf[k], d.Vigour[k], d.Nodes[k], d.Left[k]
			got.Flags[i] = Flags(d.Flags[k])
			require.Equal(t, uint8(want.Progress[i]), d.Progress[k])
		}
		require.Equal(t, []any{want.Leaf, want.Vigour, want.Nodes, want.Left, want.Flags}, []any{got.Leaf, got.Vigour, got.Nodes, got.Left, got.Flags})
		require.Equal(t, TotalsOf(want), *d.Totals)
	})
}
