package server

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// gapScene is an estate with two missing vines, one dead at two looks and one dead
// at a single look, in block P1.
func gapScene(t *testing.T) (*fixture, testBlock) {
	f, b := patchyEstate(t)
	for _, c := range []struct {
		condition string
		days      int
		vine      int
	}{{"missing", 9, 10}, {"missing", 9, 11}, {"dead", 20, 40}, {"dead", 8, 40}, {"dead", 9, 70}} {
		e := f.event(b, vine.KindCondition, map[string]any{"condition": c.condition}, b.vines[c.vine].ID)
		e["at"] = testNow.AddDate(0, 0, -c.days)
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	}
	return f, b
}

// A person's word settles what one look leaves doubtful; without a name it does
// not (Review of gaps: dead needs a second sighting or a person's word).
func TestReplants_AnswerConfirms(t *testing.T) {
	f, b := gapScene(t)
	answer := func(by, condition string, i int) {
		e := f.event(b, vine.KindCondition, map[string]any{"condition": condition, "confirmed": true}, b.vines[i].ID)
		e["by"] = by
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	}
	var got replantsJSON
	read := func() map[string]reviewItemJSON {
		f.send(t, http.MethodGet, "/api/blocks/P1/replants?season=2027", nil, 200, &got)
		out := map[string]reviewItemJSON{}
		for _, row := range got.Review {
			for _, item := range row.Items {
				out[item.Address] = item
			}
		}
		return out
	}
	item := read()["P1/3/11"]
	assert.Equal(t, "doubtful", item.State)
	assert.NotEmpty(t, item.LookAgain)
	assert.Equal(t, []any{"3", 11, b.vines[70].ID, b.rows[2].ID}, []any{item.Row, item.Number, item.ID, item.RowID})
	answer("", "dead", 70)
	assert.Equal(t, "dead standing", read()["P1/3/11"].State, "a second look on another day, but nobody's word: still on the list")
	answer("Ada", "missing", 10)
	assert.NotContains(t, read(), "P1/1/11", "Ada's word settles it")
	answer("Ada", "bearing", 40)
	assert.NotContains(t, read(), "P1/2/11")
	assert.Equal(t, []int{2, 1}, []int{got.Counts["missing"], got.Counts["dead standing"]})
}

// A layer is told by its mother, stands apart from what a nursery delivered, and is
// still fed by her until somebody says that it was cut off (Layering grape vines,
// my-grape-vine.com: after a year or two).
func TestReplants_Layers(t *testing.T) {
	f, b := gapScene(t)
	say := func(season int, i int, value map[string]any) {
		e := f.event(b, vine.KindCondition, value, b.vines[i].ID)
		e["season"], e["at"] = season, testNow.AddDate(season-2027, 0, -5+season-2024)
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
	}
	say(2024, 200, map[string]any{"condition": "missing", "cause": "machine"})
	say(2025, 200, map[string]any{"condition": "replanted", "mother": b.vines[199].ID})
	say(2025, 250, map[string]any{"condition": "replanted", "batch": "N-1"})
	read := func() (replantsJSON, vineJSON) {
		var got replantsJSON
		var one vineJSON
		f.send(t, http.MethodGet, "/api/blocks/P1/replants?season=2027", nil, 200, &got)
		f.send(t, http.MethodGet, fmt.Sprintf("/api/vines/%d", b.vines[200].ID), nil, 200, &one)
		return got, one
	}
	got, one := read()
	mother := f.addressOf(t, b.vines[199].ID)
	require.Len(t, one.Plantings, 2)
	assert.Equal(t, []any{2025, b.vines[199].ID, 0, mother}, []any{one.Plantings[1].From, one.Plantings[1].Mother, one.Plantings[1].Severed, one.Plantings[1].MotherAddress})
	require.Len(t, got.Layers, 1)
	assert.Contains(t, got.Layers[0], "has hung on its mother "+mother+" for 2 seasons")
	batches := map[string]int{}
	for _, s := range got.Survival {
		batches[s.Batch] = s.Curve.Plants
	}
	assert.Equal(t, []int{1, 1, 0}, []int{batches["layers of neighbours"], batches["N-1"], batches["planted 2025, delivery not named"]})

	say(2027, 200, map[string]any{"condition": "young", "severed": true})
	got, one = read()
	assert.Equal(t, 2027, one.Plantings[1].Severed)
	assert.Empty(t, got.Layers)
	bad := f.event(b, vine.KindCondition, map[string]any{"condition": "replanted", "mother": b.vines[200].ID}, b.vines[200].ID)
	assert.Contains(t, f.post(bad).Results[0].Reason, "layer of itself")
}

