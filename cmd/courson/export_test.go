package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestExport_EveryLayer: every layer comes out in a format, under either name of
// the option; without its season a layer that needs one is refused and no file
// made.
func TestExport_EveryLayer(t *testing.T) {
	dir := t.TempDir()
	data := filepath.Join(dir, "demo.gpkg")
	status, _, errs := courson("demo", "--no-serve", "--vines", "500", "--data", data)
	require.Equal(t, exitDone, status, errs)
	for layer, option := range map[string]string{"blocks": "--format", "rows": "--as", "vines": "--as", "vigour": "--format", "patches": "--as", "zones": "--as", "plan-pruning": "--as", "progress": "--as", "replants": "--as", "orders": "--as", "measures": "--as", "records": "--as"} {
		path := filepath.Join(dir, layer+".gpkg")
		status, said, errs := courson("export", layer, option, "gpkg", "--data", data, "--season", "2027", "-o", path)
		require.Equal(t, exitDone, status, errs)
		assert.Contains(t, said, path+": ")
		head, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, "SQLite format 3\x00", string(head[:16]))
		assert.Equal(t, "GPKG", string(head[68:72]), "OGC 12-128, requirement 2: application_id")
	}
	path := filepath.Join(dir, "none.csv")
	status, _, errs = courson("export", "vigour", "--as", "csv", "--data", data, "-o", path)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "--season")
	assert.NoFileExists(t, path)
	status, _, errs = courson("export", "vines", "--as", "csv", "--data", data, "--season", "2072", "-o", path)
	assert.Equal(t, exitDone, status, errs)
	assert.Contains(t, errs, "nothing is recorded of season 2072; the seasons with records: 2025 2026 2027")
	status, _, errs = courson("export", "vines", "--as", "csv", "--data", data, "--season", "2027", "-o", filepath.Join(dir, "none", "x.csv"))
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "there is no folder "+filepath.Join(dir, "none")+"; make it first")
	status, _, _ = courson("export", "vines", "--as", "dxf", "--data", data, "-o", path)
	assert.Equal(t, exitUsage, status)
}
