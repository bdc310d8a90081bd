package postgis_test

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/postgis"
)

// TestBulk: the first estate comes in without indexes and keys, which are there
// again in the end; also when the import fails. Others keep theirs all along.
func TestBulk(t *testing.T) {
	u := newDatabase(t)
	conn := connect(t, u)
	indexes := func(q interface {
		QueryRow(context.Context, string, ...any) pgx.Row
	}) (n int) {
		require.NoError(t, q.QueryRow(t.Context(), `SELECT count(*) FROM pg_indexes WHERE tablename = 'vine'`).Scan(&n))
		return n
	}
	definitions := func() (text string) {
		require.NoError(t, conn.QueryRow(t.Context(), `SELECT string_agg(d, E'\n' ORDER BY d) FROM (
			SELECT indexdef FROM pg_indexes WHERE tablename IN ('vine', 'vine_state')
			UNION ALL SELECT conname || ' ' || pg_get_constraintdef(oid) FROM pg_constraint WHERE conrelid IN ('vine'::regclass, 'vine_state'::regclass)) x(d)`).Scan(&text))
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
		require.Equal(t, 4, indexes(postgis.QuerierOf(tx)), "there are vines of others")
		return nil
	}))
}

// TestBulk_Asked reads in the middle of the filling: the indexes are built for it,
// and what follows goes on with them.
func TestBulk_Asked(t *testing.T) {
	s := open(t, newDatabase(t), postgis.Options{})
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
		require.NoError(t, layOutBlock(tx, 0, 30, 100))
		blocks, err := tx.Blocks(t.Context())
		require.NoError(t, err)
		n := 0
		for v, err := range tx.Vines(t.Context(), blocks[0].ID) {
			require.NoError(t, err)
			n = max(n, v.Number)
		}
		assert.Equal(t, 100, n)
		require.NoError(t, layOutBlock(tx, 1, 30, 100))
		return nil
	}))
	n, err := s.CountVines(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 6000, n)
}

// TestBulk_Clash: two vines of one number are named, also where nothing kept them
// apart while the table was filled.
func TestBulk_Clash(t *testing.T) {
	u := newDatabase(t)
	s := open(t, u, postgis.Options{})
	err := s.Update(t.Context(), func(tx store.Tx) error {
		if err := layOutBlock(tx, 7, 30, 100); err != nil {
			return err
		}
		blocks, err := tx.Blocks(t.Context())
		if err != nil {
			return err
		}
		rows, err := tx.Rows(t.Context(), blocks[0].ID)
		if err != nil {
			return err
		}
		return tx.SaveVines([]store.Vine{{Block: blocks[0].ID, Row: rows[3].ID, Number: 17}})
	})
	require.ErrorIs(t, err, store.ErrConflict)
	assert.ErrorContains(t, err, "B7/4/17")
	n, err := s.CountVines(t.Context())
	require.NoError(t, err)
	assert.Zero(t, n)
}

// TestBulk_Records imports blocks with records of all reaches and holds what is
// folded in memory against the fold of the log as it was stored.
func TestBulk_Records(t *testing.T) {
	ctx := t.Context()
	for _, between := range []bool{false, true} {
		s := open(t, newDatabase(t), postgis.Options{})
		var blocks []store.Block
		require.NoError(t, s.Update(ctx, func(tx store.Tx) (err error) {
			for b := range 3 {
				if err := layOutBlock(tx, b, 12, 90); err != nil { // 3240 in all
					return err
				}
			}
			if blocks, err = tx.Blocks(ctx); err != nil {
				return err
			}
			for i, b := range blocks {
				if err := record(ctx, tx, b, i); err != nil {
					return err
				}
				if between && i == 1 {
					for _, err := range tx.States(ctx, b.ID, 2027, 0) {
						if err != nil {
							return err
						}
					}
					if err := record(ctx, tx, blocks[0], 9); err != nil {
						return err
					}
				}
			}
			return nil
		}))
		got, err := s.Rebuild(ctx, false, nil)
		require.NoError(t, err)
		assert.Equal(t, store.Rebuilt{Vines: 3240}, got)
		n := 0
		for st, err := range s.States(ctx, blocks[0].ID, 2027, 0) {
			require.NoError(t, err)
			assert.Positive(t, st.Changed)
			n++
		}
		assert.Equal(t, 1080, n)
	}
}

// record makes events about a block, rows, many vines of several rows, a few and
// one, and takes one back.
func record(ctx context.Context, tx store.Tx, b store.Block, n int) error {
	rows, err := tx.Rows(ctx, b.ID)
	if err != nil {
		return err
	}
	first := rows[0].ID + vine.ID(len(rows)) // the vines follow the rows
	event := func(i int, body vine.Body, row vine.ID, vines ...vine.ID) vine.Event {
		at := time.Date(2027, 1, 12, 9, n, i, 123_456_000, time.UTC)
		return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "import", Seq: uint64(100*n + i), At: at, Received: at, Season: 2027 - i%2,
			Target: vine.Target{Block: b.ID, Row: row, Vines: vines}, Kind: body.Kind(), Body: body}
	}
	some := func(from, step, n int) (ids []vine.ID) {
		for i := range n {
			ids = append(ids, first+vine.ID(from+i*step))
		}
		return ids
	}
	weights := make([]float64, 40)
	for i := range weights {
		weights[i] = 200 + float64(i)
	}
	mistake := event(6, vine.Sighting{Condition: vine.Dead, Cause: "frost"}, 0, some(300, 1, 3)...)
	events := []vine.Event{
		event(0, vine.Sighting{Condition: vine.Bearing}, 0),
		event(1, vine.Work{Operation: vine.Pruning, Progress: vine.Done}, rows[2].ID),
		event(2, vine.Measure{Quantity: vine.PruningWeight, Unit: "g", Values: weights}, 0, some(5, 25, 40)...), // of all rows
		event(3, vine.Sighting{Condition: vine.Weak}, 0, some(100, 1, 4)...),
		event(4, vine.Note{Text: "look"}, 0, some(7, 1, 1)...),
		event(5, vine.Sighting{Condition: vine.Missing}, rows[5].ID, some(5*90, 1, 2)...),
		mistake,
	}
	void := event(7, vine.Void{Event: mistake.ID}, 0, mistake.Target.Vines...)
	for _, batch := range [][]vine.Event{events[:3], events[3:], {void}} {
		answers, err := tx.Append(ctx, batch)
		if err != nil {
			return err
		}
		for _, a := range answers {
			if a.Result != store.Stored {
				return errors.New(a.Reason)
			}
		}
	}
	return nil
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
