package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A rectangle of 50 × 100 m, as in the tests of geo/layout/draw, near enough.
const newBlock = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"block":"N1"},"geometry":{"type":"Polygon","coordinates":[[
[8.15,49.2],[8.15068622,49.2],[8.15068622,49.20089917],[8.15,49.20089917],[8.15,49.2]]]}}]}`

func TestRows(t *testing.T) {
	dir := t.TempDir()
	data, ground := filepath.Join(dir, "e.gpkg"), filepath.Join(dir, "n1.geojson")
	require.NoError(t, os.WriteFile(ground, []byte(newBlock), 0o600))
	status, _, errs := courson("import", "--data", data, "--name", "Estate", "--zone", "Europe/Berlin", ground)
	require.Equal(t, exitDone, status, errs)
	wanted := []string{"rows", "make", "--data", data, "--row-spacing", "2", "--vine-spacing", "1", "--headland", "6", "--start", "0.5", "--end", "0.5", "--rows-from", "W", "--vines-from", "S"}
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{append(wanted[:len(wanted):len(wanted)], "N1", "--dry-run"), exitDone, "25 rows, 2200 vines, 2200 m of row: would be made"},
		{append(wanted[:len(wanted):len(wanted)], "N1"), exitUsage, "--by"},
		{append(wanted[:len(wanted):len(wanted)], "N9", "--by", "Ada"), exitFailed, "N9"},
		{append(wanted[:len(wanted):len(wanted)], "N1", "--by", "Ada", "--line", "8.15"), exitUsage, "--line"},
		{append(wanted[:len(wanted):len(wanted)], "N1", "--by", "Ada", "--side", "up", "--count", "2"), exitFailed, "side: "},
		{append(wanted[:len(wanted):len(wanted)], "N1", "--by", "Ada"), exitDone, "2200 vines, 2200 m of row: made"},
		{append(wanted[:len(wanted):len(wanted)], "N1", "--by", "Ada"), exitDone, "there already"},
		{append(wanted[:len(wanted):len(wanted)], "N1", "--by", "Ada", "--count", "3"), exitFailed, "rows already"},
		{[]string{"rows", "number", "--data", data, "N1", "--rows-from", "E", "--dry-run"}, exitDone, "row 1 was 25"},
		{[]string{"rows", "number", "--data", data, "N1", "--rows-from", "E", "--vines-from", "N", "--by", "Ada"}, exitDone, "row 1 was 25, vine 1 at the other end"},
		{[]string{"rows", "number", "--data", data, "N1", "--rows-from", "E", "--vines-from", "N", "--by", "Ada"}, exitDone, "nothing to change"},
	} {
		status, out, errs := courson(c.args...)
		require.Equal(t, c.status, status, "%v: %s%s", c.args, out, errs)
		assert.Contains(t, out+errs, c.says)
	}
}
