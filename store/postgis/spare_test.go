package postgis_test

import (
	"net/url"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// TestStandby reads from a hot standby, never sees there what is older than what
// it was told of, and goes on without it.
func TestStandby(t *testing.T) {
	primary := startServer(t, "start")
	standby := startServer(t, "standby", primary.dir)
	database := primary.database(t)
	on := func(server, database string) string {
		from, err := url.Parse(database)
		require.NoError(t, err)
		u, err := url.Parse(server)
		require.NoError(t, err)
		u.Path = from.Path
		return u.String()
	}
	spare := on(standby.url, database)
	s := open(t, database, postgis.Options{ReadURL: spare})
	other := open(t, database, postgis.Options{})
	bs, _, vs := plant(t, s, 1, 2, 10)
	states := func() (n int) {
		for _, err := range s.States(t.Context(), bs[0].ID, 2027, 0) {
			require.NoError(t, err)
			n++
		}
		return n
	}
	scans := func() (n int) {
		conn, err := pgx.Connect(t.Context(), spare)
		require.NoError(t, err)
		defer conn.Close(t.Context())
		require.NoError(t, conn.QueryRow(t.Context(), `SELECT coalesce(sum(idx_scan), 0) FROM pg_stat_user_indexes WHERE relname = 'vine'`).Scan(&n))
		return n
	}
	count := func() (n int) {
		for _, err := range s.Vines(t.Context(), bs[0].ID) {
			require.NoError(t, err)
			n++
		}
		return n
	}
	require.Eventually(t, func() bool { return count() == 20 && scans() > 0 }, 20*time.Second, 50*time.Millisecond, "the standby is read")

	// A standby that has stopped following is not believed.
	run(t, spare, `SELECT pg_wal_replay_pause()`)
	from, err := s.Changes(t.Context())
	require.NoError(t, err)
	_, err = s.Append(t.Context(), []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[0].ID)})
	require.NoError(t, err)
	assert.Equal(t, 1, states(), "one reads what one has written")
	nextChange(t, from)
	_, err = other.Append(t.Context(), []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[1].ID)})
	require.NoError(t, err)
	nextChange(t, from)
	assert.Equal(t, 2, states(), "one reads what one was told of")
	run(t, spare, `SELECT pg_wal_replay_resume()`)
	assert.Equal(t, 2, states())

	// A store opened on the standby alone reads, and says why it does not write.
	looker, err := postgis.Open(t.Context(), spare, postgis.Options{})
	require.NoError(t, err)
	defer looker.Close()
	_, err = looker.Blocks(t.Context())
	require.NoError(t, err)
	require.ErrorIs(t, looker.Ready(t.Context()), store.ErrReadOnly)
	_, err = looker.Append(t.Context(), []vine.Event{event(vine.Note{Text: "x"}, bs[0].ID, vs[0].ID)})
	require.ErrorIs(t, err, store.ErrReadOnly)

	standby.sh(t, "crash")
	assert.Equal(t, 20, count(), "without the standby the primary answers")
	assert.Equal(t, 2, states())
}
