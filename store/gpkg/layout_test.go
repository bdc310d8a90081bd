package gpkg

import (
	"io/fs"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/ncruces/go-sqlite3/driver"
	"github.com/paulmach/orb"
	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/migrations"
	"courson/store"
)

// A file of the layout in which ground could not go keeps its log, revisions and
// plans when it is brought up to date, and its cursors go on.
func TestLayout_FromBeforeGroundCouldGo(t *testing.T) {
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "old.gpkg")
	db, err := driver.Open(path, extend)
	require.NoError(t, err)
	db.SetMaxOpenConns(1)
	files, err := fs.Sub(migrations.GPKG, "gpkg")
	require.NoError(t, err)
	p, err := goose.NewProvider(goose.DialectSQLite3, db, files, goose.WithTableName(layoutTable), goose.WithDisableGlobalRegistry(true))
	require.NoError(t, err)
	_, err = p.UpTo(ctx, 4)
	require.NoError(t, err)
	id := uuid.Must(uuid.NewV7())
	for _, do := range []struct {
		sql  string
		args []any
	}{
		{"INSERT INTO estate VALUES (1, 'Old', 0, '', 0, '')", nil},
		{"UPDATE counter SET value = 3 WHERE name = 'last_id'", nil},
		{"INSERT INTO block VALUES (1, NULL, 'B1', '', '', '', '', 0, 0, 0, '', '', NULL)", nil},
		{"INSERT INTO block_revision VALUES (1, 7, 3, 5)", nil},
		{"INSERT INTO vine_row VALUES (2, NULL, 1, '1', 1, 10, 1, NULL)", nil},
		{"INSERT INTO vine VALUES (3, ?, 1, 2, 1, 0, 0, 0, NULL, NULL)", []any{appendPoint(nil, orb.Point{11, 45})}},
		{"INSERT INTO event VALUES (41, ?, 'd', 1, 1000000, 1000000, 1000000, 'Ada', 2027, 1, 2, NULL, 'note', '{\"text\":\"old\"}')", []any{id[:]}},
		{"INSERT INTO event_about VALUES (2, 41)", nil},
		{"INSERT INTO season VALUES (2027)", nil},
		{"INSERT INTO plan VALUES (9, 'pruning', 2027, 1, 1000000, 'Ada', 'rule', NULL)", nil},
		{"INSERT INTO plan_entry VALUES (9, 3, 8, 1, 2, 'space', '{\"a\":1}')", nil},
	} {
		_, err := db.ExecContext(ctx, do.sql, do.args...)
		require.NoError(t, err, do.sql)
	}
	require.NoError(t, db.Close())

	s, err := Open(ctx, path, Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	require.Equal(t, []int64{7, 3}, []int64{blocks[0].Revision, blocks[0].GroundRev})
	events, err := s.Events(ctx, store.EventQuery{Vine: 3})
	require.NoError(t, err)
	require.Len(t, events, 1)
	require.Equal(t, []any{int64(41), id, vine.Body(vine.Note{Text: "old"})}, []any{events[0].Cursor, events[0].ID, events[0].Body})
	entries, err := s.PlanEntries(ctx, store.PlanPruning, 2027, 1)
	require.NoError(t, err)
	require.Equal(t, []store.PlanEntry{{Vine: 3, Nodes: 8, Canes: 1, Spurs: 2, Reason: "space", Detail: []byte(`{"a":1}`)}}, entries)
	now := time.Date(2027, 1, 12, 12, 0, 0, 0, time.UTC)
	body := vine.Note{Text: "new"}
	answers, err := s.Append(ctx, []vine.Event{{ID: uuid.Must(uuid.NewV7()), Device: "d", Seq: 2, At: now, Received: now, Season: 2027, Target: vine.Target{Block: 1}, Kind: body.Kind(), Body: body}})
	require.NoError(t, err)
	require.Equal(t, store.Stored, answers[0].Result)
	events, err = s.Events(ctx, store.EventQuery{After: 41})
	require.NoError(t, err)
	require.Len(t, events, 1)
	require.Equal(t, int64(42), events[0].Cursor)
}
