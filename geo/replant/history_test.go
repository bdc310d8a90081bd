package replant

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

func TestHistory_PlantsComeAndGo(t *testing.T) {
	h := HistoryOf(7, []vine.Planting{{From: 2005, Clone: "181", Rootstock: "3309C"}})
	_, err := h.Plant(Plant{From: 2024})
	require.ErrorIs(t, err, ErrHistory, "the old plant still stands")
	h, err = h.Lose(2022, "esca")
	require.NoError(t, err)
	_, err = h.Lose(2023, "frost")
	require.ErrorIs(t, err, ErrHistory, "it is gone already")
	_, err = h.Plant(Plant{From: 2020})
	require.ErrorIs(t, err, ErrHistory, "before the old plant went")
	next, err := h.Plant(Plant{From: 2024, Batch: "N-118", Grade: "second", Clone: "348", Rootstock: "SO4"})
	require.NoError(t, err)
	require.Len(t, h.Plants, 1, "the history before stays as it is")
	for _, c := range []struct {
		season, leaf int
		clone        string
		stands       bool
	}{{2004, 0, "", false}, {2005, 1, "181", true}, {2022, 18, "181", true}, {2023, 0, "", false}, {2024, 1, "348", true}, {2027, 4, "348", true}} {
		p, ok := next.In(c.season)
		require.Equal(t, c.stands, ok, c.season)
		require.Equal(t, c.clone, p.Clone, c.season)
		require.Equal(t, c.leaf, next.Leaf(c.season), c.season)
	}
	require.Zero(t, next.Plants[0].Leaf(2027), "the old plant has no leaf after it went")
}

func TestHistory_Layers(t *testing.T) {
	layer := func(l Layer, p Plant) History {
		p.Layer = &l
		return History{Vine: 8, Plants: []Plant{p}}
	}
	good := layer(Layer{Mother: 7, Laid: 2024, Severed: 2026}, Plant{From: 2024})
	require.NoError(t, good.Check())
	require.True(t, good.Plants[0].OwnRooted())
	require.Equal(t, 1, good.Leaf(2024))
	for name, h := range map[string]History{
		"its own mother":      layer(Layer{Mother: 8, Laid: 2024}, Plant{From: 2024}),
		"no mother":           layer(Layer{Laid: 2024}, Plant{From: 2024}),
		"severed before laid": layer(Layer{Mother: 7, Laid: 2024, Severed: 2024}, Plant{From: 2024}),
		"another first leaf":  layer(Layer{Mother: 7, Laid: 2024}, Plant{From: 2025}),
		"with a rootstock":    layer(Layer{Mother: 7, Laid: 2024}, Plant{From: 2024, Rootstock: "SO4"}),
		"season out of reach": {Vine: 8, Plants: []Plant{{From: 20}}},
		"gone before it came": {Vine: 8, Plants: []Plant{{From: 2024, To: 2023}}},
	} {
		require.ErrorIs(t, h.Check(), ErrHistory, name)
	}
	mother := func(p Plant) History { return History{Vine: 7, Plants: []Plant{p}} }
	for _, c := range []struct {
		name string
		all  []History
		says string // empty: no note
	}{
		{"severed in time", []History{mother(Plant{From: 2000}), good}, ""},
		{"mother elsewhere", []History{good}, "not in this block"},
		{"mother gone before", []History{mother(Plant{From: 2000, To: 2022}), good}, "no plant stood in 2024"},
		{"mother gone while feeding", []History{mother(Plant{From: 2000, To: 2024}), good}, "look whether it lives"},
		{"mother gone once severed", []History{mother(Plant{From: 2000, To: 2025}), good}, ""},
		{"never severed", []History{mother(Plant{From: 2000}), layer(Layer{Mother: 7, Laid: 2024}, Plant{From: 2024})}, "cut it from her"},
	} {
		notes := LayerNotes(c.all, 2027, func(id vine.ID) string { return fmt.Sprintf("H3/1/%d", id) })
		if c.says == "" {
			require.Empty(t, notes, c.name)
			continue
		}
		require.Len(t, notes, 1, c.name)
		require.Contains(t, notes[0], c.says, c.name)
		require.Contains(t, notes[0], "H3/1/8", c.name)
	}
}

// An invented block of six positions over five seasons.
func TestLosses_ByYearAndCause(t *testing.T) {
	all := []History{
		{Vine: 1, Plants: []Plant{{From: 2020}}},
		{Vine: 2, Plants: []Plant{{From: 2020, To: 2022, Why: "frost"}, {From: 2024}}},
		{Vine: 3, Plants: []Plant{{From: 2020, To: 2022, Why: "frost"}, {From: 2024, To: 2024, Why: "strimmer"}}},
		{Vine: 4, Plants: []Plant{{From: 2020, To: 2023}}},
		{Vine: 5, Plants: []Plant{{From: 2020}}},
		{Vine: 6},
	}
	got, err := Losses(all, 2022, 2025)
	require.NoError(t, err)
	require.Equal(t, LossTable{Causes: []string{"frost", "strimmer", "unknown"}, Years: []YearLosses{
		{Season: 2022, Stood: 5, Lost: 2, Share: 0.4, Gaps: 0, Planted: 0, ByCause: []int{2, 0, 0}},
		{Season: 2023, Stood: 3, Lost: 1, Share: 1.0 / 3, Gaps: 2, Planted: 0, ByCause: []int{0, 0, 1}},
		{Season: 2024, Stood: 4, Lost: 1, Share: 0.25, Gaps: 1, Planted: 2, ByCause: []int{0, 1, 0}},
		{Season: 2025, Stood: 3, Lost: 0, Share: 0, Gaps: 2, Planted: 0, ByCause: []int{0, 0, 0}},
	}}, got)
	first, err := Losses(all, 2020, 2020)
	require.NoError(t, err)
	require.Zero(t, first.Years[0].Planted, "the planting of the block is no replant")
	_, err = Losses(all, 2025, 2022)
	require.ErrorIs(t, err, ErrInput)
}
