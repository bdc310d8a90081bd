package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func TestPostEvents_AnswersEachInOrder(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		good := f.done(f.home, f.home.vines[0].ID)
		wrongValue := f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "lb", "value": 1}, f.home.vines[1].ID)
		wrongBlock := f.done(testBlock{Block: store.Block{ID: 987654}}, f.home.vines[1].ID)
		wrongVine := f.done(f.home, 987654321)
		future := f.done(f.home, f.home.vines[2].ID)
		future["season"] = 2029
		extra := f.done(f.home, f.home.vines[2].ID)
		extra["colour"] = "red"
		nameless := f.done(f.home, f.home.vines[2].ID)
		nameless["id"] = "nonsense"
		noDevice := f.done(f.home, f.home.vines[2].ID)
		noDevice["device"] = ""
		unknownKind := f.event(f.home, "weather", map[string]any{}, f.home.vines[0].ID)
		last := f.event(f.home, vine.KindNote, map[string]any{"text": "wire broken"}, f.home.vines[3].ID)

		sent := []any{good, wrongValue, wrongBlock, wrongVine, future, extra, nameless, noDevice, unknownKind, 17, nil, good, last}
		var ans batchAnswer
		f.ask(http.MethodPost, "/api/events", map[string]any{"sent_at": testNow, "events": sent}).into(t, &ans)
		want := []struct {
			event  any
			result store.Result
			reason string
		}{
			{good, store.Stored, ""}, {wrongValue, store.Refused, "pruning_weight is kept in g"}, {wrongBlock, store.Refused, "block"},
			{wrongVine, store.Refused, "vine"}, {future, store.Refused, "season 2029 has not begun"}, {extra, store.Refused, `"colour" is not known`},
			{nil, store.Refused, "invalid UUID"}, {noDevice, store.Refused, "device is missing"}, {unknownKind, store.Refused, `kind "weather"`},
			{nil, store.Refused, "JSON object"}, {nil, store.Refused, "JSON object"}, {good, store.Known, ""}, {last, store.Stored, ""},
		}
		require.Len(t, ans.Results, len(want))
		for i, w := range want {
			got := ans.Results[i]
			assert.Equal(t, w.result, got.Result, "event %d: %s", i, got.Reason)
			if w.event != nil {
				assert.Equal(t, w.event.(map[string]any)["id"], got.ID, "event %d", i)
			}
			if w.result == store.Refused {
				assert.Contains(t, got.Reason, w.reason, "event %d", i)
				assert.NotContains(t, got.Reason, "bad event", "event %d", i)
			} else {
				assert.Empty(t, got.Reason)
			}
		}
		again := f.post(good, last)
		assert.Equal(t, store.Known, again.Results[0].Result)
		assert.Equal(t, store.Known, again.Results[1].Result)
		var v vineAnswer
		f.get(fmt.Sprintf("/api/vines/%d", f.home.vines[0].ID)).into(t, &v)
		assert.Len(t, v.Events, 1, "the same event twice is one event")
	})
}

func TestPostEvents_RefusesTheWholeRequest(t *testing.T) {
	f := newFixture(t)
	many := make([]map[string]any, maxBatch+1)
	for i := range many {
		many[i] = f.done(f.home, f.home.vines[0].ID)
	}
	for _, c := range []struct {
		name    string
		body    any
		headers []string
		status  int
		field   string
	}{
		{"not JSON", "vines", nil, 400, ""},
		{"cut off", `{"sent_at":"2027-01-20T10:00:00Z","events":[{"id":`, nil, 400, ""},
		{"a list", `[]`, nil, 400, ""},
		{"nothing", ``, nil, 400, ""},
		{"no events", `{"sent_at":"2027-01-20T10:00:00Z"}`, nil, 400, "events"},
		{"events of another kind", `{"events":"all"}`, nil, 400, "events"},
		{"a field too many", `{"events":[],"user":"me"}`, nil, 400, ""},
		{"something behind", `{"events":[]} {}`, nil, 400, ""},
		{"time of no kind", `{"sent_at":"yesterday","events":[]}`, nil, 400, ""},
		{"too many", map[string]any{"events": many}, nil, 413, "events"},
		{"too large", `{"events":[` + strings.Repeat(" ", maxBatchBytes) + `]}`, nil, 413, ""},
		{"text", `{"events":[]}`, []string{"Content-Type", "text/plain"}, 415, ""},
		{"form", `events=1`, []string{"Content-Type", "application/x-www-form-urlencoded"}, 415, ""},
		{"compressed", `{"events":[]}`, []string{"Content-Encoding", "gzip"}, 415, ""},
		{"broken type", `{"events":[]}`, []string{"Content-Type", ";;"}, 415, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := f.ask(http.MethodPost, "/api/events", c.body, c.headers...)
			require.Equal(t, c.status, a.status, "%s", a.body)
			p := a.problem(t)
			assert.Equal(t, c.field, p.Field)
		})
	}
	var v vineAnswer
	f.get(fmt.Sprintf("/api/vines/%d", f.home.vines[0].ID)).into(t, &v)
	assert.Empty(t, v.Events, "nothing was stored")
	f.ask(http.MethodPost, "/api/events", `{"events":[]}`, "Content-Type", "application/json; charset=utf-8").into(t, &batchAnswer{})
}

