package server

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

type fieldReviewAnswer struct{ Reviews []work.FieldReview }

// toLook is a list of places of a block as the page of replants sends it.
func toLook(b testBlock, crew string, vines ...int) map[string]any {
	ids := make([]vine.ID, len(vines))
	for k, i := range vines {
		ids[k] = b.vines[i].ID
	}
	return map[string]any{"by": "Ada", "season": 2027, "block": b.ID, "crew": crew, "vines": ids}
}

// What one look left open goes to the phone with what each source said; the
// person's word that comes back settles it, and "look again" puts it off.
func TestReviewLists(t *testing.T) {
	f, b := gapScene(t)
	f.send(t, http.MethodPut, "/api/crews/North", map[string]any{"people": 2, "hours_per_day": 7}, 200, nil)
	old := f.event(b, vine.KindCondition, map[string]any{"condition": "doubtful", "look_again": testNow.AddDate(0, 0, -3)}, b.vines[12].ID)
	old["at"] = testNow.AddDate(0, 0, -40)
	require.Equal(t, store.Stored, f.post(old).Results[0].Result)
	var made reviewListJSON
	f.send(t, http.MethodPost, "/api/reviews", toLook(b, "North", 70, 11, 10, 12, 10), 201, &made)
	assert.Equal(t, []any{"P1", "North", "open", "Ada", work.ReviewTally{Number: 4, Later: 1}}, []any{made.Code, made.Crew, made.State, made.By, made.ReviewTally})
	assert.Equal(t, []vine.ID{b.vines[10].ID, b.vines[11].ID, b.vines[12].ID, b.vines[70].ID}, made.Vines)

	places := func() map[int]work.ReviewPlace {
		var got fieldReviewAnswer
		f.get("/api/field?crew=North").into(t, &got)
		require.Len(t, got.Reviews, 1)
		out := map[int]work.ReviewPlace{}
		for _, row := range got.Reviews[0].Rows {
			for _, p := range row.Places {
				out[100*int(row.Row-b.rows[0].ID)+p.Number] = p
			}
		}
		return out
	}
	now := places()
	require.Len(t, now, 4)
	assert.Equal(t, []any{"missing", "open", ""}, []any{now[11].State, now[11].How, now[11].LookAgain})
	assert.Equal(t, []work.ReviewSaid{{Source: "crew sightings", State: "missing", Day: testNow.AddDate(0, 0, -9).Format("2006-01-02")}}, now[11].Said)
	assert.Equal(t, []any{"doubtful", "open", testNow.AddDate(0, 0, -3).Format("2006-01-02")}, []any{now[13].State, now[13].How, now[13].LookAgain}, "its day has come")
	dead := now[211]
	assert.Equal(t, []any{"doubtful", "later"}, []any{dead.State, dead.How}, "dead at one look, nine days ago: again in 30")

	say := func(i int, value map[string]any) map[string]any {
		e := f.event(b, vine.KindCondition, value, b.vines[i].ID)
		e["by"], e["device"] = "Ana", "phone"
		require.Equal(t, store.Stored, f.post(e).Results[0].Result)
		return e
	}
	said := say(70, map[string]any{"condition": "dead", "cause": "above graft", "confirmed": true})
	say(10, map[string]any{"condition": "missing", "confirmed": true})
	say(11, map[string]any{"condition": "bearing", "confirmed": true})
	say(12, map[string]any{"condition": "doubtful", "look_again": testNow.AddDate(0, 0, 30)})
	now = places()
	assert.Equal(t, []string{"settled", "settled", "settled", "later"}, []string{now[211].How, now[11].How, now[12].How, now[13].How})
	assert.Equal(t, []string{"dead above graft", "missing", "living"}, []string{now[211].State, now[11].State, now[12].State})
	var list struct{ Reviews []reviewListJSON }
	f.send(t, http.MethodGet, "/api/reviews?season=2027&block=P1", nil, 200, &list)
	require.Len(t, list.Reviews, 1)
	assert.Equal(t, work.ReviewTally{Number: 4, Done: 3, Later: 1}, list.Reviews[0].ReviewTally)

	// Taken back: as before.
	f.post(f.event(b, vine.KindVoid, map[string]any{"event": said["id"]}, b.vines[70].ID))
	assert.Equal(t, "later", places()[211].How)
	f.send(t, http.MethodDelete, "/api/reviews/"+made.ID, nil, 204, nil)
	var got fieldReviewAnswer
	f.get("/api/field?crew=North").into(t, &got)
	assert.Empty(t, got.Reviews)
	assert.Equal(t, 404, f.ask(http.MethodDelete, "/api/reviews/none", nil).status)
	for body, says := range map[string]map[string]any{"1 to 5000": toLook(b, ""), "no crew": toLook(b, "Nobody", 1)} {
		a := f.ask(http.MethodPost, "/api/reviews", says)
		assert.Equal(t, 422, a.status)
		assert.Contains(t, string(a.body), body)
	}
}

// A crew's device gets its own lists, and may say what stands at places on them;
// nothing else.
func TestReviewLists_OfCrews(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	b := g.home
	for _, crew := range []string{"North", "South"} {
		require.Equal(t, 200, g.ask(http.MethodPut, "/api/crews/"+crew, map[string]any{"people": 2, "hours_per_day": 7}, g.signIn("Ada")...).status)
	}
	var north, south reviewListJSON
	g.made(http.MethodPost, "/api/reviews", toLook(b, "North", 2, 4), &north)
	g.made(http.MethodPost, "/api/reviews", toLook(b, "South", 6), &south)
	device, _ := g.join("North")
	var got fieldReviewAnswer
	g.get("/api/field", device...).into(t, &got)
	require.Len(t, got.Reviews, 1)
	assert.Equal(t, north.ID, got.Reviews[0].ID)
	assert.Equal(t, http.StatusForbidden, g.get("/api/reviews?season=2027", device...).status)
	assert.Equal(t, http.StatusForbidden, g.ask(http.MethodPost, "/api/reviews", toLook(b, "", 1), device...).status)
	assert.Equal(t, http.StatusForbidden, g.ask(http.MethodDelete, "/api/reviews/"+north.ID, nil, g.signIn("Cia")...).status)
	for _, c := range []struct {
		why  string
		e    map[string]any
		want store.Result
	}{
		{"its own", g.event(b, vine.KindCondition, map[string]any{"condition": "dead", "confirmed": true}, b.vines[2].ID), store.Stored},
		{"another crew's", g.event(b, vine.KindCondition, map[string]any{"condition": "dead"}, b.vines[6].ID), store.Refused},
		{"a weight", g.event(b, vine.KindMeasure, weight(300), b.vines[2].ID), store.Refused},
		{"the whole row", g.event(b, vine.KindCondition, map[string]any{"condition": "dead"}), store.Refused},
	} {
		var ans batchAnswer
		g.ask(http.MethodPost, "/api/events", map[string]any{"sent_at": testNow, "events": []any{c.e}}, device...).into(t, &ans)
		require.Len(t, ans.Results, 1)
		assert.Equal(t, c.want, ans.Results[0].Result, c.why)
	}
}

func TestOpenAPI_ReviewLists(t *testing.T) {
	f, b := gapScene(t)
	f.send(t, http.MethodPost, "/api/reviews", toLook(b, "", 10, 70), 201, nil)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	for path, real := range map[string]string{"/api/reviews": "/api/reviews?season=2027", "/api/field": "/api/field"} {
		var answer any
		f.get(real).into(t, &answer)
		d.fits(t, d.Paths[path]["get"].Responses["200"].Content["application/json"].Schema, answer, "answer")
	}
}
