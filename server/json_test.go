package server

import (
	"encoding/json"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// The answers as a client reads them: apart from the server's own types, so
// that a renamed field shows.
type blockAnswer struct {
	ID       vine.ID    `json:"id"`
	Code     string     `json:"code"`
	Leaf     int        `json:"leaf"`
	AreaM2   float64    `json:"area_m2"`
	RowM     float64    `json:"row_m"`
	Rows     int        `json:"rows"`
	Vines    int        `json:"vines"`
	Revision int64      `json:"revision"`
	Bounds   [4]float64 `json:"bounds"`
	Center   [2]float64 `json:"center"`
	Totals   struct {
		Vines     int            `json:"vines"`
		Condition map[string]int `json:"condition"`
		Vigour    []int          `json:"vigour"`
		Progress  map[string]int `json:"progress"`
		ToPrune   int            `json:"to_prune"`
		Gaps      int            `json:"gaps"`
		Weighed   int            `json:"weighed"`
		WeightG   *float64       `json:"weight_mean_g"`
		Planned   int            `json:"nodes_planned"`
		Left      int            `json:"nodes_left"`
	} `json:"totals"`
	RowList []struct {
		ID      vine.ID `json:"id"`
		Label   string  `json:"label"`
		Vines   int     `json:"vines"`
		LengthM float64 `json:"length_m"`
		Done    int     `json:"done"`
		ToDo    int     `json:"to_do"`
	} `json:"row_list"`
}

type vineAnswer struct {
	ID    vine.ID `json:"id"`
	Block struct {
		ID   vine.ID
		Code string
	}
	Row struct {
		ID    vine.ID
		Label string
	}
	Number  int
	Address string
	Tag     string
	Lon     float64
	Lat     float64
	Seasons []struct {
		Season    int
		Leaf      int
		Condition string
		Measures  map[string]struct {
			Value float64
			Unit  string
		}
		Vigour  int
		WeightM *float64 `json:"weight_g_per_m"`
		Pruned  *struct {
			Nodes *int
			By    string
		}
		Progress string
		Plan     *struct {
			Nodes  *int
			Reason string
		}
		Clashes []any
	}
	OldLabels []struct{ Label string } `json:"old_labels"`
	Plantings []struct{ From int }
	Events    []struct {
		ID     string
		Kind   string
		Cursor int64
		Voided bool
		Value  json.RawMessage
	}
	Previous vine.ID
	Next     vine.ID
}

func TestEstate(t *testing.T) {
	f := newFixture(t)
	var e struct {
		Name    string
		Zone    string
		Seasons []int
		Season  int
		Bounds  [4]float64
		Vines   int
		BaseMap any `json:"base_map"`
		Version string
	}
	f.get("/api/estate").into(t, &e)
	assert.Equal(t, "Trockenried", e.Name)
	assert.Equal(t, 2*testRows*testVines, e.Vines)
	assert.Equal(t, []int{2027}, e.Seasons, "nothing recorded: the present season")
	assert.Equal(t, 2027, e.Season)
	assert.Nil(t, e.BaseMap)
	assert.Equal(t, "test", e.Version)
	assert.InDelta(t, homeAt[0], e.Bounds[0], 1e-6)
	assert.Greater(t, e.Bounds[2], farAt[0])

	past := f.done(f.home, f.home.vines[0].ID)
	past["season"] = 2025
	f.post(past)
	f.get("/api/estate").into(t, &e)
	assert.Equal(t, []int{2025, 2027}, e.Seasons)
}

func TestEstate_SeasonToOpen(t *testing.T) {
	for _, c := range []struct {
		name     string
		recorded []int
		now      time.Time
		open     int
	}{
		{"nothing recorded", nil, testNow, 2027},
		{"this winter recorded", []int{2026, 2027}, testNow, 2027},
		{"last winter recorded", []int{2026}, testNow, 2027},
		{"long ago recorded", []int{2024}, testNow, 2024},
		{"the day before the turn", []int{2027}, time.Date(2027, 10, 31, 12, 0, 0, 0, time.UTC), 2027},
		{"the turn in the estate's own time", []int{2027}, time.Date(2027, 10, 31, 23, 30, 0, 0, time.UTC), 2028},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFixture(t, func(cfg *Config) { cfg.Now = func() time.Time { return c.now } })
			for _, season := range c.recorded {
				e := f.done(f.home, f.home.vines[0].ID)
				e["season"] = season
				require.Equal(t, store.Stored, f.post(e).Results[0].Result)
			}
			var e struct{ Season int }
			f.get("/api/estate").into(t, &e)
			assert.Equal(t, c.open, e.Season)
		})
	}
}

