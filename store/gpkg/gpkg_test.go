package gpkg_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/ncruces/go-sqlite3/ext/rtree"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/contract"
	"courson/store/gpkg"
)

// pathOf remembers where the stores of the tests lie.
type harness struct {
	paths map[store.Store]string
}

func open(t *testing.T, path string, o gpkg.Options) *gpkg.Store {
	t.Helper()
	s, err := gpkg.Open(t.Context(), path, o)
	require.NoError(t, err)
	return s
}

func (h *harness) open(t *testing.T) store.Store {
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	h.paths[s] = path
	return s
}

func skipUnderRace(t *testing.T) {
	t.Helper()
	if underRace {
		t.Skip("thousands of vines take too long under the race detector; the contract tests look for races on few")
	}
}

// execute runs SQL on the file of a store, behind its back.
func (h *harness) execute(t *testing.T, s store.Store, sql string, args ...any) {
	t.Helper()
	execute(t, h.paths[s], sql, args...)
}

func execute(t *testing.T, path, sql string, args ...any) {
	t.Helper()
	query(t, path, sql, args...)
}

// query runs SQL on a file and gives the first column of what comes.
func query(t *testing.T, path, sql string, args ...any) []string {
	t.Helper()
	c, err := sqlite3.Open(path)
	require.NoError(t, err)
	defer c.Close()
	require.NoError(t, c.BusyTimeout(time.Minute))
	require.NoError(t, rtree.Register(c))
	st, _, err := c.Prepare(sql)
	require.NoError(t, err)
	defer st.Close()
	for i, arg := range args {
		switch v := arg.(type) {
		case int64:
			require.NoError(t, st.BindInt64(i+1, v))
		case string:
			require.NoError(t, st.BindText(i+1, v))
		default:
			require.Failf(t, "no way to bind", "%T", arg)
		}
	}
	var out []string
	for st.Step() {
		out = append(out, st.ColumnText(0))
	}
	require.NoError(t, st.Err())
	return out
}

func TestContract(t *testing.T) {
	h := &harness{paths: make(map[store.Store]string)}
	damage := func(sql string) func(*testing.T, store.Store, vine.ID) {
		return func(t *testing.T, s store.Store, v vine.ID) { h.execute(t, s, sql, v) }
	}
	contract.Run(t, contract.Harness{
		Open:  h.open,
		Again: func(t *testing.T, s store.Store) store.Store { return open(t, h.paths[s], gpkg.Options{}) },
		Corrupt: map[string]func(*testing.T, store.Store, vine.ID){
			"a condition":         damage("UPDATE vine_state SET condition = 'dead' WHERE vine_id = ?1"),
			"a weight too many":   damage("UPDATE vine_state SET weight_g = 17 WHERE vine_id = ?1 AND season = 2028"),
			"a season missing":    damage("DELETE FROM vine_state WHERE vine_id = ?1 AND season = 2027"),
			"all seasons missing": damage("DELETE FROM vine_state WHERE vine_id = ?1"),
			"a season too many":   damage("INSERT INTO vine_state (id, vine_id, season, block_id, changed, condition, progress, notes, clashes) VALUES (?1 * 512 + 300, ?1, 2150, 1, 1, 'weak', 'done', 0, 0)"),
			"a planting year":     damage("UPDATE vine_state SET planted = NULL WHERE vine_id = ?1"),
			"the detail":          damage("UPDATE vine_state SET detail = NULL WHERE vine_id = ?1"),
			"times":               damage("UPDATE vine_state SET seen_at = '2020-01-01T00:00:00.000Z' WHERE vine_id = ?1"),
			"the block it is in":  damage("UPDATE vine_state SET block_id = 999 WHERE vine_id = ?1"),
			"the vine it is of":   damage("UPDATE vine_state SET vine_id = 999 WHERE vine_id = ?1"),
		},
	})
}
