package server

import (
	"bytes"
	"encoding/csv"
	"net/http"
	"strconv"
	"testing"

	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/format/isoxml"
	"courson/geo/format/shp"
	"courson/geo/frame"
	"courson/server/work"
)

// compost asks for two zones of the patchy block: more for the weak one.
func compost(with map[string]any) map[string]any {
	rates := map[string]any{"material": "compost", "aim": "even out", "rule": "by zone", "by_zone": []float64{15, 5}}
	for k, v := range with {
		rates[k] = v
	}
	return map[string]any{"zones": map[string]any{"zones": 2, "least_m2": 50}, "rates": rates}
}

func TestZones_AndRates(t *testing.T) {
	f, _ := patchyEstate(t)
	f.ready("P1")
	const url = "/api/blocks/P1/zones?season=2027"

	var z work.ZonesView
	f.send(t, http.MethodPost, url, map[string]any{"zones": map[string]any{"zones": 2, "least_m2": 50}}, 200, &z)
	require.Len(t, z.Zones, 2)
	assert.Less(t, z.Zones[0].Means[0], z.Zones[1].Means[0], "zone 1 is the weakest")
	assert.Nil(t, z.Rates)
	assert.NotEmpty(t, z.Advice.Text)
	require.Len(t, z.Ground.Features, 2)

	f.send(t, http.MethodPost, url, compost(nil), 200, &z)
	require.NotNil(t, z.Rates)
	var total, area float64
	for k, q := range z.Rates.Zones {
		assert.Equal(t, []float64{15, 5}[k], q.Rate)
		assert.InDelta(t, q.Rate*1000*q.AreaM2/1e4, q.Quantity, 1e-6, "tonnes per hectare times hectares")
		total, area = total+q.Quantity, area+q.AreaM2
	}
	assert.InDelta(t, total, z.Rates.Total, 1e-6)
	assert.InDelta(t, area, z.Rates.AreaM2, 1e-6)
	assert.NotEmpty(t, z.Rates.Cautions)
	assert.Empty(t, z.Rates.Terminal)

	// A budget is kept.
	f.send(t, http.MethodPost, url, compost(map[string]any{"budget": total / 2}), 200, &z)
	assert.LessOrEqual(t, z.Rates.Total, total/2*(1+1e-9))

	for name, c := range map[string]struct {
		order any
		says  string
	}{
		"no aim":           {compost(map[string]any{"aim": ""}), "choose"},
		"unknown material": {compost(map[string]any{"material": "gold"}), "compost"},
		"unknown rule":     {compost(map[string]any{"rule": "as you like"}), "by factor"},
		"no label":         {compost(map[string]any{"material": "own", "own": map[string]any{"name": "Mix", "kind": "plant protection", "unit": "l/ha"}}), "label"},
		"rates missing":    {compost(map[string]any{"by_zone": []float64{15}}), "zones"},
		"no index":         {map[string]any{"columns": []any{map[string]any{"of": "canopy_index"}}}, "no canopy index"},
		"what column":      {map[string]any{"columns": []any{map[string]any{"of": "soil"}}}, "vigour or canopy_index"},
		"nine zones":       {map[string]any{"zones": map[string]any{"zones": 9}}, "2 to 6"},
		"unknown key":      {map[string]any{"zone": 2}, "zone"},
	} {
		a := f.ask(http.MethodPost, url, c.order)
		assert.Equal(t, 422, a.status, name)
		assert.Contains(t, string(a.body), c.says, name)
	}
	assert.Equal(t, 404, f.ask(http.MethodPost, "/api/blocks/P1/zones?season=1900", compost(nil)).status)
	assert.Equal(t, 404, f.ask(http.MethodPost, "/api/blocks/XX/zones", compost(nil)).status)
}

// Every form holds the same ground, rates and total, as its reader understands it.
func TestZones_Files(t *testing.T) {
	f, _ := patchyEstate(t)
	f.ready("P1")
	var z work.ZonesView
	f.send(t, http.MethodPost, "/api/blocks/P1/zones?season=2027", compost(nil), 200, &z)
	file := func(form string) []byte {
		a := f.ask(http.MethodPost, "/api/blocks/P1/zones/"+form+"?season=2027", compost(nil))
		require.Equal(t, 200, a.status, "%s: %s", form, a.body)
		return a.body
	}

	fc, err := geojson.UnmarshalFeatureCollection(file("geojson"))
	require.NoError(t, err)
	require.Len(t, fc.Features, 2)
	assert.InDelta(t, 15, fc.Features[0].Properties.MustFloat64("rate"), 0)

	zipped := file("shapefile")
	layers, _, err := shp.ReadZip(bytes.NewReader(zipped), int64(len(zipped)), shp.Options{})
	require.NoError(t, err)
	require.Len(t, layers, 1)
	require.Len(t, layers[0].Shapes, 2)

	for form, grids := range map[string]int{"iso-zones": 0, "iso-grid-1": 1, "iso-grid-2": 1} {
		task := file(form)
		d, _, err := isoxml.ReadZip(bytes.NewReader(task), int64(len(task)), format.Limits{})
		require.NoError(t, err, form)
		require.Len(t, d.Tasks, 1)
		assert.Len(t, d.Tasks[0].Grids, grids, form)
		assert.InDelta(t, z.Rates.AreaM2, frame.WGS84.MultiPolygonArea(d.Fields[0].Boundary), z.Rates.AreaM2/1000, form)
		if grids == 0 {
			var total float64
			for _, zone := range d.Tasks[0].Zones {
				if len(zone.Area) > 0 {
					total += zone.Values[0].Shown * 1000 * frame.WGS84.MultiPolygonArea(zone.Area) / 1e4
				}
			}
			assert.InDelta(t, z.Rates.Total, total, z.Rates.Total/1000)
		}
	}

	rows, err := csv.NewReader(bytes.NewReader(file("rows"))).ReadAll()
	require.NoError(t, err)
	var total float64
	for _, r := range rows[1:] {
		v, err := strconv.ParseFloat(r[10], 64)
		require.NoError(t, err)
		total += v
	}
	assert.InDelta(t, z.Rates.Total, total, z.Rates.Total/1000)
	assert.Equal(t, 404, f.ask(http.MethodPost, "/api/blocks/P1/zones/tape", compost(nil)).status)
	var list struct {
		Materials []struct{ Key, Kind string } `json:"materials"`
	}
	f.send(t, http.MethodGet, "/api/materials", nil, 200, &list)
	require.NotEmpty(t, list.Materials)
	assert.Equal(t, "nitrogen", list.Materials[0].Kind)
}
