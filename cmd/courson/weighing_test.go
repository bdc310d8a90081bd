package main

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A list is made, filled in, taken in, and asked for again; nothing of this asks
// for more than the program itself.
func TestPlanWeighing_FilledInAndImported(t *testing.T) {
	dir := t.TempDir()
	data, list := filepath.Join(dir, "estate.gpkg"), filepath.Join(dir, "weigh.csv")
	const base = "../../testdata/base/"
	status, _, errs := courson("import", "--data", data, "--season", "2025", base+"blocks.geojson", base+"rows.geojson", base+"vines.csv")
	require.Equal(t, exitDone, status, errs)

	status, _, errs = courson("plan", "weighing", "--data", data, "--season", "2025", "--number", "20", "-o", list)
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, errs, "B1, season 2025: weigh 20 of")
	assert.Contains(t, errs, "vines vary by 25 % (a usual figure")
	assert.Contains(t, errs, "passed over: 5 without a living vine")

	text, err := os.ReadFile(list)
	require.NoError(t, err)
	lines, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(string(text), "\ufeff"))).ReadAll()
	require.NoError(t, err)
	var b strings.Builder
	b.WriteString("address;weight;by\n")
	for _, l := range lines[1:] {
		b.WriteString(l[2] + ";0,45;Ana\n")
	}
	sheet := filepath.Join(dir, "weights.csv")
	require.NoError(t, os.WriteFile(sheet, []byte(b.String()), 0o600))
	take := []string{"import", "--data", data, "--as", "measures", "--season", "2025", sheet}
	status, _, errs = courson(take...)
	assert.Equal(t, exitFailed, status)
	assert.Contains(t, errs, "a quantity without its unit")
	status, out, errs := courson(append(take, "--unit", "pruning_weight=kg")...)
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, out, "pruning_weight: 20 vines recorded")

	status, again, errs := courson("plan", "weighing", "--data", data, "--season", "2026", "--number", "20", "--again")
	require.Equal(t, exitDone, status, errs)
	assert.Contains(t, errs, "20 of the vines weighed in 2025 kept")
	for _, l := range lines[1:] {
		assert.Contains(t, again, l[2]+",")
	}
}

func TestPlanWeighing_WrongUse(t *testing.T) {
	for _, c := range []struct {
		args []string
		says string
	}{
		{[]string{"--season", "27"}, "harvest year"},
		{nil, "missing flags: --season"},
		{[]string{"--season", "2027", "--error", "0"}, "--error above 0"},
		{[]string{"--season", "2027", "--number", "-3"}, "--number"},
		{[]string{"--season", "2027", "--format", "pdf"}, "must be one of"},
	} {
		status, _, errs := courson(append([]string{"plan", "weighing", "--data", "none.gpkg"}, c.args...)...)
		assert.Equal(t, exitUsage, status, errs)
		assert.Contains(t, errs, c.says)
	}
}
