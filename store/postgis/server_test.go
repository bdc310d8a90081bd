package postgis_test

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"courson/store/postgis"
)

// serverURL names the server that tests may make databases on.
func serverURL(t testing.TB) string {
	t.Helper()
	u := os.Getenv("COURSON_TEST_POSTGIS")
	if u == "" {
		if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
			t.Fatal("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it")
		}
		t.Skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made (sh cmd/postgis.sh start DIR)")
	}
	return u
}

// on gives the server's URL with another database.
func on(t testing.TB, database string) string {
	u, err := url.Parse(serverURL(t))
	require.NoError(t, err)
	u.Path = "/" + database
	return u.String()
}

// admin runs one statement on the server's own database.
func admin(t testing.TB, sql string) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, serverURL(t))
	require.NoError(t, err)
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, sql)
	require.NoError(t, err)
}

// emptyDatabase makes a database without tables, dropped after the test.
func emptyDatabase(t testing.TB) string {
	t.Helper()
	name := databaseName()
	admin(t, `CREATE DATABASE `+name)
	t.Cleanup(func() { admin(t, `DROP DATABASE IF EXISTS `+name+` WITH (FORCE)`) })
	return on(t, name)
}

func databaseName() string {
	return "courson_test_" + strings.ReplaceAll(uuid.NewString(), "-", "")[:16]
}

// template is a database with our tables: copying it is faster than migrating
// anew. It is made once per run and left to the throw-away server.
var template struct {
	sync.Mutex
	name string
}

// newDatabase makes a database with our tables and no estate, dropped after the
// test.
func newDatabase(t testing.TB) string {
	t.Helper()
	template.Lock()
	defer template.Unlock()
	if template.name == "" {
		name := databaseName()
		admin(t, `CREATE DATABASE `+name)
		s, err := postgis.Open(context.Background(), on(t, name), postgis.Options{Create: true, Estate: "none"})
		require.NoError(t, err)
		require.NoError(t, s.Close())
		conn, err := pgx.Connect(context.Background(), on(t, name))
		require.NoError(t, err)
		_, err = conn.Exec(context.Background(), `DELETE FROM estate`)
		require.NoError(t, err)
		require.NoError(t, conn.Close(context.Background()))
		template.name = name
	}
	name := databaseName()
	admin(t, fmt.Sprintf(`CREATE DATABASE %s TEMPLATE %s`, name, template.name))
	t.Cleanup(func() { admin(t, `DROP DATABASE IF EXISTS `+name+` WITH (FORCE)`) })
	return on(t, name)
}

// open opens a store on the URL and closes it after the test.
func open(t testing.TB, url string, opts postgis.Options) *postgis.Store {
	t.Helper()
	opts.Create = true
	s, err := postgis.Open(context.Background(), url, opts)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

// run executes one statement on a test's database.
func run(t testing.TB, url, sql string, args ...any) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, url)
	require.NoError(t, err)
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, sql, args...)
	require.NoError(t, err)
}
