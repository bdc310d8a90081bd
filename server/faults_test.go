package server

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"iter"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

var errDisk = errors.New("disk secrets/estate.gpkg is full")

// brokenStore is a real store that fails on request.
type brokenStore struct {
	store.Store
	appendErr error
	readyErr  error
	panicOn   vine.ID       // block whose states panic
	hold      chan struct{} // states wait for it, or for the context
	holding   chan struct{} // told when they begin to wait, if anybody listens
	held      chan error    // what the context said
}

func (b *brokenStore) Append(ctx context.Context, events []vine.Event) ([]store.Answer, error) {
	if b.appendErr != nil {
		return nil, b.appendErr
	}
	return b.Store.Append(ctx, events)
}

func (b *brokenStore) Ready(ctx context.Context) error {
	if b.readyErr != nil {
		return b.readyErr
	}
	return b.Store.Ready(ctx)
}

func (b *brokenStore) States(ctx context.Context, block vine.ID, season int, after int64) iter.Seq2[store.VineState, error] {
	if block == b.panicOn {
		panic("a fault in a stand")
	}
	if b.hold != nil {
		select {
		case b.holding <- struct{}{}:
		default:
		}
		select {
		case <-b.hold:
		case <-ctx.Done():
			b.held <- ctx.Err()
			return func(yield func(store.VineState, error) bool) { yield(store.VineState{}, ctx.Err()) }
		}
	}
	return b.Store.States(ctx, block, season, after)
}

// logBook is a log that a test can read while others write.
type logBook struct {
	mu  sync.Mutex
	buf bytes.Buffer
}

func (l *logBook) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.Write(p)
}

func (l *logBook) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.buf.String()
}

func withLog(l *logBook) func(*Config) {
	return func(c *Config) {
		c.Logger = slog.New(slog.NewJSONHandler(l, &slog.HandlerOptions{Level: slog.LevelDebug}))
	}
}

func TestPanic_FailsOnlyItsRequest(t *testing.T) {
	f := newFixture(t)
	var log logBook
	_, web := serve(t, &brokenStore{Store: f.store, panicOn: f.home.ID}, withLog(&log))
	a := askAt(t, web.URL, http.MethodGet, tilePath(t, f.home, 17), nil)
	require.Equal(t, http.StatusInternalServerError, a.status)
	p := a.problem(t)
	assert.NotContains(t, p.Detail, "a fault in a stand")
	reference := strings.TrimPrefix(p.Instance, "urn:uuid:")[:8]
	assert.Contains(t, p.Detail, reference)
	assert.Empty(t, a.header.Get("ETag"))
	assert.Contains(t, log.String(), "a fault in a stand")
	assert.Contains(t, log.String(), `"reference":"`+reference)
	assert.Contains(t, log.String(), "faults_test.go", "with the stack")

	assert.Equal(t, http.StatusOK, askAt(t, web.URL, http.MethodGet, tilePath(t, f.far, 17), nil).status, "others go on")
}

func TestFault_KeepsItsWordsInTheLog(t *testing.T) {
	f := newFixture(t)
	var log logBook
	_, web := serve(t, &brokenStore{Store: f.store, appendErr: errDisk}, withLog(&log))
	a := askAt(t, web.URL, http.MethodPost, "/api/events", map[string]any{"events": []any{f.done(f.home, f.home.vines[0].ID)}})
	require.Equal(t, http.StatusInternalServerError, a.status)
	assert.NotContains(t, string(a.body), "secrets")
	assert.Contains(t, log.String(), errDisk.Error())
	assert.Contains(t, log.String(), a.header.Get("X-Request-Id"))
}

func TestReady(t *testing.T) {
	f := newFixture(t)
	broken := &brokenStore{Store: f.store, readyErr: errDisk}
	s, web := serve(t, broken)
	a := askAt(t, web.URL, http.MethodGet, "/readyz", nil)
	require.Equal(t, http.StatusServiceUnavailable, a.status)
	assert.NotContains(t, string(a.body), "secrets")
	assert.Equal(t, http.StatusOK, askAt(t, web.URL, http.MethodGet, "/healthz", nil).status, "alive all the same")
	broken.readyErr = nil
	require.Equal(t, http.StatusOK, askAt(t, web.URL, http.MethodGet, "/readyz", nil).status)
	s.beginStop()
	require.Equal(t, http.StatusServiceUnavailable, askAt(t, web.URL, http.MethodGet, "/readyz", nil).status, "not while stopping")
}

