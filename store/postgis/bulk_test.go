package postgis_test

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/store"
	"courson/store/postgis"
)

// TestBulk: the first estate comes in without two indexes, which are there again
// in the end; also when the import fails. Others keep theirs all along.
func TestBulk(t *testing.T) {
	u := newDatabase(t)
	conn := connect(t, u)
	indexes := func(q interface {
		QueryRow(context.Context, string, ...any) pgx.Row
	}) (n int) {
		require.NoError(t, q.QueryRow(t.Context(), `SELECT count(*) FROM pg_indexes WHERE tablename = 'vine' AND indexname IN ('vine_geom', 'vine_tag')`).Scan(&n))
		return n
	}
	definitions := func() (text string) {
		require.NoError(t, conn.QueryRow(t.Context(), `SELECT string_agg(indexdef, E'\n' ORDER BY indexname) FROM pg_indexes WHERE tablename = 'vine'`).Scan(&text))
		return text
	}
	before := definitions()
	first := open(t, u+"&estate=first", postgis.Options{})
	failed := errors.New("the file ends here")
	for _, end := range []error{failed, nil} {
		err := first.Update(t.Context(), func(tx store.Tx) error {
			if err := layOutBlock(tx, 0, 30, 100); err != nil {
				return err
			}
			require.Zero(t, indexes(postgis.QuerierOf(tx)), "taken away for the import")
			return end
		})
		require.ErrorIs(t, err, end)
		assert.Equal(t, before, definitions())
	}
	blocks, err := first.Blocks(t.Context())
	require.NoError(t, err)
	assert.Len(t, blocks, 1)
	plan := planOf(t, conn, `SELECT * FROM vine WHERE geom && ST_MakeEnvelope(5, 45, 5.0001, 45.0001, 4326)`)
	assert.Contains(t, plan, "vine_geom")

	second := open(t, u+"&estate=second", postgis.Options{})
	require.NoError(t, second.Update(t.Context(), func(tx store.Tx) error {
		require.NoError(t, layOutBlock(tx, 0, 30, 100))
		require.Equal(t, 2, indexes(postgis.QuerierOf(tx)), "there are vines of others")
		return nil
	}))
}

// TestBulk_InUse: a backup that reads the empty table is not waited for.
func TestBulk_InUse(t *testing.T) {
	u := newDatabase(t)
	s := open(t, u, postgis.Options{})
	conn := connect(t, u)
	reading, err := conn.Begin(t.Context())
	require.NoError(t, err)
	defer reading.Rollback(context.Background())
	_, err = reading.Exec(t.Context(), `SELECT FROM vine`)
	require.NoError(t, err)
	require.NoError(t, layOut(s, 1, 30, 100))
	n, err := s.CountVines(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 3000, n)
}
