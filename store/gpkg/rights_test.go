//go:build unix

package gpkg_test

import (
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
)

// asNobody says to a process that it has been given away its rights.
const asNobody = "COURSON_TEST_AS_NOBODY"

// nobody is the user without rights on the systems the tests run on.
const nobody = 65534

// TestRights opens files that may not be written. The superuser may write all,
// so as superuser the test runs again as somebody else.
func TestRights(t *testing.T) {
	if dir := os.Getenv(asNobody); dir != "" {
		withoutRights(t, dir)
		return
	}
	dir := t.TempDir()
	for _, path := range []string{dir, filepath.Dir(dir)} {
		require.NoError(t, os.Chmod(path, 0o755))
	}
	s := open(t, filepath.Join(dir, "estate.gpkg"), gpkg.Options{Create: true})
	f := plantSmall(t, s)
	_, err := s.Append(t.Context(), []vine.Event{f.note(1)})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	require.NoError(t, os.Chmod(filepath.Join(dir, "estate.gpkg"), 0o444))
	require.NoError(t, os.Chmod(dir, 0o555))
	defer os.Chmod(dir, 0o755)
	if os.Geteuid() != 0 {
		withoutRights(t, dir)
		return
	}
	test := copyTest(t)
	child := exec.Command(test, "-test.run=^TestRights$", "-test.v")
	child.Dir = "/"
	child.Env = []string{asNobody + "=" + dir, "TMPDIR=/tmp"}
	child.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	out, err := child.CombinedOutput()
	require.NoError(t, err, "%s", out)
	assert.Contains(t, string(out), "--- PASS: TestRights")
}

// copyTest puts the test's program where anybody may run it.
func copyTest(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	from, err := os.Open(self)
	require.NoError(t, err)
	defer from.Close()
	dir := t.TempDir()
	require.NoError(t, os.Chmod(dir, 0o755))
	path := filepath.Join(dir, "gpkg.test")
	to, err := os.OpenFile(path, os.O_CREATE|os.O_WRONLY, 0o755)
	require.NoError(t, err)
	_, err = io.Copy(to, from)
	require.NoError(t, err)
	require.NoError(t, to.Close())
	return path
}

func withoutRights(t *testing.T, dir string) {
	path := filepath.Join(dir, "estate.gpkg")
	_, err := gpkg.Open(t.Context(), path, gpkg.Options{})
	assert.ErrorIs(t, err, store.ErrReadOnly, "a file without rights")
	assert.ErrorContains(t, err, path)
	_, err = gpkg.Open(t.Context(), filepath.Join(dir, "new.gpkg"), gpkg.Options{Create: true})
	assert.ErrorIs(t, err, store.ErrReadOnly, "a folder without rights")
	s := open(t, path, gpkg.Options{ReadOnly: true})
	defer s.Close()
	require.NoError(t, s.Ready(t.Context()))
	blocks, err := s.Blocks(t.Context())
	require.NoError(t, err)
	require.Len(t, blocks, 1)
	n := 0
	for _, err := range s.Vines(t.Context(), blocks[0].ID) {
		require.NoError(t, err)
		n++
	}
	assert.Equal(t, 6, n, "reading works where nothing may be written, not even SQLite's own files")
	_, err = s.Changes(t.Context())
	assert.NoError(t, err)
}
