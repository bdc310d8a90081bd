package gpkg_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/ncruces/go-sqlite3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// write puts a file into a fresh folder.
func write(t *testing.T, content string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "some file #1?.gpkg")
	require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
	return path
}

// newFile makes an estate with one block, closes it and gives its path.
func newFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "é state #1?.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error { return tx.SaveBlocks([]store.Block{{Code: "H3"}}) }))
	require.NoError(t, s.Close())
	return path
}

func TestOpenRefuses(t *testing.T) {
	plain := func(t *testing.T, sql ...string) string {
		path := filepath.Join(t.TempDir(), "other.gpkg")
		for _, q := range sql {
			execute(t, path, q)
		}
		return path
	}
	for _, c := range []struct {
		name string
		path func(t *testing.T) string
		want error  // wrapped
		says string // in the message
	}{
		{"a missing file", func(t *testing.T) string { return filepath.Join(t.TempDir(), "none.gpkg") }, store.ErrNotFound, "no such file"},
		{"a missing folder", func(t *testing.T) string { return filepath.Join(t.TempDir(), "no", "none.gpkg") }, store.ErrNotFound, "no such file"},
		{"a folder", func(t *testing.T) string { return t.TempDir() }, nil, "folder"},
		{"an empty file", func(t *testing.T) string { return write(t, "") }, nil, "empty"},
		{"a text file", func(t *testing.T) string { return write(t, strings.Repeat("block;row;vine\n", 999)) }, nil, "not a GeoPackage"},
		{"a short text file", func(t *testing.T) string { return write(t, "x") }, nil, "not a GeoPackage"},
		{"another SQLite file", func(t *testing.T) string { return plain(t, "CREATE TABLE a (b)") }, nil, "not a GeoPackage"},
		{"another GeoPackage", func(t *testing.T) string {
			return plain(t, "PRAGMA application_id = 1196444487", "CREATE TABLE gpkg_contents (a)")
		}, nil, "import from it"},
		{"a newer layout", func(t *testing.T) string {
			path := newFile(t)
			execute(t, path, "INSERT INTO courson_layout (version_id, is_applied) VALUES (9999, 1)")
			return path
		}, store.ErrTooNew, "9999"},
		{"a damaged file", func(t *testing.T) string {
			path := newFile(t)
			text, err := os.ReadFile(path)
			require.NoError(t, err)
			return write(t, string(text[:100])+strings.Repeat("x", len(text)-100))
		}, nil, "damaged"},
	} {
		for name, o := range map[string]gpkg.Options{"writing": {}, "reading": {ReadOnly: true}, "reading, create": {ReadOnly: true, Create: true}} {
			t.Run(c.name+", "+name, func(t *testing.T) {
				path := c.path(t)
				before := listing(t, path)
				_, err := gpkg.Open(t.Context(), path, o)
				require.Error(t, err)
				if c.want != nil {
					assert.ErrorIs(t, err, c.want)
				}
				assert.ErrorContains(t, err, c.says)
				assert.ErrorContains(t, err, path, "the message says which file")
				assert.Equal(t, before, listing(t, path), "nothing is made or changed")
			})
		}
	}
}

// listing is what lies in the folder of a path, with sizes.
func listing(t *testing.T, path string) map[string]int64 {
	t.Helper()
	out := map[string]int64{}
	files, err := os.ReadDir(filepath.Dir(path))
	if errors.Is(err, os.ErrNotExist) {
		return out
	}
	require.NoError(t, err)
	for _, f := range files {
		if strings.HasSuffix(f.Name(), "-wal") || strings.HasSuffix(f.Name(), "-shm") {
			continue // SQLite's own, beside a file in WAL mode
		}
		info, err := f.Info()
		require.NoError(t, err)
		out[f.Name()] = info.Size()
	}
	return out
}

func TestCreate(t *testing.T) {
	t.Run("over nothing", func(t *testing.T) {
		path := newFile(t)
		s := open(t, path, gpkg.Options{})
		defer s.Close()
		blocks, err := s.Blocks(t.Context())
		require.NoError(t, err)
		assert.Len(t, blocks, 1, "what was kept is there when opened again")
	})
	t.Run("over an empty file", func(t *testing.T) {
		s := open(t, write(t, ""), gpkg.Options{Create: true})
		require.NoError(t, s.Close())
	})
	t.Run("over one that is there", func(t *testing.T) {
		s := open(t, newFile(t), gpkg.Options{Create: true})
		defer s.Close()
		blocks, err := s.Blocks(t.Context())
		require.NoError(t, err)
		assert.Len(t, blocks, 1)
	})
	t.Run("never over another file", func(t *testing.T) {
		path := write(t, "a letter to the mayor, longer than one hundred bytes so that it could have a header of the kind that is looked for")
		_, err := gpkg.Open(t.Context(), path, gpkg.Options{Create: true})
		require.Error(t, err)
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Contains(t, string(text), "mayor")
	})
	t.Run("given up", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		path := filepath.Join(t.TempDir(), "x.gpkg")
		_, err := gpkg.Open(ctx, path, gpkg.Options{Create: true})
		require.ErrorIs(t, err, context.Canceled)
		assert.Empty(t, listing(t, path), "no half-made file is left")
	})
}

