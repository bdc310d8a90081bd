package server

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"courson/store"
	"courson/store/postgis"
)

// eachPlace runs a test on a GeoPackage and, where COURSON_TEST_POSTGIS names a
// server, on PostGIS.
func eachPlace(t *testing.T, test func(t *testing.T, p place)) {
	t.Run("gpkg", func(t *testing.T) { test(t, gpkgPlace(t)) })
	t.Run("postgis", func(t *testing.T) { test(t, postgisPlace(t)) })
}

// postgisDatabase is made once per run; every test has an estate of its own in
// it.
var postgisDatabase struct {
	sync.Once
	server, name string
}

// postgisPlace is an estate of the test's own.
func postgisPlace(t testing.TB) place {
	d := &postgisDatabase
	if d.server = os.Getenv("COURSON_TEST_POSTGIS"); d.server == "" {
		if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
			t.Fatal("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it")
		}
		t.Skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made")
	}
	d.Do(func() {
		name := "courson_server_" + strings.ReplaceAll(uuid.NewString(), "-", "")[:16]
		require.NoError(t, onServer(d.server, "CREATE DATABASE "+name))
		d.name = name
	})
	u, err := url.Parse(d.server)
	require.NoError(t, err)
	u.Path = "/" + d.name
	estate := uuid.NewString()
	return place{"postgis", func(t testing.TB) store.Store {
		st, err := postgis.Open(t.Context(), u.String(), postgis.Options{Create: true, Estate: estate, MaxConns: 6})
		require.NoError(t, err)
		t.Cleanup(func() { require.NoError(t, st.Close()) })
		return st
	}}
}

// onServer runs one statement.
func onServer(server, sql string) error {
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, server)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}

// dropPostgis drops the database of the run.
func dropPostgis() {
	if d := &postgisDatabase; d.name != "" {
		if err := onServer(d.server, "DROP DATABASE IF EXISTS "+d.name+" WITH (FORCE)"); err != nil {
			fmt.Fprintln(os.Stderr, "drop the test database:", err)
		}
	}
}
