package postgis_test

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// TestCrowd: two nodes, phones whose batches name the same blocks in opposite
// orders, imports in between. No deadlock, no lost revision, no state that
// differs from the log.
func TestCrowd(t *testing.T) {
	u := newDatabase(t)
	nodes := []*postgis.Store{open(t, u, postgis.Options{MaxConns: 6}), open(t, u, postgis.Options{MaxConns: 6})}
	bs, rs, vs := plant(t, nodes[0], 4, 1, 10)
	perBlock := len(vs) / len(bs)
	touched := make([]int, len(bs))
	var mu sync.Mutex
	var wg sync.WaitGroup
	for p := range 8 {
		wg.Go(func() {
			for k := range 12 {
				a, b := (p+k)%len(bs), (p+k*3+1)%len(bs)
				if p%2 == 1 {
					a, b = b, a
				}
				batch := []vine.Event{
					event(vine.Note{Text: "x"}, bs[a].ID, vs[a*perBlock+k%perBlock].ID),
					event(vine.Work{Operation: "tying", Progress: vine.Done}, bs[b].ID),
				}
				_, err := nodes[p%2].Append(context.Background(), batch)
				if !assert.NoError(t, err) {
					return
				}
				mu.Lock()
				touched[a]++
				if b != a {
					touched[b]++
				}
				mu.Unlock()
			}
		})
	}
	for n, s := range nodes {
		wg.Go(func() {
			for k := range 6 {
				b := (n + k) % len(bs)
				row := rs[b]
				row.LengthM = float64(100*n + k + 20)
				err := s.Update(context.Background(), func(tx store.Tx) error {
					if err := tx.SaveRows([]store.Row{row}); err != nil {
						return err
					}
					_, err := tx.Append(context.Background(), []vine.Event{event(vine.Note{Text: "y"}, bs[b].ID)})
					return err
				})
				if !assert.NoError(t, err) {
					return
				}
				mu.Lock()
				touched[b]++
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	blocks, err := nodes[0].Blocks(t.Context())
	require.NoError(t, err)
	for i, b := range blocks {
		assert.EqualValues(t, 1+touched[i], b.Revision, "block %s: one revision for its planting and one for every transaction", b.Code)
	}
	r, err := nodes[1].Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Equal(t, store.Rebuilt{Vines: len(vs)}, r)
	var deadlocks int
	conn := connect(t, u)
	require.NoError(t, conn.QueryRow(t.Context(), `SELECT deadlocks FROM pg_stat_database WHERE datname = current_database()`).Scan(&deadlocks))
	assert.Zero(t, deadlocks)
}

// TestCursor_NeverGoesBack: who has seen a place in the log will find nothing
// new below it, however many phones send at once.
func TestCursor_NeverGoesBack(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	bs, _, vs := plant(t, s, 4, 1, 5)
	const phones, batches = 6, 15
	var wg sync.WaitGroup
	for p := range phones {
		wg.Go(func() {
			for k := range batches {
				b := (p + k) % len(bs)
				_, err := s.Append(context.Background(), []vine.Event{
					event(vine.Note{Text: "x"}, bs[b].ID, vs[5*b].ID), event(vine.Note{Text: "y"}, bs[b].ID, vs[5*b+1].ID)})
				assert.NoError(t, err)
			}
		})
	}
	var cursor int64
	seen := 0
	for deadline := time.Now().Add(60 * time.Second); seen < 2*phones*batches; {
		require.True(t, time.Now().Before(deadline), "%d of %d events followed by cursor", seen, 2*phones*batches)
		events, err := s.Events(t.Context(), store.EventQuery{After: cursor, Limit: 7})
		require.NoError(t, err)
		for _, e := range events {
			cursor = e.Cursor
			seen++
		}
	}
	wg.Wait()
	assert.EqualValues(t, 2*phones*batches, cursor, "no gaps either")
}

// TestAppend_WaitsForImport: a phone that sends during an import is served after
// it, and one whose patience ends is told so.
func TestAppend_WaitsForImport(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	bs, _, vs := plant(t, s, 1, 1, 3)
	started, finish := make(chan struct{}), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		assert.NoError(t, s.Update(context.Background(), func(tx store.Tx) error {
			close(started)
			<-finish
			return tx.SaveBlocks([]store.Block{{Code: "NEW"}})
		}))
	})
	<-started
	short, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
	defer cancel()
	_, err := s.Append(short, []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[0].ID)})
	require.ErrorIs(t, err, context.DeadlineExceeded)
	_, err = s.Blocks(t.Context())
	require.NoError(t, err, "reading goes on meanwhile")
	result := make(chan error)
	go func() {
		_, err := s.Append(context.Background(), []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[0].ID)})
		result <- err
	}()
	select {
	case err := <-result:
		require.Failf(t, "it did not wait", "%v", err)
	case <-time.After(100 * time.Millisecond):
	}
	close(finish)
	require.NoError(t, <-result)
	wg.Wait()
}

// TestCancel_MidImport leaves nothing, and the store works on.
func TestCancel_MidImport(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	ctx, cancel := context.WithCancel(t.Context())
	err := s.Update(ctx, func(tx store.Tx) error {
		if err := layOutBlock(tx, 0, 10, 50); err != nil {
			return err
		}
		cancel()
		return layOutBlock(tx, 1, 10, 50)
	})
	require.ErrorIs(t, err, context.Canceled)
	require.NotErrorIs(t, err, store.ErrBusy)
	err = func() (err error) {
		defer func() { err = fmt.Errorf("panicked: %v", recover()) }()
		return s.Update(t.Context(), func(tx store.Tx) error {
			require.NoError(t, layOutBlock(tx, 0, 10, 50))
			panic("a fault in the importer")
		})
	}()
	require.ErrorContains(t, err, "panicked")
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Empty(t, blocks)
	require.NoError(t, layOut(s, 2, 10, 50))
}
