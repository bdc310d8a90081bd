package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/server/work"
)

// baseEstate is the base scene in a file of the test.
func baseEstate(t *testing.T, files ...string) string {
	t.Helper()
	data := filepath.Join(t.TempDir(), "estate.gpkg")
	args := []string{"import", "--data", data, "--name", "Estate", "--zone", "Europe/Rome"}
	for _, f := range files {
		args = append(args, "../../testdata/base/"+f)
	}
	status, _, errs := courson(args...)
	require.Equal(t, exitDone, status, errs)
	return data
}

// A survey is reported, kept once, and a dry run keeps nothing.
func TestImportSurvey(t *testing.T) {
	data := baseEstate(t, "blocks.geojson", "rows.geojson")
	const file = "../../testdata/import/o43_rtk_float_survey.csv"
	take := func(more ...string) (int, string, string) {
		return courson(append([]string{"import", "--data", data, "--as", "survey", "--date", "2026-11-20", file}, more...)...)
	}
	status, out, errs := take("--dry-run", "--json")
	require.Equal(t, exitDone, status, errs)
	var report work.Report
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Equal(t, []int{8, 3, 3, 1}, []int{report.Points.Read, report.Points.Sure, report.Points.Doubtful, report.Points.Aside})
	status, out, errs = take()
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, out, "3 sure")
	assert.Contains(t, out, "doubtful: s04")
	assert.NotContains(t, out, "nothing to change", "the dry run kept nothing")
	_, out, _ = take()
	assert.Contains(t, out, "nothing to change")
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027")
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, errs, "survey o43_rtk_float_survey of 2026-11-20: 8 points, 4 at a place")
	status, _, errs = take("--shift", "perhaps")
	assert.Equal(t, exitUsage, status, errs)
	status, _, errs = courson("import", "--data", data, "--as", "survey", file)
	assert.NotEqual(t, exitDone, status)
	assert.Contains(t, errs, "without their day")
}

// An image whose band is a score becomes detections of the vines under it.
func TestImportDetectionImage(t *testing.T) {
	data := baseEstate(t, "blocks.geojson", "rows.geojson")
	const image = "../../testdata/raster/o50a_nodata_declared.tif" // 0.60, of 21 vines 0.30, of 6 none
	take := func() (int, string, string) {
		return courson("import", "--data", data, "--as", "detections", "--date", "2026-11-20", "--sure", image)
	}
	status, out, errs := take()
	require.Equal(t, exitDone, status, errs+out)
	assert.Contains(t, out, "162 at a place")
	_, out, _ = take()
	assert.Contains(t, out, "nothing to change")
	path := filepath.Join(t.TempDir(), "candidates.csv")
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "-o", path)
	require.Equal(t, exitDone, status, errs)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Greater(t, strings.Count(string(text), "\n"), 100, "141 places are suspected, from 0.5 on")
}
