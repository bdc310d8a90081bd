// Package peers gives tests what they compare with: a database of PostGIS, programs
// such as GDAL's. Where one is missing the test is left out and says so; with
// COURSON_TEST_REQUIRE=1 that is a failure.
package peers

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is how long a test may keep a database.
const patience = 5 * time.Minute

// PostGIS makes a database of its own on the server that COURSON_TEST_POSTGIS names
// and drops it at the end; room is a part of its name.
func PostGIS(t testing.TB, room string) *pgx.Conn {
	t.Helper()
	at := os.Getenv("COURSON_TEST_POSTGIS")
	if at == "" {
		Without(t, "COURSON_TEST_POSTGIS names no server to compare with")
	}
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	t.Cleanup(cancel)
	admin, err := pgx.Connect(ctx, at)
	require.NoError(t, err)
	name := fmt.Sprintf("courson_%s_%d_%d", room, os.Getpid(), rand.Uint32())
	_, err = admin.Exec(ctx, "CREATE DATABASE "+name)
	require.NoError(t, err)
	t.Cleanup(func() {
		_, err := admin.Exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)")
		assert.NoError(t, err)
		_ = admin.Close(ctx)
	})
	config, err := pgx.ParseConfig(at)
	require.NoError(t, err)
	config.Database = name
	c, err := pgx.ConnectConfig(ctx, config)
	require.NoError(t, err)
	t.Cleanup(func() { _ = c.Close(ctx) })
	_, err = c.Exec(ctx, "CREATE EXTENSION postgis")
	require.NoError(t, err)
	return c
}

// Program gives the path of a program.
func Program(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		Without(t, name+" is not installed")
	}
	return path
}

// Run runs a program and gives all that it says; it must succeed.
func Run(t testing.TB, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(Program(t, name), args...).CombinedOutput()
	require.NoError(t, err, "%s %v: %s", name, args, out)
	return string(out)
}

// Without leaves the test out, since something is missing.
func Without(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
		t.Fatal(why + ", and COURSON_TEST_REQUIRE is set")
	}
	t.Skip(why)
}
