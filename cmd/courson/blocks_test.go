package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBlocks(t *testing.T) {
	dir := t.TempDir()
	data, ground := filepath.Join(dir, "e.gpkg"), filepath.Join(dir, "n1.geojson")
	require.NoError(t, os.WriteFile(ground, []byte(newBlock), 0o600))
	status, _, errs := courson("import", "--data", data, "--name", "Estate", "--zone", "Europe/Berlin", ground)
	require.Equal(t, exitDone, status, errs)
	status, _, errs = courson("rows", "make", "--data", data, "--row-spacing", "2", "--vine-spacing", "1", "--headland", "6", "--start", "0.5", "--end", "0.5", "--rows-from", "W", "--vines-from", "S", "--by", "Ada", "N1")
	require.Equal(t, exitDone, status, errs)
	split := []string{"blocks", "split", "--data", data, "--line", "8.1500,49.2004,8.1506,49.2004", "--side", "N", "--code", "N2", "N1"}
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{append(split[:len(split):len(split)], "--dry-run"), exitDone, "25 rows are cut; vines keep their numbers"},
		{split, exitUsage, "--by"},
		{[]string{"blocks", "split", "--data", data, "--line", "8.1500", "--side", "N", "--code", "N2", "N1", "--by", "Ada"}, exitUsage, "--line"},
		{[]string{"blocks", "split", "--data", data, "--line", "8.1500,49.2004,8.1506,49.2004", "--side", "E", "--code", "N2", "N1", "--by", "Ada"}, exitFailed, "side: "},
		{append(split[:len(split):len(split)], "--by", "Ada"), exitDone, "block N2: 25 rows"},
		{append(split[:len(split):len(split)], "--by", "Ada"), exitFailed, "there is a block N2 already"},
		{[]string{"blocks", "join", "--data", data, "N1", "N2", "--by", "Ada"}, exitFailed, "both blocks have rows 1, 2"},
		{[]string{"blocks", "join", "--data", data, "N1", "N9", "--by", "Ada"}, exitFailed, "N9"},
		{[]string{"blocks", "join", "--data", data, "N1", "N2", "--labels", "on", "--dry-run"}, exitDone, "row 26 was 1"},
		{[]string{"blocks", "back", "--data", data, "N2", "--dry-run"}, exitFailed, "take it back there"},
		{[]string{"blocks", "back", "--data", data, "N1", "--dry-run"}, exitDone, "block split by Ada"},
		{[]string{"blocks", "join", "--data", data, "N1", "N2", "--labels", "on", "--by", "Ada"}, exitDone, "block N1: 50 rows, 2200 vines, 0.50 ha"},
		{[]string{"blocks", "back", "--data", data, "N1", "--by", "Ada"}, exitDone, "blocks joined by Ada"},
		{[]string{"check", "--data", data}, exitDone, ""},
	} {
		status, out, errs := courson(c.args...)
		require.Equal(t, c.status, status, "%v: %s%s", c.args, out, errs)
		assert.Contains(t, out+errs, c.says, "%v", c.args)
	}
}
