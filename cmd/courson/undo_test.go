package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/server/work"
)

// Imports are listed; one is taken back, the other only once nothing rests on it.
func TestImportUndo(t *testing.T) {
	data := baseEstate(t, "blocks.geojson", "rows.geojson")
	status, _, errs := courson("import", "--data", data, "--season", "2025", "--by", "Ana", "../../testdata/base/vines.csv")
	require.Equal(t, exitDone, status, errs)
	status, out, errs := courson("import", "--data", data, "--list", "--json")
	require.Equal(t, exitDone, status, errs)
	var list []work.Taken
	require.NoError(t, json.Unmarshal([]byte(out), &list))
	require.Len(t, list, 2)
	require.Equal(t, []string{"vines.csv"}, list[0].Files)
	_, out, _ = courson("import", "--data", data, "--list")
	assert.Contains(t, out, "blocks.geojson and 1 more: 1 blocks made, 8 rows made, 168 vines made")

	ground, records := list[1].ID, list[0].ID
	status, out, errs = courson("import", "--data", data, "--undo", ground)
	assert.Equal(t, exitFailed, status, out)
	assert.Contains(t, errs, "was recorded since: bearing, by the import of vines.csv")
	assert.Contains(t, errs, "nothing was changed")
	status, out, errs = courson("import", "--data", data, "--undo", records, "--dry-run")
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, out, "dry run")
	for range 2 {
		status, out, errs = courson("import", "--data", data, "--undo", records, "--by", "Bo")
		require.Equal(t, exitDone, status, errs)
	}
	assert.Contains(t, out, "was taken back before", "the second time nothing is done")
	status, out, errs = courson("import", "--data", data, "--undo", ground)
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, out, "vines   168 that it made gone")
	_, out, _ = courson("import", "--data", data, "--list")
	assert.Contains(t, out, "taken back on")
	assert.Contains(t, out, "by Bo")

	for _, args := range [][]string{{"--undo", "x", "some.csv"}, {"--list", "--undo", "x"}, {}} {
		status, _, _ = courson(append([]string{"import", "--data", data}, args...)...)
		assert.Equal(t, exitUsage, status, args)
	}
	status, _, errs = courson("import", "--data", data, "--undo", "x")
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "there is no such import")
}
