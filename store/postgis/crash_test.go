package postgis_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// TestServerCrash stops the database at once while phones send and an import
// runs, starts it anew, and lets the phones send again what was not acknowledged:
// in the end every event is there once, and the import whole or not at all.
func TestServerCrash(t *testing.T) {
	server := startServer(t, "start")
	s := open(t, server.database(t), postgis.Options{})
	bs, _, vs := plant(t, s, 3, 2, 20)
	perBlock := len(vs) / len(bs)
	changes, err := s.Changes(t.Context())
	require.NoError(t, err)

	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var mu sync.Mutex
	sent := map[uuid.UUID]bool{}
	var stored, faults, other atomic.Int64
	var wg sync.WaitGroup
	for p := range 4 {
		wg.Go(func() {
			for k := 0; ctx.Err() == nil; k++ {
				batch := make([]vine.Event, 10)
				mu.Lock()
				for i := range batch {
					b := (p + k) % len(bs)
					batch[i] = event(vine.Note{Text: "x"}, bs[b].ID, vs[b*perBlock+(k*7+i)%perBlock].ID)
					sent[batch[i].ID] = true
				}
				mu.Unlock()
				// A phone sends the same again until it gets an answer.
				for {
					answers, err := s.Append(context.WithoutCancel(ctx), batch)
					if err == nil {
						assert.Len(t, answers, len(batch))
						stored.Add(1)
						break
					}
					faults.Add(1)
					if !errors.Is(err, store.ErrBusy) {
						other.Add(1)
						t.Logf("not busy: %v", err)
					}
					time.Sleep(20 * time.Millisecond)
				}
			}
		})
	}
	for range 2 {
		time.Sleep(300 * time.Millisecond)
		server.sh(t, "crash")
		_, err := s.Blocks(t.Context())
		require.ErrorIs(t, err, store.ErrBusy)
		require.ErrorIs(t, s.Ready(t.Context()), store.ErrBusy)
		server.sh(t, "again")
		require.NoError(t, s.Ready(t.Context()))
	}
	before := stored.Load()
	require.Eventually(t, func() bool { return stored.Load() > before+4 }, 20*time.Second, 20*time.Millisecond, "phones go on")
	cancel()
	wg.Wait()
	t.Logf("%d batches stored, %d tries failed", stored.Load(), faults.Load())
	assert.NotZero(t, faults.Load(), "no try met the crash: nothing was tested")
	assert.Zero(t, other.Load(), "a phone must be told to try again, nothing else")

	got := map[uuid.UUID]int{}
	events, err := s.Events(t.Context(), store.EventQuery{})
	require.NoError(t, err)
	for i, e := range events {
		got[e.ID]++
		if i > 0 {
			assert.Greater(t, e.Cursor, events[i-1].Cursor)
		}
	}
	assert.Len(t, got, len(sent))
	assert.Len(t, events, len(sent), "none is there twice")
	r, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, r.Wrong)

	// The line for notices came back and reported the last revision of each block.
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	last := map[vine.ID]int64{}
	for deadline := time.After(20 * time.Second); ; {
		done := true
		for _, b := range blocks {
			done = done && last[b.ID] >= b.Revision
		}
		if done {
			break
		}
		select {
		case c := <-changes:
			last[c.Block] = max(last[c.Block], c.Revision)
		case <-deadline:
			require.Failf(t, "notices are missing", "%v of %v", last, blocks)
		}
	}
}

// TestImportCrash stops the database in the middle of an import: nothing of it
// is there afterwards, and the same import succeeds.
func TestImportCrash(t *testing.T) {
	server := startServer(t, "start")
	s := open(t, server.database(t), postgis.Options{})
	halfway := make(chan struct{})
	gone := make(chan struct{})
	result := make(chan error)
	go func() {
		result <- s.Update(context.Background(), func(tx store.Tx) error {
			for b := range 4 {
				if b == 2 {
					close(halfway)
					<-gone
				}
				if err := layOutBlock(tx, b, 20, 50); err != nil {
					return err
				}
			}
			return nil
		})
	}()
	<-halfway
	server.sh(t, "crash")
	close(gone)
	require.ErrorIs(t, <-result, store.ErrBusy)
	server.sh(t, "again")
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Empty(t, blocks)
	require.NoError(t, layOut(s, 4, 20, 50))
	blocks, err = s.Blocks(t.Context())
	require.NoError(t, err)
	assert.Len(t, blocks, 4)
}
