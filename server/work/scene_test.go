package work

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/require"

	"courson/store"
	"courson/store/gpkg"
	"courson/store/postgis"
)

// onDisk is a file of the tests.
func onDisk(path string) File {
	return File{Name: path, Open: func() (io.ReadSeeker, error) { return os.Open(path) }}
}

// inMemory is a file made up by a test.
func inMemory(name, text string) File {
	return File{Name: name, Open: func() (io.ReadSeeker, error) { return strings.NewReader(text), nil }}
}

const baseDir = "../../testdata/base/"

// base is the clean scene of testdata/base.
func base() []File {
	return []File{onDisk(baseDir + "vines.csv"), onDisk(baseDir + "rows.geojson"), onDisk(baseDir + "blocks.geojson")}
}

// clock stands still, so that what is stored can be compared.
func clock() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }

// openGpkg gives a fresh store in a file of the test.
func openGpkg(t testing.TB) store.Store {
	t.Helper()
	st, err := gpkg.Open(context.Background(), filepath.Join(t.TempDir(), "estate.gpkg"), gpkg.Options{Create: true, Now: clock})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}

// take imports files and wants them to be accepted.
func take(t testing.TB, st store.Store, job ImportJob, files ...File) Report {
	t.Helper()
	job.Files = files
	if job.Now == nil {
		job.Now = clock
	}
	report, err := Import(context.Background(), st, job)
	require.NoError(t, err)
	require.Empty(t, report.Problems)
	return report
}

// refuse imports files and wants them to be refused, and nothing to be stored.
func refuse(t testing.TB, st store.Store, job ImportJob, files ...File) Report {
	t.Helper()
	before := dump(t, st)
	job.Files = files
	if job.Now == nil {
		job.Now = clock
	}
	report, err := Import(context.Background(), st, job)
	require.ErrorIs(t, err, ErrRefused)
	require.True(t, report.Refused)
	require.NotEmpty(t, report.Problems)
	require.Equal(t, before, dump(t, st), "a refused import stores nothing")
	return report
}

// dump writes all that a store holds as text, revisions included.
func dump(t testing.TB, st store.Store) string {
	t.Helper()
	ctx := context.Background()
	var b strings.Builder
	e, err := st.Estate(ctx)
	require.NoError(t, err)
	fmt.Fprintf(&b, "%+v\n", e)
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	seasons, err := st.Seasons(ctx)
	require.NoError(t, err)
	for _, blk := range blocks {
		fmt.Fprintf(&b, "%+v\n", blk)
		rows, err := st.Rows(ctx, blk.ID)
		require.NoError(t, err)
		for _, r := range rows {
			fmt.Fprintf(&b, "%+v\n", r)
		}
		for v, err := range st.Vines(ctx, blk.ID) {
			require.NoError(t, err)
			fmt.Fprintf(&b, "%+v\n", v)
		}
		for _, s := range seasons {
			plan, err := st.PlanList(ctx, store.PlanPruning, s, blk.ID)
			require.NoError(t, err)
			fmt.Fprintf(&b, "%+v\n", plan)
		}
	}
	events, err := st.Events(ctx, store.EventQuery{})
	require.NoError(t, err)
	for _, ev := range events {
		text, err := ev.MarshalJSON()
		require.NoError(t, err)
		fmt.Fprintf(&b, "%d %s\n", ev.Cursor, text)
	}
	return b.String()
}

// texts joins the problems of a report.
func texts(r Report) string {
	var b bytes.Buffer
	for _, p := range r.Problems {
		fmt.Fprintln(&b, p.Error())
	}
	return b.String()
}

// onEachStore runs a test on a GeoPackage, and on PostGIS when a server is named.
func onEachStore(t *testing.T, test func(t *testing.T, open func(t testing.TB) store.Store)) {
	t.Run("gpkg", func(t *testing.T) { test(t, openGpkg) })
	t.Run("postgis", func(t *testing.T) {
		server := os.Getenv("COURSON_TEST_POSTGIS")
		if server == "" {
			if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
				t.Fatal("COURSON_TEST_POSTGIS is not set and COURSON_TEST_REQUIRE=1 asks for it")
			}
			t.Skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made (sh cmd/postgis.sh start DIR)")
		}
		test(t, func(t testing.TB) store.Store { return openPostgis(t, server) })
	})
}

// openPostgis gives a fresh store in a database of the test.
func openPostgis(t testing.TB, server string) store.Store {
	t.Helper()
	ctx := context.Background()
	u, err := url.Parse(server)
	require.NoError(t, err)
	admin, err := pgx.Connect(ctx, server)
	require.NoError(t, err)
	name := "courson_work_" + strings.ReplaceAll(uuid.NewString(), "-", "")
	_, err = admin.Exec(ctx, "CREATE DATABASE "+name)
	require.NoError(t, err)
	t.Cleanup(func() {
		_, err := admin.Exec(ctx, "DROP DATABASE "+name+" WITH (FORCE)")
		require.NoError(t, err)
		require.NoError(t, admin.Close(ctx))
	})
	u.Path = "/" + name
	st, err := postgis.Open(ctx, u.String(), postgis.Options{Estate: "test", Create: true, Now: clock})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, st.Close()) })
	return st
}
