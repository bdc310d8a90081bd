package server

import (
	"bufio"
	"context"
	"encoding/json"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// message is one server-sent event; a comment has only text.
type message struct {
	event, data, comment string
}

// listener reads a stream in the background.
type listener struct {
	messages chan message
	header   http.Header
}

func openStream(t testing.TB, base string) *listener {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, base+"/api/stream", nil)
	require.NoError(t, err)
	req.Header.Set("Accept-Encoding", "gzip")
	res, err := (&http.Client{Transport: &http.Transport{DisableKeepAlives: true}}).Do(req)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, res.StatusCode)
	l := &listener{messages: make(chan message, 100), header: res.Header}
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		defer close(l.messages)
		var m message
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			line := lines.Text()
			switch {
			case line == "":
				l.messages <- m
				m = message{}
			case strings.HasPrefix(line, ": "):
				m.comment = line[2:]
			default:
				name, value, _ := strings.Cut(line, ": ")
				if name == "event" {
					m.event = value
				} else if name == "data" {
					m.data = value
				}
			}
		}
	}()
	t.Cleanup(func() { cancel(); res.Body.Close(); <-ended })
	return l
}

// want waits for the next message of an event and gives its data.
func (l *listener) want(t testing.TB, event string) string {
	t.Helper()
	deadline := time.After(10 * time.Second)
	for {
		select {
		case m, ok := <-l.messages:
			require.True(t, ok, "the stream ended while waiting for %s", event)
			if m.event == event {
				return m.data
			}
		case <-deadline:
			t.Fatalf("no %s came", event)
		}
	}
}

func (l *listener) wantEnd(t testing.TB) {
	t.Helper()
	deadline := time.After(3 * time.Second)
	for {
		select {
		case _, ok := <-l.messages:
			if !ok {
				return
			}
		case <-deadline:
			t.Fatal("the stream did not end")
		}
	}
}

func (l *listener) change(t testing.TB) changeMessage {
	t.Helper()
	var m changeMessage
	require.NoError(t, json.Unmarshal([]byte(l.want(t, "change")), &m))
	return m
}

func TestStream_TellsOfChanges(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		l := openStream(t, f.web.URL)
		assert.Equal(t, "text/event-stream", l.header.Get("Content-Type"))
		assert.JSONEq(t, `{"version":"test"}`, l.want(t, "hello"))
		f.post(f.done(f.far, f.far.vines[0].ID))
		m := l.change(t)
		assert.Equal(t, f.far.ID, m.Block)
		assert.False(t, m.Ground)
		assert.Contains(t, m.Seasons, 2027)
		var b blockAnswer
		f.get("/api/blocks/L1").into(t, &b)
		assert.Equal(t, b.Revision, m.Revision, "the revision that the page then finds")
	})
}

func TestStream_BetweenServersOnOneStore(t *testing.T) {
	eachPlace(t, func(t *testing.T, p place) {
		f := newFixtureIn(t, p)
		_, other := serve(t, f.place.open(t))
		path := tilePath(t, f.home, 18)
		before := askAt(t, other.URL, http.MethodGet, path, nil)
		require.Equal(t, http.StatusOK, before.status)
		l := openStream(t, other.URL)
		l.want(t, "hello")

		id := f.home.vines[5].ID
		f.post(f.done(f.home, id))
		m := l.change(t)
		assert.Equal(t, f.home.ID, m.Block)
		after := askAt(t, other.URL, http.MethodGet, path, nil, "If-None-Match", before.header.Get("ETag"))
		require.Equal(t, http.StatusOK, after.status, "the other server shows it by then")
		assert.Equal(t, float64(vine.Done), vinesIn(t, after.body, "progress")[id])
	})
}

func TestStream_Heartbeat(t *testing.T) {
	f := newFixture(t)
	f.server.heartbeat = 10 * time.Millisecond
	l := openStream(t, f.web.URL)
	l.want(t, "hello")
	for range 2 {
		m := <-l.messages
		assert.NotEmpty(t, m.comment)
		assert.Empty(t, m.event)
	}
}

func TestStream_EndsWithTheServer(t *testing.T) {
	f := newFixture(t)
	l := openStream(t, f.web.URL)
	l.want(t, "hello")
	f.server.beginStop()
	l.wantEnd(t)
}

func TestStream_OutlastsTheDeadlineOfOtherRequests(t *testing.T) {
	f := newFixture(t, func(c *Config) { c.RequestTimeout = 30 * time.Millisecond })
	l := openStream(t, f.web.URL)
	l.want(t, "hello")
	time.Sleep(60 * time.Millisecond)
	f.server.stands.Touched()
	var ids []vine.ID
	for _, v := range f.home.vines[:2] {
		ids = append(ids, v.ID)
	}
	_, err := f.store.Append(t.Context(), nil)
	require.NoError(t, err)
	f.postPatiently(f.done(f.home, ids...))
	l.change(t)
}

func TestStream_OutlastsTheTimeoutsOfTheConnection(t *testing.T) {
	f := newFixture(t)
	f.server.heartbeat = 50 * time.Millisecond
	web := httptest.NewUnstartedServer(f.server.Handler())
	web.Config.ReadTimeout, web.Config.WriteTimeout = 100*time.Millisecond, 100*time.Millisecond
	web.Start()
	t.Cleanup(web.Close)
	t.Cleanup(f.server.beginStop)
	l := openStream(t, web.URL)
	l.want(t, "hello")
	for range 8 {
		m, ok := <-l.messages
		require.True(t, ok, "the stream was cut")
		assert.NotEmpty(t, m.comment)
	}
}

// TestStream_SlowClient has one client that never reads: others hear of every
// change all the same, and it is let go when the server stops.
func TestStream_SlowClient(t *testing.T) {
	f := newFixture(t)
	deaf, err := net.Dial("tcp", strings.TrimPrefix(f.web.URL, "http://"))
	require.NoError(t, err)
	defer deaf.Close()
	_, err = deaf.Write([]byte("GET /api/stream HTTP/1.1\r\nHost: localhost\r\n\r\n"))
	require.NoError(t, err)
	l := openStream(t, f.web.URL)
	l.want(t, "hello")
	last := int64(0)
	for i := range 20 {
		f.post(f.done(f.home, f.home.vines[i].ID))
		m := l.change(t)
		assert.Greater(t, m.Revision, last)
		last = m.Revision
	}
}

// postPatiently posts past a server whose deadline is short.
func (f *fixture) postPatiently(e map[string]any) {
	f.t.Helper()
	require.Eventually(f.t, func() bool {
		return f.ask(http.MethodPost, "/api/events", map[string]any{"events": []any{e}}).status == http.StatusOK
	}, 10*time.Second, time.Millisecond)
}
