package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/server/work"
)

// TestPlanPruningAndWork plans an estate, lists its marks and sends crews in.
func TestPlanPruningAndWork(t *testing.T) {
	dir := t.TempDir()
	data, marks, orders := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "marks.csv"), filepath.Join(dir, "orders.csv")
	status, _, errs := courson("demo", "--no-serve", "--vines", "1500", "--data", data)
	require.Equal(t, exitDone, status, errs)

	table := func(path string) [][]string {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		lines, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
		require.NoError(t, err)
		return lines
	}
	status, _, errs = courson("plan", "pruning", "--data", data, "--season", "2027", "--by", "Ada", "-o", marks)
	require.Equal(t, exitDone, status, errs)
	assert.Regexp(t, `season 2027: \d+ vines, \d+ nodes, \d+ per ha; about \d+\.\d t/ha expected, \d+ hours`, errs)
	lines := table(marks)
	assert.Equal(t, []string{"block", "season", "row", "from_vine", "to_vine", "vines", "mark", "instruction", "alone"}, lines[0])
	words := map[string]map[string]bool{}
	for _, l := range lines[1:] {
		if words[l[0]+l[6]] == nil {
			words[l[0]+l[6]] = map[string]bool{}
		}
		words[l[0]+l[6]][l[7]] = true
	}
	for mark, meanings := range words {
		assert.Len(t, meanings, 1, "%s means one thing", mark)
	}

	// Standards of one's own are checked before anything is kept.
	own := filepath.Join(dir, "own.json")
	require.NoError(t, os.WriteFile(own, []byte(`{"pruning": {"load_rule": {"kind": "fixed", "nodes": 9}, "limits": {"change_share": 0, "hold_weak": false, "shoots_per_m": 30, "canopy_m_per_row_m": 1, "cap_per_ha_over": "all"}}}`), 0o600))
	status, _, errs = courson("plan", "pruning", "--data", data, "--season", "2027", "--standards", own, "--dry-run")
	require.Equal(t, exitDone, status, errs)
	require.NoError(t, os.WriteFile(own, []byte(`{"pruning": {"load_rule": {"kind": "fixed", "nodes": -9}}}`), 0o600))
	status, _, errs = courson("plan", "pruning", "--data", data, "--season", "2027", "--standards", own)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "nodes")

	status, _, errs = courson("plan", "work", "--data", data, "--season", "2027", "--crew", "North", "--crew", "South", "--day", "2026-07-20", "--days", "3", "--off", "2026-07-21", "-o", orders)
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, errs, "North: ")
	seen := map[string]bool{}
	for _, l := range table(orders)[1:] {
		assert.NotEqual(t, "2026-07-21", l[0], "a day off")
		if l[9] == "false" {
			assert.False(t, seen[l[3]+"/"+l[5]], "row %s/%s once", l[3], l[5])
			seen[l[3]+"/"+l[5]] = true
		}
	}
	assert.NotEmpty(t, seen)
	for _, args := range [][]string{
		{"--crew", "Nobody", "--day", "2026-07-20"}, {"--crew", "North", "--day", "tomorrow"}, {"--crew", "North", "--day", "2026-07-20", "--operation", "dancing"},
	} {
		status, _, errs = courson(append([]string{"plan", "work", "--data", data, "--season", "2027"}, args...)...)
		assert.Equal(t, exitFailed, status, errs)
	}
	gaps := filepath.Join(dir, "gaps.csv")
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "-o", gaps)
	require.Equal(t, exitDone, status, errs)
	assert.Regexp(t, `Full count: \d+ gaps on \d+ positions`, errs)
	assert.Contains(t, errs, "advice with its sum, not a verdict")
	head := table(gaps)[0]
	what, why := slices.Index(head, "what"), slices.Index(head, "reason")
	block := table(gaps)[1][slices.Index(head, "block")]
	for _, l := range table(gaps)[1:] {
		assert.Contains(t, []string{"replace", "look", "test", "watch"}, l[what])
		assert.NotEmpty(t, l[why], "a reason")
	}
	for _, f := range work.Forms() {
		planned, exported := filepath.Join(dir, "planned"+f.Suffix), filepath.Join(dir, "exported"+f.Suffix)
		status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "--block", block, "-o", planned)
		require.Equal(t, exitDone, status, errs)
		status, _, errs = courson("export", "replants", "--data", data, "--season", "2027", "--block", block, "--format", string(f.Form), "-o", exported)
		require.Equal(t, exitDone, status, errs)
		a, err := os.ReadFile(planned)
		require.NoError(t, err)
		b, err := os.ReadFile(exported)
		require.NoError(t, err)
		require.NotEmpty(t, a)
		if f.Form != work.GeoPackage && f.Form != work.Shapefile && f.Form != work.Workbook { // these have times in them
			assert.Equal(t, string(b), string(a), f.Form)
		}
		assert.Equal(t, b[:4], a[:4], "the same form")
	}
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "-o", filepath.Join(dir, "gaps.txt"))
	assert.Equal(t, exitUsage, status, errs)
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "--format", "geojson", "-o", filepath.Join(dir, "gaps.txt"))
	assert.Equal(t, exitDone, status, errs)
	status, _, errs = courson("plan", "replants", "--data", data, "--season", "2027", "--plant-on", "autumn")
	assert.Equal(t, exitUsage, status, errs)
	status, _, _ = courson("plan", "pruning", "--data", data, "--season", "12")
	assert.Equal(t, exitUsage, status)
}

// TestPlanRates cuts an estate into zones and writes a file for a terminal.
func TestPlanRates(t *testing.T) {
	dir := t.TempDir()
	data, order := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "order.json")
	status, _, errs := courson("demo", "--no-serve", "--vines", "1500", "--data", data)
	require.Equal(t, exitDone, status, errs)
	wants := func(text string) { require.NoError(t, os.WriteFile(order, []byte(text), 0o600)) }

	wants(`{"zones": {"zones": 2, "least_m2": 20}, "rates": {"material": "compost", "aim": "even out", "rule": "linear", "base": 8, "slope": -2, "cap": 12}}`)
	status, _, errs = courson("plan", "rates", "--data", data, "--season", "2027", "--order", order, "--form", "iso-zones", "-o", dir)
	require.Equal(t, exitDone, status, errs)
	assert.Regexp(t, `zone 1: \d+ vines, \d\.\d\d ha: [\d.]+ t/ha, [\d.]+ kg`, errs)
	assert.Contains(t, errs, "licensed adviser")
	files, err := filepath.Glob(filepath.Join(dir, "*-2027-rates-iso-zones.zip"))
	require.NoError(t, err)
	assert.NotEmpty(t, files)

	wants(`{"rates": {"material": "compost", "rule": "linear"}}`)
	status, _, errs = courson("plan", "rates", "--data", data, "--season", "2027", "--order", order)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "even out")
	wants(`{"rate": 1}`)
	status, _, errs = courson("plan", "rates", "--data", data, "--season", "2027", "--order", order)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "order.json")
}
