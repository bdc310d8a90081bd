package contract

import (
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func crowdTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"eight writers and some readers": eightWriters,
		"overlapping batches":            overlapping,
	}
}

func eightWriters(t *testing.T, h Harness) {
	s := h.open(t)
	other := h.again(t, s)
	f := plant(t, s, "H3", 4, 10)
	var mu sync.Mutex
	var sent []vine.Event
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			st, d := s, newDevice(fmt.Sprint("phone ", w))
			if w%4 == 3 {
				st = other
			}
			for k := range 10 {
				batch := []vine.Event{
					d.event(2027, oneVine(f.vines[w%4][k]), vine.Note{Text: "x"}), d.event(2027, oneVine(f.vines[k%4][w]), weight(float64(w*100+k))),
					d.event(2026, wholeRow(f.rows[w%4]), vine.Work{Operation: "tying", Progress: vine.Done}),
				}
				answers, err := st.Append(t.Context(), batch)
				if !assert.NoError(t, err) {
					return
				}
				for _, a := range answers {
					assert.Equal(t, store.Stored, a.Result)
				}
				mu.Lock()
				sent = append(sent, batch...)
				mu.Unlock()
			}
		})
	}
	for range 3 {
		wg.Go(func() {
			for range 10 {
				for _, err := range s.States(t.Context(), f.block.ID, 2027, 0) {
					assert.NoError(t, err)
				}
				_, err := s.Events(t.Context(), store.EventQuery{Limit: 20})
				assert.NoError(t, err)
			}
		})
	}
	wg.Wait()
	assert.Len(t, logOf(t, s, store.EventQuery{}), len(sent))
	requireFold(t.Context(), t, s, f, keptAll(sent), 2026)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong)
}

// overlapping sends the same events from several goroutines at once, as phones
// do whose first try was lost on the way back: each is stored once.
func overlapping(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 5), newDevice("d")
	var events []vine.Event
	for i := range 40 {
		events = append(events, d.event(2027, oneVine(f.vines[0][i%5]), vine.Note{Text: fmt.Sprint(i)}))
	}
	var mu sync.Mutex
	stored := map[uuid.UUID]int{}
	var wg sync.WaitGroup
	for w := range 6 {
		wg.Go(func() {
			random := rand.New(rand.NewPCG(7, uint64(w)))
			for range 6 {
				from := random.IntN(30)
				batch := events[from : from+10]
				answers, err := s.Append(t.Context(), batch)
				if !assert.NoError(t, err) {
					return
				}
				mu.Lock()
				for i, a := range answers {
					assert.Equal(t, batch[i].ID, a.ID)
					if a.Result == store.Stored {
						stored[a.ID]++
					} else {
						assert.Equal(t, store.Known, a.Result)
					}
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	results(t, s, events...)
	for id, n := range stored {
		assert.Equal(t, 1, n, "event %s", id)
	}
	got := map[uuid.UUID]int{}
	for _, e := range logOf(t, s, store.EventQuery{}) {
		got[e.ID]++
	}
	assert.Len(t, got, len(events))
	requireFold(t.Context(), t, s, f, keptAll(events), 2027)
}