// addressOf asks for a vine's address.
func (f *fixture) addressOf(t *testing.T, id vine.ID) string {
	var one vineJSON
	f.send(t, http.MethodGet, fmt.Sprintf("/api/vines/%d", id), nil, 200, &one)
	return one.Address
}

func TestReplants_Preview(t *testing.T) {
	f, b := gapScene(t)
	url := "/api/blocks/P1/replants/preview"
	var now, then replantsJSON
	f.send(t, http.MethodPost, url, map[string]any{"season": 2027}, 200, &now)
	require.NotNil(t, now.Comparison)
	assert.Equal(t, []int{600, 3, 30}, []int{now.Case.Positions, now.Case.Gaps, now.Case.Horizon})
	dear := now.Settings.Money
	dear.Price.Value, dear.Price.Low, dear.Price.High, dear.Price.Source, dear.Price.Year = 3, 2, 4, "the co-operative's list", 2026
	f.send(t, http.MethodPost, url, map[string]any{"season": 2027, "settings": map[string]any{"money": dear, "fill_over_years": 2, "horizon_years": 12}}, 200, &then)
	assert.Len(t, then.Comparison.Plans[0].Years, 12)
	year := then.Comparison.Plans[0].Years[0]
	assert.InDelta(t, 3*year.SoldKgHa, year.Sales, 1e-6, "sold × price")
	assert.Equal(t, "the co-operative's list", then.Settings.Money.Price.Source)
	// Nothing was kept.
	f.send(t, http.MethodPost, url, map[string]any{"season": 2027}, 200, &then)
	assert.Equal(t, now.Settings, then.Settings)
	assert.Equal(t, now.Comparison, then.Comparison)

	// A sample of rows beside the full count; the same seed draws the same rows,
	// and a count of one's own goes before the record.
	require.NotNil(t, now.Sample)
	assert.Len(t, now.Sample.Rows, min(sampleRows, len(b.rows)))
	assert.Contains(t, now.Sample.Text, "Full count: 3 gaps on 600 positions: 0.50 %")
	counted := map[string]int{}
	positions := 0
	for _, row := range now.Sample.Rows {
		counted[fmt.Sprint(row.ID)] = 3
		positions += row.Positions
	}
	f.send(t, http.MethodPost, url, map[string]any{"season": 2027, "sample": map[string]any{"rows": sampleRows, "seed": 1, "counted": counted}}, 200, &then)
	assert.Equal(t, now.Sample.Rows[0].ID, then.Sample.Rows[0].ID)
	// D = 100 × A / (B × C) and E = D − 0.10 D (Determining the number of replacement
	// vines, Oenopedia).
	share := float64(3*len(counted)) / float64(positions)
	assert.InDelta(t, share, then.Sample.Rate.Share, 1e-12)
	assert.InDelta(t, 0.9*share, then.Sample.Rate.AfterAllowance, 1e-12)

	crews := map[string]int{}
	for _, s := range now.Sources {
		crews[s.Source] = s.Of
	}
	assert.Equal(t, 4, crews["crew sightings"])
	for name, bad := range map[string]map[string]any{
		"season":  {"season": 1200},
		"rate":    {"season": 2027, "settings": map[string]any{"limits": map[string]any{"too_many": 7}}},
		"key":     {"season": 2027, "settings": map[string]any{"colour": 1}},
		"sample":  {"season": 2027, "sample": map[string]any{"rows": 1}},
		"counted": {"season": 2027, "sample": map[string]any{"rows": 600, "counted": map[string]int{fmt.Sprint(b.rows[0].ID): 9000}}},
	} {
		status := f.ask(http.MethodPost, url, bad).status
		assert.True(t, status >= 400 && status < 500, "%s: %d", name, status)
	}
	assert.Equal(t, 404, f.ask(http.MethodPost, "/api/blocks/ZZ/replants/preview", map[string]any{"season": 2027}).status)
}