func TestBlocks(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		f.post(
			f.event(f.home, vine.KindCondition, map[string]any{"condition": "missing"}, f.home.vines[0].ID),
			f.done(f.home, f.home.vines[1].ID, f.home.vines[2].ID),
			f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []int{300, 900}},
				f.home.vines[3].ID, f.home.vines[4].ID),
		)
		var list struct {
			Season int
			Blocks []blockAnswer
		}
		f.get("/api/blocks?season=2027").into(t, &list)
		require.Len(t, list.Blocks, 2)
		assert.Equal(t, 2027, list.Season)
		b := list.Blocks[0]
		assert.Equal(t, "H3", b.Code)
		assert.Equal(t, 23, b.Leaf, "first leaf in 2005")
		assert.Equal(t, testRows*testVines, b.Vines)
		assert.Equal(t, testRows, b.Rows)
		assert.InDelta(t, rowM*testRows*vineM*testVines, b.AreaM2, 0.01)
		assert.InDelta(t, testRows*testVines*vineM, b.RowM, 1e-9)
		assert.Equal(t, 1, b.Totals.Condition["missing"])
		assert.Equal(t, testRows*testVines-1, b.Totals.Condition["unseen"])
		assert.Equal(t, 1, b.Totals.Gaps)
		assert.Equal(t, testRows*testVines-1, b.Totals.ToPrune)
		assert.Equal(t, 2, b.Totals.Progress["done"])
		assert.Equal(t, 2, b.Totals.Weighed)
		require.NotNil(t, b.Totals.WeightG)
		assert.InDelta(t, 600, *b.Totals.WeightG, 1e-9)
		assert.Equal(t, []int{38, 0, 1, 0, 1, 0}, b.Totals.Vigour, "0.25 and 0.75 kg/m")
		assert.Equal(t, 2, list.Blocks[1].Totals.Condition["unseen"]/20, "the other block is as it was")

		f.get("/api/blocks/H3?season=2027").into(t, &b)
		require.Len(t, b.RowList, testRows)
		assert.Equal(t, "1", b.RowList[0].Label)
		assert.Equal(t, testVines, b.RowList[0].Vines)
		assert.Equal(t, 2, b.RowList[0].Done)
		assert.Equal(t, testVines-3, b.RowList[0].ToDo, "one is missing, two are done")
		assert.InDelta(t, testVines*vineM, b.RowList[0].LengthM, 1e-9)
	})
}

