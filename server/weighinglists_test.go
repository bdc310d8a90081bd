package server

import (
	"fmt"
	"net/http"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// fieldWeighingAnswer is as much of a phone's bundle as these tests read.
type fieldWeighingAnswer struct {
	Estate struct {
		ScoreScale string `json:"score_scale"`
	}
	Weighings []struct {
		ID, Code, Crew, Unit  string
		Number, Done, Skipped int
		Rows                  []work.WeighRow
	}
}

// handOver is a list of the home block as the report page sends it.
func handOver(b testBlock, crew string, vines ...int) map[string]any {
	ids := make([]vine.ID, len(vines))
	for k, i := range vines {
		ids[k] = b.vines[i].ID
	}
	return map[string]any{"by": "Ada", "season": 2027, "block": b.ID, "crew": crew, "unit": "lb", "vines": ids}
}

func weight(grams float64) map[string]any {
	return map[string]any{"quantity": "pruning_weight", "unit": "g", "value": grams}
}

func TestWeighingLists(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		b := f.home
		f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"people": 4, "hours_per_day": 7}, 200, nil)
		var made weighingListJSON
		// Named in any order, some twice: kept once each, in walking order.
		second := testVines // first vine of row 2
		f.send(t, http.MethodPost, "/api/weighings", handOver(b, "North", second+2, 5, 3, second+7, 5), 201, &made)
		require.NotEmpty(t, made.ID)
		assert.Equal(t, []any{"H3", "North", "lb", "open", "Ada", 4, 0, 0}, []any{made.Code, made.Crew, made.Unit, made.State, made.By, made.Number, made.Done, made.Skipped})
		assert.Equal(t, []vine.ID{b.vines[3].ID, b.vines[5].ID, b.vines[second+7].ID, b.vines[second+2].ID}, made.Vines, "up one row and down the next")
		f.send(t, http.MethodPost, "/api/weighings", handOver(f.far, "", 0), 201, nil)

		// A weight counts; a vine that is gone and one that was pruned before are put down as such.
		for _, r := range f.post(f.event(b, vine.KindMeasure, weight(450), b.vines[3].ID),
			f.event(b, vine.KindCondition, map[string]any{"condition": "missing"}, b.vines[5].ID),
			f.event(b, vine.KindWork, map[string]any{"operation": work.WeighingWork, "progress": "skipped"}, b.vines[second+7].ID)).Results {
			require.Equal(t, store.Stored, r.Result, r.Reason)
		}
		var now weighingListsJSON
		f.send(t, http.MethodGet, "/api/weighings?season=2027&block=H3", nil, 200, &now)
		require.Len(t, now.Weighings, 1)
		assert.Equal(t, work.WeighingTally{Number: 4, Done: 1, Skipped: 2}, now.Weighings[0].WeighingTally)
		f.send(t, http.MethodGet, "/api/weighings?season=2027", nil, 200, &now)
		assert.Len(t, now.Weighings, 2)

		// What the phone carries.
		var got fieldWeighingAnswer
		a := f.get("/api/field?crew=North")
		a.into(t, &got)
		assert.Equal(t, "1-5", got.Estate.ScoreScale)
		require.Len(t, got.Weighings, 2, "the crew's own and the one for every crew")
		l := got.Weighings[0]
		assert.Equal(t, []any{made.ID, "lb", 4, 1, 2}, []any{l.ID, l.Unit, l.Number, l.Done, l.Skipped})
		require.Len(t, l.Rows, 2)
		assert.Equal(t, []any{"near", "far", testVines}, []any{l.Rows[0].Start, l.Rows[1].Start, l.Rows[0].Last})
		assert.Equal(t, [][5]int64{{4, b.vines[3].ID, 0, 450, 0}, {6, b.vines[5].ID, 6, -1, 0}}, l.Rows[0].Vines)
		assert.Equal(t, [][5]int64{{8, b.vines[second+7].ID, 0, -1, 4}, {3, b.vines[second+2].ID, 0, -1, 0}}, l.Rows[1].Vines)
		tag := a.header.Get("ETag")
		assert.Equal(t, http.StatusNotModified, f.get("/api/field?crew=North", "If-None-Match", tag).status)

		// Withdrawn: gone from the phones, the weight stays.
		f.send(t, http.MethodDelete, "/api/weighings/"+made.ID, nil, 204, nil)
		a = f.get("/api/field?crew=North", "If-None-Match", tag)
		require.Equal(t, http.StatusOK, a.status)
		a.into(t, &got)
		assert.Len(t, got.Weighings, 1)
		f.send(t, http.MethodGet, "/api/weighings?season=2027&withdrawn=1&block=H3", nil, 200, &now)
		require.Len(t, now.Weighings, 1)
		assert.Equal(t, []any{"withdrawn", 1}, []any{now.Weighings[0].State, now.Weighings[0].Done})
		assert.Equal(t, 404, f.ask(http.MethodDelete, "/api/weighings/none", nil).status)
	})
}