// The theme's column, the legend's counts and the panel follow what is recorded.
func TestReplants_OnTheMap(t *testing.T) {
	f, b := gapScene(t)
	v := func(i int) vine.ID { return b.vines[i].ID }
	f.ready("P1")
	column := func() []uint8 {
		at, err := f.server.stands.Stand(t.Context(), b.ID, 2027)
		require.NoError(t, err)
		out := make([]uint8, 0, 4)
		for _, i := range []int{10, 11, 40, 70} {
			k, ok := at.Stand.Ground.IndexOf(v(i))
			require.True(t, ok)
			out = append(out, uint8(at.Stand.ReplantOf(k)))
		}
		return out
	}
	shows := func(want ...uint8) {
		t.Helper()
		require.Eventually(t, func() bool { return slices.Equal(want, column()) }, 20*time.Second, 20*time.Millisecond)
	}
	m, d, q := uint8(stand.ReplantMissing), uint8(stand.ReplantDead), uint8(stand.ReplantDoubtful)
	shows(m, m, d, q)
	f.send(t, http.MethodPost, "/api/blocks/P1/replants/steps", map[string]any{"by": "Ada", "to": "to replace", "vines": []vine.ID{v(10), v(40)}, "day": "2027-01-05"}, 200, nil)
	f.send(t, http.MethodPost, "/api/blocks/P1/replants/steps", map[string]any{"by": "Ada", "to": "ordered", "vines": []vine.ID{v(40)}, "day": "2027-01-06", "batch": "N-4"}, 200, nil)
	shows(uint8(stand.ReplantToReplace), m, uint8(stand.ReplantOrdered), q)

	var blocks struct {
		Blocks []struct {
			Code   string
			Totals struct{ Replants []int }
		}
	}
	f.send(t, http.MethodGet, "/api/blocks?season=2027", nil, 200, &blocks)
	for _, one := range blocks.Blocks {
		if one.Code == "P1" {
			assert.Equal(t, []int{596, 0, 1, 0, 0, 1, 1, 1, 0, 0, 0, 0}, one.Totals.Replants)
		}
	}
	var one vineReplantJSON
	f.send(t, http.MethodGet, fmt.Sprintf("/api/vines/%d/replants?season=2027", v(40)), nil, 200, &one)
	require.NotNil(t, one.Place)
	assert.Equal(t, []string{"dead standing", "ordered", "N-4", "Ada"}, []string{one.Stands, one.Place.Stage, one.Place.Batch, one.Place.By})
	assert.Equal(t, []string{"hole dug", "withdrawn"}, one.Place.Next)
	assert.Contains(t, one.Why, "dead")
	assert.NotEmpty(t, one.Reasons)
	assert.Equal(t, 404, f.ask(http.MethodGet, "/api/vines/999999/replants", nil).status)
	assert.Equal(t, 404, f.ask(http.MethodGet, "/api/vines/x/replants", nil).status)

	// The files hold candidates, and places that are none.
	f.send(t, http.MethodPost, "/api/blocks/P1/replants/steps", map[string]any{"by": "Ada", "to": "to replace", "vines": []vine.ID{v(200)}, "day": "2027-01-06"}, 200, nil)
	lines, err := csv.NewReader(strings.NewReader(string(f.get("/api/replants.csv?season=2027&block=P1").body))).ReadAll()
	require.NoError(t, err)
	assert.Len(t, lines, 1+5)
	assert.Equal(t, []string{"courson_id", "address", "block"}, lines[0][:3])
	all, err := geojson.UnmarshalFeatureCollection(f.get("/api/replants.geojson?season=2027&block=P1").body)
	require.NoError(t, err)
	require.Len(t, all.Features, 5)
	walk := map[float64]bool{}
	for _, feature := range all.Features {
		walk[feature.Properties.MustFloat64("walk")] = true
		assert.Equal(t, "P1", feature.Properties["block"])
	}
	assert.Len(t, walk, 5, "each has its place on the walk")
	assert.Equal(t, 404, f.ask(http.MethodGet, "/api/replants.csv?season=2027&block=ZZ", nil).status)
}