// TestCreateTogether opens a new file from several sides at once, as two
// programs started together do.
func TestCreateTogether(t *testing.T) {
	path := filepath.Join(t.TempDir(), "x.gpkg")
	type opened struct {
		s   *gpkg.Store
		err error
	}
	all := make(chan opened)
	const sides = 4
	for range sides {
		go func() {
			s, err := gpkg.Open(t.Context(), path, gpkg.Options{Create: true})
			all <- opened{s, err}
		}()
	}
	for range sides {
		o := <-all
		if assert.NoError(t, o.err) {
			defer o.s.Close()
			assert.NoError(t, o.s.Ready(t.Context()))
		}
	}
}

func TestReadOnly(t *testing.T) {
	path := newFile(t)
	s := open(t, path, gpkg.Options{ReadOnly: true})
	defer s.Close()
	ctx := t.Context()
	require.NoError(t, s.Ready(ctx))
	assert.ErrorIs(t, s.Update(ctx, func(store.Tx) error { return nil }), store.ErrReadOnly)
	_, err := s.Append(ctx, nil)
	assert.ErrorIs(t, err, store.ErrReadOnly)
	_, err = s.Rebuild(ctx, true, nil)
	assert.ErrorIs(t, err, store.ErrReadOnly)
	_, err = s.Rebuild(ctx, false, nil)
	assert.NoError(t, err)
	writer := open(t, path, gpkg.Options{})
	defer writer.Close()
	changes, err := s.Changes(ctx)
	require.NoError(t, err)
	require.NoError(t, writer.Update(ctx, func(tx store.Tx) error { return tx.SaveBlocks([]store.Block{{Code: "H4"}}) }))
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	assert.Len(t, blocks, 2, "it sees what another process writes")
	select {
	case ch := <-changes:
		assert.Equal(t, blocks[1].ID, ch.Block)
	case <-time.After(10 * time.Second):
		t.Error("and is told of it")
	}
}

// TestBusy has another program hold the file's write lock.
func TestBusy(t *testing.T) {
	path := newFile(t)
	s := open(t, path, gpkg.Options{})
	defer s.Close()
	require.NoError(t, s.WaitForLock(20*time.Millisecond))
	other, err := sqlite3.Open(path)
	require.NoError(t, err)
	defer other.Close()
	require.NoError(t, other.Exec("BEGIN IMMEDIATE"))
	ctx := t.Context()
	assert.ErrorIs(t, s.Update(ctx, func(store.Tx) error { return nil }), store.ErrBusy)
	_, err = s.Append(ctx, []vine.Event{})
	assert.ErrorIs(t, err, store.ErrBusy)
	assert.ErrorIs(t, s.Ready(ctx), store.ErrBusy)
	_, err = s.Blocks(ctx)
	assert.NoError(t, err, "reading goes on")
	require.NoError(t, other.Exec("ROLLBACK"))
	assert.NoError(t, s.Update(ctx, func(store.Tx) error { return nil }), "and writing, once it is over")
	assert.NoError(t, s.Ready(ctx))
}

// TestDiskFull lets the file grow no further, by SQLite's own limit of pages.
func TestDiskFull(t *testing.T) {
	skipUnderRace(t)
	s := open(t, newFile(t), gpkg.Options{})
	defer s.Close()
	ctx := t.Context()
	blocks, err := s.Blocks(ctx)
	require.NoError(t, err)
	require.NoError(t, s.LimitPages(1)) // SQLite takes it as the present size
	err = s.Update(ctx, func(tx store.Tx) error { return importBlock(ctx, tx, 1) })
	require.Error(t, err)
	assert.ErrorContains(t, err, "disk is full")
	after, err := s.Blocks(ctx)
	require.NoError(t, err)
	assert.Equal(t, blocks, after, "nothing of it is kept")
	require.NoError(t, s.LimitPages(1<<30))
	assert.NoError(t, s.Update(ctx, func(tx store.Tx) error { return importBlock(ctx, tx, 1) }), "with space again it works")
}

// TestCancelImport ends an import's context at moments all over it.
func TestCancelImport(t *testing.T) {
	skipUnderRace(t)
	s := open(t, newFile(t), gpkg.Options{})
	defer s.Close()
	before, err := s.Blocks(t.Context())
	require.NoError(t, err)
	triggers := query(t, s.Path(), "SELECT name FROM sqlite_schema WHERE type = 'trigger' ORDER BY name")
	start := time.Now()
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error { return importBlock(t.Context(), tx, 0) }))
	whole := time.Since(start)
	cancelled := 0
	for i := range 12 {
		ctx, cancel := context.WithTimeout(t.Context(), whole*time.Duration(i)/12)
		err := s.Update(ctx, func(tx store.Tx) error { return importBlock(ctx, tx, 1+i) })
		cancel()
		blocks, e := s.Blocks(t.Context())
		require.NoError(t, e)
		if err != nil {
			require.ErrorIs(t, err, context.DeadlineExceeded)
			cancelled++
		}
		assert.Len(t, blocks, len(before)+1+i+1-cancelled)
		assert.Equal(t, triggers, query(t, s.Path(), "SELECT name FROM sqlite_schema WHERE type = 'trigger' ORDER BY name"))
	}
	assert.Positive(t, cancelled)
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong)
}
