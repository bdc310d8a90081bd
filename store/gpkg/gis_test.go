package gpkg_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
	"courson/store/gpkg"
	"courson/store/peers"
)

func run(t *testing.T, name string, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	require.NoError(t, cmd.Run(), "%s %v: %s%s", name, args, out.String(), errs.String())
	assert.Empty(t, errs.String(), "%s %v complains", name, args)
	return out.String()
}

// features reads a layer through GDAL.
func features(t *testing.T, path, layer string) []map[string]any {
	t.Helper()
	dst := filepath.Join(t.TempDir(), "out.geojson")
	run(t, "ogr2ogr", "-f", "GeoJSON", dst, path, layer)
	text, err := os.ReadFile(dst)
	require.NoError(t, err)
	var c struct {
		Features []map[string]any `json:"features"`
	}
	require.NoError(t, json.Unmarshal(text, &c))
	return c.Features
}

// TestGIS reads the file with GDAL while the store has it open.
func TestGIS(t *testing.T) {
	skipUnderRace(t)
	peers.Program(t, "ogrinfo")
	peers.Program(t, "ogr2ogr")
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	defer s.Close()
	blocks := bigEstate(t, s, 1)

	t.Run("layers and counts", func(t *testing.T) {
		out := run(t, "ogrinfo", "-so", "-al", path)
		for layer, want := range map[string]int{
			"block": 1, "vine_row": benchRows, "vine": benchRows * benchPerRow, "vines_now": benchRows * benchPerRow,
			"vine_state": benchRows * benchPerRow,
		} {
			_, rest, found := strings.Cut(out, "Layer name: "+layer+"\n")
			require.True(t, found, layer)
			_, rest, _ = strings.Cut(rest, "Feature Count: ")
			count, _, _ := strings.Cut(rest, "\n")
			assert.Equal(t, strconv.Itoa(want), count, layer)
		}
		assert.Contains(t, out, `ID["EPSG",4326]`)
		assert.NotContains(t, out, "Warning")
	})
	t.Run("a window", func(t *testing.T) {
		// Rows 0 to 4, vines 0 to 9 of the block laid out by importBlock.
		out := run(t, "ogrinfo", "-so", path, "vines_now", "-spat", "2.99999", "42.99999", "3.00013", "43.000095")
		assert.Contains(t, out, "Feature Count: 50")
	})
	t.Run("every vine as the store gives it", func(t *testing.T) {
		states := map[vine.ID]store.VineState{}
		for st, err := range s.States(t.Context(), blocks[0], 2027, 0) {
			require.NoError(t, err)
			states[st.Vine] = st
		}
		rows, err := s.Rows(t.Context(), blocks[0])
		require.NoError(t, err)
		label := map[vine.ID]string{}
		for _, r := range rows {
			label[r.ID] = r.Label
		}
		at := map[string]store.Vine{}
		for v, err := range s.Vines(t.Context(), blocks[0]) {
			require.NoError(t, err)
			at[fmt.Sprint(label[v.Row], "/", v.Number)] = v
		}
		got := features(t, path, "vines_now")
		require.Len(t, got, len(at))
		for _, f := range got {
			p := f["properties"].(map[string]any)
			v := at[fmt.Sprint(p["row_label"], "/", p["number"])]
			st := states[v.ID]
			require.Equal(t, st.Condition.String(), p["condition"])
			require.InDelta(t, st.Measures[vine.PruningWeight].Value, p["weight_g"], 0)
			require.Equal(t, "B000", p["block"])
			point := f["geometry"].(map[string]any)["coordinates"].([]any)
			require.InDelta(t, v.Point[0], point[0], 1e-7)
			require.InDelta(t, v.Point[1], point[1], 1e-7)
		}
	})
}

// TestGISWhileWriting has GDAL read again and again while events are stored.
func TestGISWhileWriting(t *testing.T) {
	peers.Program(t, "ogrinfo")
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	defer s.Close()
	f := plantSmall(t, s)
	var stop atomic.Bool
	written := make(chan int)
	go func() {
		n := 0
		for ; !stop.Load(); n++ {
			if _, err := s.Append(t.Context(), []vine.Event{f.note(n)}); !assert.NoError(t, err) {
				break
			}
		}
		written <- n
	}()
	for range 4 {
		out := run(t, "ogrinfo", "-so", path, "vines_now")
		assert.Contains(t, out, "Feature Count: 6")
	}
	stop.Store(true)
	assert.Positive(t, <-written)
}

