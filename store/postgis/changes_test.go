package postgis_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

func nextChange(t *testing.T, from <-chan store.Change) store.Change {
	t.Helper()
	select {
	case c, ok := <-from:
		require.True(t, ok, "the channel was closed")
		return c
	case <-time.After(10 * time.Second):
		require.Fail(t, "no notice came")
	}
	return store.Change{}
}

// TestChanges_LineLost cuts the listening connection, changes a block before it
// is back, and finds the change reported all the same.
func TestChanges_LineLost(t *testing.T) {
	u := newDatabase(t)
	s, other := open(t, u, postgis.Options{}), open(t, u, postgis.Options{})
	bs, rs, vs := plant(t, s, 2, 1, 3)
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	for round := range 3 {
		// In one statement, so that the line is not back before the change is made.
		run(t, u, `
			WITH cut AS (SELECT pg_terminate_backend(pid) FROM pg_stat_activity
			             WHERE datname = current_database() AND query LIKE 'LISTEN%' OR
			                   datname = current_database() AND query LIKE '%FROM block_revision WHERE estate_id%' AND state = 'idle')
			SELECT count(*) FROM cut`)
		_, err = other.Append(t.Context(), []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[0].ID)})
		require.NoError(t, err)
		c := nextChange(t, from)
		assert.Equal(t, bs[0].ID, c.Block)
		assert.EqualValues(t, 2+2*round, c.Revision)
		rs[0].LengthM++
		require.NoError(t, other.Update(t.Context(), func(tx store.Tx) error { return tx.SaveRows(rs[:1]) }))
		for c = nextChange(t, from); c.Revision < int64(3+2*round); {
			c = nextChange(t, from)
		}
		assert.True(t, c.Ground)
	}
}

// TestChanges_Seasons names only seasons that may look different now.
func TestChanges_Seasons(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	bs, _, vs := plant(t, s, 1, 1, 3)
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	g := 400.0
	for _, c := range []struct {
		name string
		body vine.Body
		want []int
	}{
		{"a weight concerns its own season", vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Value: &g}, []int{2027}},
		{"a condition carries on", vine.Sighting{Condition: vine.Dead}, nil},
		{"a note", vine.Note{Text: "x"}, []int{2027}},
	} {
		_, err := s.Append(t.Context(), []vine.Event{event(c.body, bs[0].ID, vs[0].ID)})
		require.NoError(t, err)
		assert.Equal(t, c.want, nextChange(t, from).Seasons, c.name)
	}
}

// TestChanges_ManyBlocks sends more notices in one transaction than one message
// would hold.
func TestChanges_ManyBlocks(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	bs, _, _ := plant(t, s, 250, 1, 1)
	seen := map[vine.ID]bool{}
	for len(seen) < len(bs) {
		c := nextChange(t, from)
		assert.True(t, c.Ground)
		seen[c.Block] = true
	}
}

// TestChanges_NoServer says so at once; a later call works.
func TestChanges_NoServer(t *testing.T) {
	server := startServer(t, "start")
	s := open(t, server.database(t), postgis.Options{})
	server.sh(t, "crash")
	_, err := s.Changes(t.Context())
	require.ErrorIs(t, err, store.ErrBusy)
	server.sh(t, "again")
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	bs, _, _ := plant(t, s, 1, 1, 1)
	assert.Equal(t, bs[0].ID, nextChange(t, from).Block)
}
