package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// underTheImage is two rows in the middle of testdata/raster/ndvi_uint16_4326.tif.
const underTheImage = `{"type": "FeatureCollection", "features": [
 {"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [[[145.3209, -37.7277], [145.3225, -37.7277], [145.3225, -37.7275], [145.3209, -37.7275], [145.3209, -37.7277]]]}, "properties": {"block": "K1", "row_spacing_m": 2.4, "vine_spacing_m": 1.2}},
 {"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[145.3210, -37.72760], [145.3224, -37.72760]]}, "properties": {"block": "K1", "row": "1", "vine_spacing_m": 1.2, "vine1_end": "W"}},
 {"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[145.3210, -37.72763], [145.3224, -37.72763]]}, "properties": {"block": "K1", "row": "2", "vine_spacing_m": 1.2, "vine1_end": "W"}}]}`

// An image becomes a canopy index of each vine, once, and zones can be cut from it.
func TestImportRaster(t *testing.T) {
	dir := t.TempDir()
	data, ground := filepath.Join(dir, "estate.gpkg"), filepath.Join(dir, "ground.geojson")
	require.NoError(t, os.WriteFile(ground, []byte(underTheImage), 0o600))
	status, _, errs := courson("import", "--data", data, "--name", "Estate", "--zone", "Australia/Melbourne", "--south", ground)
	require.Equal(t, exitDone, status, errs)

	const image = "../../testdata/raster/ndvi_uint16_4326.tif"
	take := func(more ...string) (int, string, string) {
		return courson(append([]string{"import", "--data", data, "--as", "raster", "--season", "2026", "--date", "2026-02-10", "--unit", "canopy_index=NDVI"}, more...)...)
	}
	status, out, errs := take(image)
	require.Equal(t, exitDone, status, errs+out)
	assert.Regexp(t, `values for 20\d vines in 1 blocks`, out)
	assert.Contains(t, out, "wider than the row spacing", "4 m pixels over rows of 2.4 m")
	assert.Contains(t, out, "kept as a layer of the map")
	status, out, errs = take(image)
	require.Equal(t, exitDone, status, errs)
	assert.NotRegexp(t, `canopy_index\s+[1-9]\d* (new|made)`, out, "taken once")
	assert.Contains(t, out, "kept as a layer of the map before")
	status, _, errs = take("--no-map-layer", "--sensor", "second", image)
	require.Equal(t, exitDone, status, errs)
	assert.NotContains(t, errs, "layer of the map")

	table := filepath.Join(dir, "vines.csv")
	status, _, errs = courson("export", "vines", "--format", "csv", "--data", data, "--season", "2026", "-o", table)
	require.Equal(t, exitDone, status, errs)
	text, err := os.ReadFile(table)
	require.NoError(t, err)
	assert.Contains(t, string(text), "NDVI")

	order := filepath.Join(dir, "order.json")
	require.NoError(t, os.WriteFile(order, []byte(`{"columns": [{"of": "canopy_index"}], "zones": {"zones": 2, "least_m2": 20}}`), 0o600))
	status, _, errs = courson("plan", "rates", "--data", data, "--season", "2026", "--order", order)
	require.Equal(t, exitDone, status, errs)
	assert.Regexp(t, `K1: 2 zones`, errs)

	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"elsewhere":    {[]string{"--sure", "../../testdata/raster/o50a_nodata_declared.tif"}, "no vine has a value"},
		"two systems":  {[]string{"../../testdata/raster/ndvi_float32_32755.tif", "--crs", "EPSG:32632"}, "another coordinate system"},
		"no image":     {[]string{ground}, "image"},
		"no such band": {[]string{"--band", "7", image}, "band"},
		"no red band":  {[]string{"--index", "ndvi", image}, "--red"},
		"a question":   {[]string{"../../testdata/raster/o50b_nodata_undeclared.tif"}, "no value"},
	} {
		status, _, errs := take(c.args...)
		assert.NotEqual(t, exitDone, status, name)
		assert.Contains(t, strings.ToLower(errs), strings.ToLower(c.says), name)
	}
	status, _, errs = courson("import", "--data", data, "--as", "raster", "--season", "2026", "--unit", "canopy_index=NDVI", image)
	assert.NotEqual(t, exitDone, status)
	assert.Contains(t, errs, "--date")
}
