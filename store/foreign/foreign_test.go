package foreign

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
	orbwkb "github.com/paulmach/orb/encoding/wkb"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/frame"
)

const baseDir = "../../testdata/base/"

func ogr(t testing.TB, args ...string) []byte {
	t.Helper()
	program, err := exec.LookPath("ogr2ogr")
	if err != nil {
		if os.Getenv("COURSON_TEST_REQUIRE") == "1" {
			t.Fatal("ogr2ogr is missing (Debian package gdal-bin)")
		}
		t.Skip("ogr2ogr is missing (Debian package gdal-bin)")
	}
	to := filepath.Join(t.TempDir(), "x.gpkg")
	out, err := exec.Command(program, append([]string{"-f", "GPKG", to}, args...)...).CombinedOutput()
	require.NoError(t, err, string(out))
	b, err := os.ReadFile(to)
	require.NoError(t, err)
	return b
}

func open(t *testing.T, b []byte, o Options) *File {
	t.Helper()
	f, err := Open(bytes.NewReader(b), int64(len(b)), o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, f.Close()) })
	return f
}

func all(t *testing.T, f *File, table Table) ([]format.Feature, []format.Notice) {
	t.Helper()
	var out []format.Feature
	var notes format.Notices
	require.NoError(t, f.Each(t.Context(), table, &notes, func(x format.Feature) error { out = append(out, x); return nil }))
	return out, notes.List()
}

// GDAL wrote the file; rows and values are those of the base scene.
func TestOpen_WrittenByGDAL(t *testing.T) {
	f := open(t, ogr(t, "-t_srs", "EPSG:32632", baseDir+"rows.geojson"), Options{})
	require.Len(t, f.Tables(), 1)
	table := f.Tables()[0]
	require.Equal(t, "geom", table.Geometry)
	require.Equal(t, 32632, table.CRS.Code)
	rows, notes := all(t, f, table)
	require.Empty(t, notes)
	require.Len(t, rows, 8)
	require.Equal(t, "B1", rows[0].Get("block"))
	require.Equal(t, int64(1), rows[0].Get("row"))
	require.Nil(t, rows[0].Get("fid"), "what only counts rows is left alone")
	line := rows[0].Geometry.(orb.LineString)
	require.InDelta(t, 11.37, line[0][0], 2.5e-7) // 2 cm
	require.InDelta(t, 45.21, line[0][1], 1.8e-7)
}

func TestOpen_HeightsAndTables(t *testing.T) {
	f := open(t, ogr(t, "../../testdata/import/o01_rows_z.geojson"), Options{})
	rows, notes := all(t, f, f.Tables()[0])
	require.Len(t, rows, 3)
	require.Equal(t, "heights and measures are left out", notes[0].Text)
	require.Len(t, rows[0].Geometry, 3)

	f = open(t, ogr(t, baseDir+"vines.csv"), Options{})
	require.Empty(t, f.Tables()[0].Geometry)
	vines, _ := all(t, f, f.Tables()[0])
	require.Len(t, vines, 168)
	require.Nil(t, vines[0].Geometry)
}

func TestOpen_Refuses(t *testing.T) {
	_, err := Open(bytes.NewReader([]byte("SQLite format 3\x00")), 16, Options{})
	require.ErrorContains(t, err, "not a GeoPackage, or a damaged one")
	b := ogr(t, "-a_srs", "EPSG:2056", baseDir+"rows.geojson")
	_, err = Open(bytes.NewReader(b), int64(len(b)), Options{})
	require.ErrorIs(t, err, ErrNoCRS)
	require.ErrorContains(t, err, "the coordinate system cannot be used")
	b = ogr(t, baseDir+"rows.geojson")
	_, err = Open(bytes.NewReader(b), int64(len(b)), Options{CRS: "EPSG:32632"})
	require.ErrorContains(t, err, "in another coordinate system than was stated")

	f := open(t, b, Options{})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, f.Each(ctx, f.Tables()[0], &format.Notices{}, func(format.Feature) error { return nil }), context.Canceled)
}

// blob puts the head of a GeoPackage before well-known binary.
func blob(t testing.TB, g orb.Geometry, order binary.ByteOrder) []byte {
	body, err := orbwkb.Marshal(g, order)
	require.NoError(t, err)
	return append([]byte{'G', 'P', 0, 1, 0, 0, 0, 0}, body...)
}

// The library orb writes well-known binary; what it writes comes back.
func TestReadBlob_Geometries(t *testing.T) {
	for _, g := range []orb.Geometry{
		orb.Point{11, 45}, orb.LineString{{1, 2}, {3, 4}}, orb.Polygon{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}},
		orb.MultiPoint{{1, 2}, {3, 4}}, orb.MultiLineString{{{1, 2}, {3, 4}}, {{5, 6}, {7, 8}}},
		orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}, {{{4, 4}, {5, 4}, {5, 5}, {4, 4}}}},
		orb.Collection{orb.Point{1, 2}, orb.LineString{{1, 2}, {3, 4}}},
	} {
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			got, heights, err := readBlob(blob(t, g, order), frame.WGS84LonLat)
			require.NoError(t, err)
			require.False(t, heights)
			require.Equal(t, g, got)
		}
	}
	whole := blob(t, orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}, binary.LittleEndian)
	for n := range len(whole) {
		_, _, err := readBlob(whole[:n], frame.WGS84LonLat)
		require.Error(t, err, n)
	}
	empty := blob(t, orb.Point{math.NaN(), math.NaN()}, binary.LittleEndian)
	g, _, err := readBlob(empty, frame.WGS84LonLat)
	require.NoError(t, err)
	require.Nil(t, g)
}

func FuzzReadBlob(f *testing.F) {
	f.Add(blob(f, orb.MultiPolygon{{{{0, 0}, {1, 0}, {1, 1}, {0, 0}}}}, binary.LittleEndian))
	f.Add(blob(f, orb.Collection{orb.Point{1, 2}, orb.LineString{{1, 2}, {3, 4}}}, binary.BigEndian))
	f.Fuzz(func(t *testing.T, b []byte) {
		g, _, err := readBlob(b, frame.WGS84LonLat)
		if err != nil || g == nil {
			return
		}
		require.NoError(t, frame.EachPoint(g, frame.CheckLonLat))
	})
}

func FuzzOpen(f *testing.F) {
	f.Add(ogr(f, baseDir+"rows.geojson"))
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := Open(bytes.NewReader(b), int64(len(b)), Options{})
		if err != nil {
			return
		}
		for _, table := range g.Tables() {
			_ = g.Each(t.Context(), table, &format.Notices{}, func(format.Feature) error { return nil })
		}
		require.NoError(t, g.Close())
	})
}
