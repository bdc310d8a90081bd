package server

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func TestCrew_OnlyItsOwn(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		g := newGated(t, p)
		device, _ := g.join("North")
		g.order("1", "North", "open", g.home, 0)
		g.order("2", "South", "open", g.far, 0)
		g.order("3", "North", "withdrawn", g.home, 3)
		for _, name := range []string{"North", "South"} {
			require.Equal(t, 200, g.ask(http.MethodPut, "/api/crews/"+name, map[string]any{"people": 3, "hours_per_day": 7}, g.signIn("Ada")...).status)
		}

		for path, want := range map[string]int{
			"/api/field": 200, "/api/field?crew=North": 200, "/api/field?crew=South": 403, "/api/field?crew=": 403,
			"/api/field?crew=North&crew=South": 403, "/api/field?crew=north": 403, "/api/field?crew=North%00": 403, "/api/field?%zz": 400,
		} {
			a := g.get(path, device...)
			require.Equal(t, want, a.status, "%s: %s", path, a.body)
			if want == 200 {
				assert.NotContains(t, string(a.body), fmt.Sprint(`"block":`, g.far.ID), "no order of another crew")
				assert.Contains(t, string(a.body), `"crews":["North"]`, "no name of another crew")
			}
		}
		row := func(b testBlock, r int, vines ...vine.ID) map[string]any {
			e := g.done(b, vines...)
			e["row"], e["by"] = b.rows[r].ID, ""
			return e
		}
		noRow := g.done(g.home, g.home.vines[2].ID, g.home.vines[3].ID)
		mixed := g.done(g.home, g.home.vines[2].ID, g.home.vines[testVines].ID)
		foreign := row(g.home, 0)
		foreign["block"] = g.far.ID
		whole := g.done(g.home)
		delete(whole, "vines")
		many := g.done(g.home, slices.Repeat([]vine.ID{g.home.vines[2].ID}, mostLookups+1)...)
		one := row(g.home, 0, g.home.vines[0].ID)
		events := []struct {
			event map[string]any
			want  store.Result
		}{
			{one, store.Stored}, {row(g.home, 0), store.Stored}, {noRow, store.Stored},
			{row(g.home, 1), store.Refused}, {row(g.home, 3), store.Refused}, {row(g.far, 0), store.Refused}, {foreign, store.Refused},
			{mixed, store.Refused}, {whole, store.Refused}, {many, store.Refused},
			{row(g.home, 0, g.home.vines[testVines].ID), store.Refused}, // a vine of another row under a row of its own
			{g.done(g.home, 999_999_999), store.Refused},
		}
		var sent []map[string]any
		for _, e := range events {
			sent = append(sent, e.event)
		}
		var ans batchAnswer
		g.ask(http.MethodPost, "/api/events", map[string]any{"events": sent}, device...).into(t, &ans)
		for i, e := range events {
			assert.Equal(t, e.want, ans.Results[i].Result, "event %d: %s", i, ans.Results[i].Reason)
		}
		log, err := g.store.Events(t.Context(), store.EventQuery{})
		require.NoError(t, err)
		require.Len(t, log, 3)
		assert.Equal(t, "Ana's phone", log[0].By, "the name given at joining")
		assert.Equal(t, "Ada", log[2].By, "a name that was given stays")

		// The answer was lost, and the order was withdrawn meanwhile.
		g.order("1", "North", "withdrawn", g.home, 0)
		g.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{one, row(g.home, 0)}}, device...).into(t, &ans)
		assert.Equal(t, store.Known, ans.Results[0].Result)
		assert.Equal(t, store.Refused, ans.Results[1].Result)
	})
}

func TestCrew_Hook(t *testing.T) {
	asked := 0
	g := newGated(t, gpkgPlace(t), func(c *Config) {
		c.Access.Covers = func(_ context.Context, crew string, row vine.ID) (bool, error) {
			asked++
			return crew == "North" && row != 0, nil
		}
	})
	device, _ := g.join("North")
	var ans batchAnswer
	g.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{g.done(g.far, g.far.vines[0].ID), g.done(g.far, g.far.vines[1].ID)}}, device...).into(t, &ans)
	assert.Equal(t, store.Stored, ans.Results[1].Result)
	assert.Equal(t, 1, asked, "once for a row of a batch")
}

// An open stream ends with the session that it was asked for by.
func TestStream_EndsWithTheSession(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	g.server.heartbeat = 20 * time.Millisecond
	cia := g.signIn("Cia")
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, g.web.URL+"/api/stream", nil)
	require.NoError(t, err)
	req.Header.Set(cia[0], cia[1])
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer res.Body.Close()
	require.Equal(t, http.StatusOK, res.StatusCode)
	ended := make(chan error, 1)
	go func() { _, err := io.Copy(io.Discard, res.Body); ended <- err }()
	select {
	case <-ended:
		t.Fatal("ended too early")
	case <-time.After(150 * time.Millisecond):
	}
	require.Equal(t, http.StatusNoContent, g.ask(http.MethodPost, "/api/signout", nil, cia...).status)
	select {
	case err := <-ended:
		assert.NoError(t, err)
	case <-time.After(5 * time.Second):
		t.Fatal("still open")
	}
}