func TestVine(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		v := f.home.vines[4]
		note := f.event(f.home, vine.KindNote, map[string]any{"text": "leaning"}, v.ID)
		last := f.event(f.home, vine.KindCondition, map[string]any{"condition": "weak", "cause": "drought"}, v.ID)
		last["season"] = 2026
		f.post(last, f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "value": 600}, v.ID),
			f.event(f.home, vine.KindPruned, map[string]any{"nodes": 9}, v.ID), note)
		f.post(f.event(f.home, vine.KindVoid, map[string]any{"event": note["id"]}, v.ID))

		var a vineAnswer
		f.get(fmt.Sprintf("/api/vines/%d", v.ID)).into(t, &a)
		assert.Equal(t, "H3/1/5", a.Address)
		assert.Equal(t, f.home.ID, a.Block.ID)
		assert.Equal(t, "1", a.Row.Label)
		assert.Equal(t, f.home.vines[3].ID, a.Previous)
		assert.Equal(t, f.home.vines[5].ID, a.Next)
		assert.InDelta(t, v.Point[0], a.Lon, 1e-9)
		assert.InDelta(t, v.Point[1], a.Lat, 1e-9)
		require.Len(t, a.Seasons, 2)
		assert.Equal(t, 2026, a.Seasons[0].Season)
		assert.Equal(t, "weak", a.Seasons[0].Condition)
		now := a.Seasons[1]
		assert.Equal(t, "weak", now.Condition, "carried forward")
		assert.Equal(t, 23, now.Leaf)
		assert.Equal(t, 600.0, now.Measures["pruning_weight"].Value)
		assert.Equal(t, "g", now.Measures["pruning_weight"].Unit)
		require.NotNil(t, now.WeightM)
		assert.InDelta(t, 500, *now.WeightM, 0.1, "600 g on 1.2 m")
		assert.Equal(t, 3, now.Vigour)
		require.NotNil(t, now.Pruned)
		assert.Equal(t, 9, *now.Pruned.Nodes)
		assert.Equal(t, "Ada", now.Pruned.By)
		assert.Equal(t, "done", now.Progress)
		assert.Nil(t, now.Plan)
		require.Len(t, a.Events, 5)
		assert.Equal(t, "void", a.Events[0].Kind, "newest first")
		assert.True(t, a.Events[1].Voided)
		assert.False(t, a.Events[2].Voided)
		assert.Greater(t, a.Events[0].Cursor, a.Events[4].Cursor)
		require.Len(t, a.Plantings, 1)
		assert.Equal(t, 2005, a.Plantings[0].From)

		f.get(fmt.Sprintf("/api/vines/%d", f.home.vines[0].ID)).into(t, &a)
		assert.Zero(t, a.Previous, "the first of its row")
	})
}

func TestVine_Plan(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		v := f.home.vines[4].ID
		require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) error {
			_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.home.ID, Made: testNow, By: "Ada", Source: "by hand"},
				[]store.PlanEntry{{Vine: v, Nodes: 10, Canes: 1, Spurs: -1, Reason: "balanced"}})
			return err
		}))
		require.Eventually(t, func() bool {
			var b blockAnswer
			f.get("/api/blocks/H3?season=2027").into(t, &b)
			return b.Totals.Planned == 10
		}, 5*time.Second, 5*time.Millisecond, "the stand takes up a new plan")
		var a vineAnswer
		f.get(fmt.Sprintf("/api/vines/%d", v)).into(t, &a)
		require.NotNil(t, a.Seasons[0].Plan)
		assert.Equal(t, 10, *a.Seasons[0].Plan.Nodes)
		assert.Equal(t, "balanced", a.Seasons[0].Plan.Reason)
		f.get(fmt.Sprintf("/api/vines/%d", f.home.vines[5].ID)).into(t, &a)
		assert.Nil(t, a.Seasons[0].Plan)
	})
}

func TestFindVines(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		var found struct {
			Vines []struct {
				ID      vine.ID
				Address string
				Block   struct{ Code string }
			}
		}
		f.get("/api/vines?find=h3/2/3").into(t, &found)
		require.Len(t, found.Vines, 1)
		assert.Equal(t, f.home.vines[testVines+2].ID, found.Vines[0].ID)
		assert.Equal(t, "H3/2/3", found.Vines[0].Address)
		f.get("/api/vines?find=H3/99/1").into(t, &found)
		assert.Empty(t, found.Vines)
		assert.NotNil(t, found.Vines, "an empty list, not null")
	})
}

func TestLegends(t *testing.T) {
	f := newFixture(t)
	var legends map[string]struct {
		Title   string
		Classes []struct {
			Key, Label, Light, Dark, Symbol string
			Code                            int
		}
	}
	f.get("/api/legends").into(t, &legends)
	require.Len(t, legends, 10)
	for i, key := range []string{"unseen", "bearing", "young", "weak", "diseased", "dead", "missing", "replanted", "doubtful"} {
		assert.Equal(t, key, legends["condition"].Classes[i].Key)
		assert.Equal(t, i, legends["condition"].Classes[i].Code)
		assert.Regexp(t, "^#[0-9a-f]{6}$", legends["condition"].Classes[i].Light)
	}
	assert.Len(t, legends["vigour"].Classes, 6)
	assert.Len(t, legends["progress"].Classes, 5)
}