func TestWeighingLists_Refused(t *testing.T) {
	f := newFixture(t)
	with := func(change map[string]any) map[string]any {
		in := handOver(f.home, "", 1, 2)
		for k, v := range change {
			in[k] = v
		}
		return in
	}
	for name, c := range map[string]struct {
		body   map[string]any
		status int
		says   string
	}{
		"a unit":                  {with(map[string]any{"unit": "stone"}), 422, "kg, g, lb or oz"},
		"no vines":                {with(map[string]any{"vines": []int{}}), 422, "1 to 5000"},
		"a vine of another block": {with(map[string]any{"vines": []vine.ID{f.far.vines[0].ID}}), 422, "no vine"},
		"a crew there is not":     {with(map[string]any{"crew": "Nobody"}), 422, "no crew"},
		"a season to come":        {with(map[string]any{"season": 2028}), 422, "season 2027"},
		"no block":                {with(map[string]any{"block": 99_999}), 404, ""},
		"a word too many":         {with(map[string]any{"state": "open"}), 400, "state"},
	} {
		a := f.ask(http.MethodPost, "/api/weighings", c.body)
		assert.Equal(t, c.status, a.status, "%s: %s", name, a.body)
		assert.Contains(t, string(a.body), c.says, name)
	}
	var now weighingListsJSON
	f.send(t, http.MethodGet, "/api/weighings?season=2027&withdrawn=1", nil, 200, &now)
	assert.Empty(t, now.Weighings)
	assert.Equal(t, 404, f.get("/api/weighings?season=2027&block=XX").status)
}

// A crew's device gets its own lists and those for every crew, and may record for
// the vines on them what belongs to weighing; nothing else in those rows.
func TestWeighingLists_OfCrews(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	b, ada := g.home, g.signIn("Ada")
	for _, crew := range []string{"North", "South"} {
		require.Equal(t, 200, g.ask(http.MethodPut, "/api/crews/"+crew, map[string]any{"people": 2, "hours_per_day": 7}, ada...).status)
	}
	give := func(crew string, vines ...int) (made weighingListJSON) {
		g.made(http.MethodPost, "/api/weighings", handOver(b, crew, vines...), &made)
		return made
	}
	north, south := give("North", 2, 4), give("South", 6)
	all := give("", 2*testVines)
	device, _ := g.join("North")

	var got fieldWeighingAnswer
	g.get("/api/field", device...).into(t, &got)
	var ids []string
	for _, l := range got.Weighings {
		ids = append(ids, l.ID)
	}
	assert.ElementsMatch(t, []string{north.ID, all.ID}, ids)
	assert.False(t, slices.Contains(ids, south.ID))
	assert.Equal(t, http.StatusForbidden, g.get("/api/weighings?season=2027", device...).status)
	assert.Equal(t, http.StatusForbidden, g.ask(http.MethodDelete, "/api/weighings/"+north.ID, nil, g.signIn("Cia")...).status)

	send := func(e map[string]any) eventAnswer {
		var ans batchAnswer
		g.ask(http.MethodPost, "/api/events", map[string]any{"sent_at": testNow, "events": []any{e}}, device...).into(t, &ans)
		require.Len(t, ans.Results, 1)
		return ans.Results[0]
	}
	stored := func(why string, e map[string]any) { t.Helper(); assert.Equal(t, store.Stored, send(e).Result, why) }
	refused := func(why string, e map[string]any) {
		t.Helper()
		r := send(e)
		assert.Equal(t, store.Refused, r.Result, why)
		assert.Contains(t, r.Reason, "no open order", why)
	}
	first := g.event(b, vine.KindMeasure, weight(300), b.vines[2].ID)
	first["row"] = b.rows[0].ID
	stored("a weight", first)
	stored("taken back", g.event(b, vine.KindVoid, map[string]any{"event": first["id"]}, b.vines[2].ID))
	stored("missing", g.event(b, vine.KindCondition, map[string]any{"condition": "missing"}, b.vines[4].ID))
	stored("pruned already", g.event(b, vine.KindWork, map[string]any{"operation": work.WeighingWork, "progress": "skipped"}, b.vines[2].ID))
	stored("of the list for all", g.event(b, vine.KindMeasure, weight(310), b.vines[2*testVines].ID))
	refused("another crew's vine", g.event(b, vine.KindMeasure, weight(300), b.vines[6].ID))
	refused("one on the list, one not", g.event(b, vine.KindMeasure, weight(300), b.vines[2].ID, b.vines[3].ID))
	refused("the whole row", g.event(b, vine.KindNote, map[string]any{"text": "x"}))
	refused("pruning", g.event(b, vine.KindPruned, map[string]any{}, b.vines[2].ID))
	refused("other work", g.event(b, vine.KindWork, map[string]any{"operation": "tying", "progress": "done"}, b.vines[2].ID))

	require.Equal(t, http.StatusNoContent, g.ask(http.MethodDelete, "/api/weighings/"+north.ID, nil, ada...).status)
	refused("the list was withdrawn", g.event(b, vine.KindMeasure, weight(300), b.vines[2].ID))
	assert.Equal(t, store.Known, send(first).Result, "what was stored before is known")
}

func TestOpenAPI_WeighingLists(t *testing.T) {
	f := newFixture(t)
	f.send(t, http.MethodPost, "/api/weighings", handOver(f.home, "", 1, 2), 201, nil)
	f.send(t, http.MethodPost, "/api/orders", map[string]any{"orders": []any{map[string]any{"season": 2027, "operation": "pruning", "block": f.home.ID, "crew": "",
		"rows": []any{map[string]any{"row": f.home.rows[0].ID}}}}}, 201, nil)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	for path, real := range map[string]string{"/api/weighings": "/api/weighings?season=2027", "/api/field": "/api/field"} {
		t.Run(path, func(t *testing.T) {
			var answer any
			f.get(real).into(t, &answer)
			d.fits(t, d.Paths[path]["get"].Responses["200"].Content["application/json"].Schema, answer, "answer")
			assert.Contains(t, fmt.Sprint(answer), "lb")
		})
	}
}
