package gpkg_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"courson/store"
	"courson/store/contract"
	"courson/store/gpkg"
)

func openTarget(ctx context.Context, path string) (store.Store, error) {
	return gpkg.Open(ctx, path, gpkg.Options{Create: true})
}

func TestMain(m *testing.M) {
	contract.KillChild(openTarget)
	goleak.VerifyTestMain(m)
}

// TestKill kills a process in the middle of batches and imports, also while it
// makes the file.
func TestKill(t *testing.T) {
	skipUnderRace(t)
	path := filepath.Join(t.TempDir(), "killed.gpkg")
	rounds := 24
	if testing.Short() {
		rounds = 5
	}
	contract.Kill{
		Rounds: rounds, Target: path, Open: openTarget,
		Check: func(t *testing.T) {
			assert.Equal(t, []string{"ok"}, query(t, path, "PRAGMA integrity_check"))
			assert.Equal(t, []string{"ok"}, query(t, path, "SELECT rtreecheck('rtree_vine_geom')"))
			assert.Empty(t, query(t, path, "PRAGMA foreign_key_check"))
			assert.Equal(t, query(t, path, "SELECT count(*) FROM vine"), query(t, path, "SELECT count(*) FROM rtree_vine_geom"))
			assert.Equal(t, []string{"27"}, query(t, path, "SELECT count(*) FROM sqlite_schema WHERE type = 'trigger'"))
		},
	}.Run(t)
}

// TestKillWhileMaking kills a process while it makes the file, and opens what is
// left: a store, or a file that becomes one.
func TestKillWhileMaking(t *testing.T) {
	rounds := 12
	if testing.Short() {
		rounds = 3
	}
	for i := range rounds {
		path := filepath.Join(t.TempDir(), "made.gpkg")
		child := contract.Child(t, path)
		require.NoError(t, child.Start())
		for end := time.Now().Add(10 * time.Second); time.Now().Before(end); time.Sleep(time.Millisecond) {
			if _, err := os.Stat(path); err == nil {
				break // it has begun
			}
		}
		time.Sleep(time.Duration(i*5) * time.Millisecond)
		child.Process.Kill()
		child.Wait()
		s := open(t, path, gpkg.Options{Create: true})
		assert.NoError(t, s.Ready(t.Context()))
		_, err := s.Estate(t.Context())
		assert.NoError(t, err)
		assert.NoError(t, s.Close())
		assert.Equal(t, []string{"ok"}, query(t, path, "PRAGMA integrity_check"))
	}
}