// TestStandard asks GDAL's validator, where its Python module is installed.
func TestStandard(t *testing.T) {
	skipUnderRace(t)
	const python = "/usr/bin/python3"
	peers.Program(t, python)
	if exec.Command(python, "-c", "import osgeo_utils.samples.validate_gpkg").Run() != nil {
		peers.Without(t, "osgeo_utils is not installed")
	}
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	bigEstate(t, s, 1)
	f := plantSmall(t, s)
	_, err := s.Append(t.Context(), f.everything())
	require.NoError(t, err)
	require.NoError(t, s.Close())
	out := run(t, python, "-m", "osgeo_utils.samples.validate_gpkg", "--extra", path)
	assert.Empty(t, strings.TrimSpace(out))
}

// TestHead reads the marks of the standard (OGC 12-128r17, 1.1.1.1.1,
// requirement 2) from the file itself.
func TestHead(t *testing.T) {
	text, err := os.ReadFile(newFile(t))
	require.NoError(t, err)
	assert.Equal(t, "SQLite format 3\x00", string(text[:16]))
	assert.Equal(t, "GPKG", string(text[68:72]), "application id")
	assert.Equal(t, []byte{0, 0, 0x28, 0x3C}, text[60:64], "user version 10300")
}

// TestContents looks at what the standard wants to be true between its tables.
func TestContents(t *testing.T) {
	skipUnderRace(t)
	path := filepath.Join(t.TempDir(), "estate.gpkg")
	s := open(t, path, gpkg.Options{Create: true})
	defer s.Close()
	bigEstate(t, s, 1)
	for name, sql := range map[string]string{
		"foreign keys":           "PRAGMA foreign_key_check",
		"contents without table": `SELECT table_name FROM gpkg_contents WHERE table_name NOT IN (SELECT name FROM sqlite_schema WHERE type IN ('table', 'view'))`,
		"features without geometry column": `SELECT table_name FROM gpkg_contents WHERE data_type = 'features'
			AND table_name NOT IN (SELECT table_name FROM gpkg_geometry_columns)`,
		"index entries": `SELECT 'vine' FROM vine GROUP BY 1 HAVING count(*) <> (SELECT count(*) FROM rtree_vine_geom)
			UNION ALL SELECT 'row' FROM vine_row GROUP BY 1 HAVING count(*) <> (SELECT count(*) FROM rtree_vine_row_geom)
			UNION ALL SELECT 'block' FROM block GROUP BY 1 HAVING count(*) <> (SELECT count(*) FROM rtree_block_geom)`,
		"bounds": `SELECT table_name FROM gpkg_contents WHERE data_type = 'features' AND NOT
			(min_x BETWEEN 2.9999 AND 3.0001 AND min_y BETWEEN 42.9999 AND 43.0001 AND max_x < 3.006 AND max_y < 43.006)`,
		"the three fixed coordinate systems": "SELECT count(*) FROM gpkg_spatial_ref_sys WHERE srs_id IN (-1, 0, 4326) HAVING count(*) <> 3",
	} {
		assert.Empty(t, query(t, path, sql), name)
	}
}

// small is a block of one row of six vines.
type small struct {
	block vine.ID
	vines []store.Vine
}

func plantSmall(t *testing.T, s *gpkg.Store) small {
	t.Helper()
	var f small
	require.NoError(t, s.Update(t.Context(), func(tx store.Tx) error {
		b := []store.Block{{Code: "small"}}
		if err := tx.SaveBlocks(b); err != nil {
			return err
		}
		f.block = b[0].ID
		r := []store.Row{{Block: f.block, Label: "1", Ord: 1}}
		if err := tx.SaveRows(r); err != nil {
			return err
		}
		for i := range 6 {
			f.vines = append(f.vines, store.Vine{Block: f.block, Row: r[0].ID, Number: i + 1, Tag: fmt.Sprint("tag ", i)})
		}
		return tx.SaveVines(f.vines)
	}))
	return f
}