func TestPostEvents_Clock(t *testing.T) {
	for _, c := range []struct {
		name     string
		sentAt   time.Time // zero: not sent
		at, when time.Time
		skewMS   int64
	}{
		{"right", testNow, testNow.Add(-time.Hour), testNow.Add(-time.Hour), 0},
		{"a little slow", testNow.Add(-90 * time.Second), testNow.Add(-time.Hour), testNow.Add(-time.Hour), 90_000},
		{"an hour slow", testNow.Add(-time.Hour), testNow.Add(-2 * time.Hour), testNow.Add(-time.Hour), 3_600_000},
		{"a day fast", testNow.Add(24 * time.Hour), testNow.Add(20 * time.Hour), testNow.Add(-4 * time.Hour), -86_400_000},
		{"at the start of time", time.Unix(0, 0), time.Unix(-60, 0), testNow.Add(-time.Minute), testNow.UnixMilli()},
		{"not told, in the future", time.Time{}, testNow.Add(time.Hour), testNow, 0},
		{"set back between", testNow, testNow.Add(time.Hour), testNow, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFixture(t)
			e := f.done(f.home, f.home.vines[0].ID)
			e["at"] = c.at
			body := map[string]any{"events": []any{e}}
			if !c.sentAt.IsZero() {
				body["sent_at"] = c.sentAt
			}
			var ans batchAnswer
			f.ask(http.MethodPost, "/api/events", body).into(t, &ans)
			require.Equal(t, store.Stored, ans.Results[0].Result, ans.Results[0].Reason)
			assert.Equal(t, c.skewMS, ans.SkewMS)
			assert.True(t, testNow.Equal(ans.ReceivedAt))

			events, err := f.store.Events(t.Context(), store.EventQuery{Block: f.home.ID})
			require.NoError(t, err)
			require.Len(t, events, 1)
			assert.True(t, c.at.Equal(events[0].At), "the device's own time stays: %s", events[0].At)
			assert.True(t, c.when.Equal(events[0].When), "got %s, want %s", events[0].When, c.when)
			assert.True(t, testNow.Equal(events[0].Received))
		})
	}
}

func TestPostEvents_StoreErrors(t *testing.T) {
	for _, c := range []struct {
		name   string
		err    error
		status int
	}{
		{"busy", fmt.Errorf("append: %w", store.ErrBusy), 503},
		{"read-only", fmt.Errorf("append: %w", store.ErrReadOnly), 403},
		{"disk full", fmt.Errorf("append: %w", errDisk), 500},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := newFixture(t)
			broken := &brokenStore{Store: f.store, appendErr: c.err}
			_, web := serve(t, broken)
			a := askAt(t, web.URL, http.MethodPost, "/api/events", map[string]any{"events": []any{f.done(f.home, f.home.vines[0].ID)}})
			require.Equal(t, c.status, a.status)
			p := a.problem(t)
			assert.NotContains(t, p.Detail, errDisk.Error(), "the store's own words stay in the log")
			if c.status == 503 {
				assert.NotEmpty(t, a.header.Get("Retry-After"))
			}
		})
	}
}

// FuzzReadEvent wants no panic, no event without its checks, and an answer for
// whatever comes.
func FuzzReadEvent(f *testing.F) {
	id := uuid.Must(uuid.NewV7())
	for _, value := range []string{`{"operation":"pruning","progress":"done"}`, `{"text":"x"}`, `{}`, `null`} {
		f.Add([]byte(fmt.Sprintf(`{"id":%q,"device":"d","seq":1,"at":"2027-01-20T09:00:00Z","season":2027,"block":1,"kind":"work","value":%s}`, id, value)))
	}
	f.Add([]byte(`{"vines":[1,2],"kind":"measure","value":{"values":[1e309]}}`))
	cal := vine.Hemisphere(false, nil)
	f.Fuzz(func(t *testing.T, raw []byte) {
		if !json.Valid(raw) {
			return // the batch would not have been read
		}
		e, err := readEvent(raw, testNow, time.Hour, cal)
		if err != nil {
			if reasonOf(err) == "" {
				t.Fatalf("no reason for %q", raw)
			}
			idOf(raw)
			return
		}
		if err := e.Check(); err != nil {
			t.Fatalf("read an event that does not hold: %v", err)
		}
		if e.When.After(e.Received) {
			t.Fatalf("made after it was received: %s", e.When)
		}
	})
}
