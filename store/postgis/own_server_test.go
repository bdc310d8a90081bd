package postgis_test

import (
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/stretchr/testify/require"
)

// ownServer is a server that a test may crash.
type ownServer struct {
	dir string
	url string // of the database postgres
}

// startServer starts a server for this test alone, through cmd/postgis.sh.
func startServer(t *testing.T, action string, more ...string) *ownServer {
	t.Helper()
	serverURL(t) // skips or fails where no server may be used
	root, err := os.MkdirTemp("", "courson-postgis-")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(root, 0o755)) // the server's own user must get in
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(root)) })
	s := &ownServer{dir: filepath.Join(root, "pg")}
	t.Cleanup(func() { s.sh(t, "stop") })
	out := s.sh(t, action, more...)
	found := regexp.MustCompile(`COURSON_TEST_POSTGIS='(.*)'`).FindStringSubmatch(out)
	require.NotNil(t, found, out)
	s.url = found[1]
	return s
}

func (s *ownServer) sh(t *testing.T, action string, more ...string) string {
	t.Helper()
	cmd := exec.Command("sh", append([]string{"../../cmd/postgis.sh", action, s.dir}, more...)...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	require.NoError(t, err, "postgis.sh %s", action)
	return string(out)
}

// database makes a database on the server.
func (s *ownServer) database(t *testing.T) string {
	t.Helper()
	name := databaseName()
	run(t, s.url, `CREATE DATABASE `+name)
	u, err := url.Parse(s.url)
	require.NoError(t, err)
	u.Path = "/" + name
	return u.String()
}
