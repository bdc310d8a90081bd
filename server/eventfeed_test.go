package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// feed asks for what came after a place in the log.
func (f *fixture) feed(t require.TestingT, since int64, limit int) (ids []string, next int64) {
	var got struct {
		Events []struct {
			ID     string
			Cursor int64
			Kind   vine.Kind
			Value  json.RawMessage
		}
		Next int64
	}
	f.get(fmt.Sprintf("/api/events?since=%d&limit=%d", since, limit)).into(f.t, &got)
	last := since
	for _, e := range got.Events {
		require.Greater(t, e.Cursor, last)
		require.NotEmpty(t, e.Kind)
		last, ids = e.Cursor, append(ids, e.ID)
	}
	require.Equal(t, last, got.Next)
	return ids, got.Next
}

// Whatever the limit, asking on gives every event once and in order of receipt,
// also those that come while one reads; a void is an event like others.
func TestEventFeed(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		var want []string
		send := func(e map[string]any) {
			require.Equal(t, "stored", string(f.post(e).Results[0].Result))
			want = append(want, e["id"].(string))
		}
		for i := range 11 {
			send(f.event(f.home, vine.KindNote, map[string]any{"text": fmt.Sprint(i)}, f.home.vines[i].ID))
		}
		send(f.event(f.home, vine.KindVoid, map[string]any{"event": want[3]}, f.home.vines[3].ID))
		f.post(map[string]any{"id": "nonsense"}) // refused: not in the log
		for _, limit := range []int{1, 2, 3, 5, 11, 12, 13, 5000} {
			var got []string
			since := int64(0)
			for range 20 {
				ids, next := f.feed(t, since, limit)
				if len(ids) == 0 {
					break
				}
				got, since = append(got, ids...), next
			}
			assert.Equal(t, want, got, "limit %d", limit)
		}
		_, end := f.feed(t, 0, 1000)
		send(f.done(f.far, f.far.vines[0].ID))
		ids, _ := f.feed(t, end, 10)
		assert.Equal(t, want[12:], ids, "only what is new")
	})
}

func TestEventFeed_Odd(t *testing.T) {
	f := newFixture(t)
	for _, q := range []string{"since=-1", "since=x", "since=", "limit=0", "limit=x", "limit=-2", "since=1&since=2", "after=1"} {
		a := f.get("/api/events?" + q)
		assert.Equal(t, http.StatusBadRequest, a.status, q)
		a.problem(t)
	}
	ids, next := f.feed(t, 9_000_000_000, 10)
	assert.Empty(t, ids)
	assert.EqualValues(t, 9_000_000_000, next)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	f.post(f.done(f.home, f.home.vines[0].ID))
	var answer any
	f.get("/api/events").into(t, &answer)
	require.Len(t, answer.(map[string]any)["events"], 1)
	d.fits(t, d.Paths["/api/events"]["get"].Responses["200"].Content["application/json"].Schema, answer, "answer")
}