func TestClientGone_StopsTheWork(t *testing.T) {
	f := newFixture(t)
	var log logBook
	broken := &brokenStore{Store: f.store, hold: make(chan struct{}), holding: make(chan struct{}, 1), held: make(chan error, 1)}
	_, web := serve(t, broken, withLog(&log))
	ctx, leave := context.WithCancel(t.Context())
	defer leave()
	go func() {
		<-broken.holding
		leave()
	}()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, web.URL+tilePath(t, f.home, 17), nil)
	require.NoError(t, err)
	_, err = (&http.Client{Transport: &http.Transport{DisableKeepAlives: true}}).Do(req)
	require.ErrorIs(t, err, context.Canceled)
	select {
	case err := <-broken.held:
		assert.ErrorIs(t, err, context.Canceled, "the store's work was stopped")
	case <-time.After(5 * time.Second):
		t.Fatal("the store went on working for nobody")
	}
	assert.NotContains(t, log.String(), `"level":"ERROR"`, "a client who leaves is no fault")
}

func TestDeadline(t *testing.T) {
	f := newFixture(t)
	broken := &brokenStore{Store: f.store, hold: make(chan struct{}), held: make(chan error, 1)}
	_, web := serve(t, broken, func(c *Config) { c.RequestTimeout = 50 * time.Millisecond })
	a := askAt(t, web.URL, http.MethodGet, tilePath(t, f.home, 17), nil)
	require.Equal(t, http.StatusGatewayTimeout, a.status)
	a.problem(t)
}

func TestRun_StopsGracefully(t *testing.T) {
	f := newFixture(t)
	broken := &brokenStore{Store: f.store, hold: make(chan struct{}), held: make(chan error, 1)}
	s, err := New(Config{Store: broken, Now: func() time.Time { return testNow }, Pages: testPages(), StopTimeout: 5 * time.Second})
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	base := "http://" + l.Addr().String()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx, l) }()

	// A stream and a slow tile are under way when the server is told to stop.
	stream := openStream(t, base)
	stream.want(t, "hello")
	tile := make(chan int, 1)
	go func() { tile <- askAt(t, base, http.MethodGet, tilePath(t, f.home, 17), nil).status }()
	waitInFlight(t, base, 3)
	stop()
	stream.wantEnd(t)
	close(broken.hold)
	assert.Equal(t, http.StatusOK, <-tile, "what was running finishes")
	require.NoError(t, <-ended)
	_, err = net.DialTimeout("tcp", l.Addr().String(), time.Second)
	assert.Error(t, err, "no longer listening")
	require.NoError(t, s.Close(), "closing again does nothing")
}

func TestRun_GivesUpOnRequestsThatDoNotEnd(t *testing.T) {
	f := newFixture(t)
	broken := &brokenStore{Store: f.store, hold: make(chan struct{}), held: make(chan error, 9)}
	s, err := New(Config{Store: broken, Now: func() time.Time { return testNow }, Pages: testPages(), StopTimeout: 50 * time.Millisecond})
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	ended := make(chan error, 1)
	go func() { ended <- s.Run(ctx, l) }()
	conn, err := net.Dial("tcp", l.Addr().String())
	require.NoError(t, err)
	defer conn.Close()
	_, err = conn.Write([]byte("GET " + tilePath(t, f.home, 17) + " HTTP/1.1\r\nHost: localhost\r\n\r\n"))
	require.NoError(t, err)
	waitInFlight(t, "http://"+l.Addr().String(), 2)
	stop()
	require.ErrorContains(t, <-ended, "still running")
	_, err = bufio.NewReader(conn).ReadByte()
	assert.Error(t, err, "cut off without an answer")
}

// waitInFlight waits until so many requests are being answered, the one that
// asks included.
func waitInFlight(t *testing.T, base string, n int) {
	t.Helper()
	require.Eventually(t, func() bool {
		text := string(askAt(t, base, http.MethodGet, "/metrics", nil).body)
		return strings.Contains(text, fmt.Sprintf("courson_http_requests_in_flight %d\n", n))
	}, 10*time.Second, 10*time.Millisecond)
}

func TestLog_OneLinePerRequest(t *testing.T) {
	f := newFixture(t)
	var log logBook
	_, web := serve(t, f.store, withLog(&log))
	askAt(t, web.URL, http.MethodGet, "/api/vines?find=H3/1/1", nil)
	askAt(t, web.URL, http.MethodGet, "/api/blocks/Q9", nil)
	require.Eventually(t, func() bool { return strings.Count(log.String(), `"msg":"request"`) == 2 }, 5*time.Second, time.Millisecond)
	text := log.String()
	assert.Contains(t, text, `"route":"/api/vines"`)
	assert.Contains(t, text, `"route":"/api/blocks/{block}"`)
	assert.Contains(t, text, `"status":404`)
	assert.NotContains(t, text, "find=", "what people look for stays theirs")
	assert.NotContains(t, text, `"level":"ERROR"`)
}
