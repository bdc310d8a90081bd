package server

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format/shp"
	"courson/geo/rate"
	"courson/store"
)

const zonesP1 = "/api/blocks/P1/zones"

// keep keeps an order of the patchy block as a version.
func (f *fixture) keep(t *testing.T, note string, order map[string]any) (k keptJSON) {
	t.Helper()
	f.send(t, http.MethodPost, zonesP1+"/kept", map[string]any{"season": 2027, "by": "Ada", "note": note, "order": order}, http.StatusCreated, &k)
	return k
}

// Kept zones say later what they said when they were kept, also when the record
// has moved on; two can be compared.
func TestZones_Kept(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	var list zonesListJSON
	f.send(t, http.MethodGet, zonesP1+"?season=2027", nil, 200, &list)
	assert.Empty(t, list.Versions)
	require.Len(t, list.Layers, 2)
	assert.Equal(t, "vigour", list.Layers[0].Of)
	assert.Equal(t, []int{2026, 2027}, []int{list.Layers[0].Season, list.Layers[1].Season})
	assert.Equal(t, 600, list.Layers[1].Vines, "every vine was scored")
	assert.Equal(t, 404, f.ask(http.MethodGet, zonesP1+"/kept/x?season=2027", nil).status)

	first := f.keep(t, "first trial", compost(nil))
	assert.Equal(t, "Ada", first.By)
	assert.Equal(t, 2027, first.Order.Columns[0].Season, "the season is written out")
	three := compost(map[string]any{"by_zone": []float64{15, 10, 5}})
	three["zones"] = map[string]any{"zones": 3, "least_m2": 20, "rounds": -1}
	second := f.keep(t, "", three)
	require.Equal(t, 3, second.Zones)

	f.send(t, http.MethodGet, zonesP1+"?season=2027", nil, 200, &list)
	require.Len(t, list.Versions, 2)
	assert.Equal(t, second.ID, list.Versions[0].ID, "the newest first")
	assert.Equal(t, "first trial", list.Versions[1].Note)
	assert.InDelta(t, first.View.Rates.Total, list.Versions[1].Total, 1e-9)

	var cmp struct {
		Now, With keptHeadJSON
		Vines     int
		Changed   int
		Table     [][]int
		Rates     *struct{ Total float64 }
	}
	f.send(t, http.MethodGet, fmt.Sprintf("%s/compare?season=2027&now=%s&with=%s", zonesP1, second.ID, first.ID), nil, 200, &cmp)
	assert.Equal(t, second.ID, cmp.Now.ID)
	assert.Equal(t, 600, cmp.Vines)
	for k, row := range cmp.Table {
		in := 0
		for _, n := range row {
			in += n
		}
		assert.Equal(t, second.View.Zones[k].Vines, in)
	}
	assert.InDelta(t, second.View.Rates.Total-first.View.Rates.Total, cmp.Rates.Total, 1e-9)
	assert.Equal(t, 404, f.ask(http.MethodGet, fmt.Sprintf("%s/compare?season=2027&now=%s&with=nobody", zonesP1, second.ID), nil).status)

	// What is measured later changes nothing that was kept.
	f.post(f.event(b, "condition", map[string]any{"condition": "dead"}, b.vines[3].ID))
	var again keptJSON
	f.send(t, http.MethodGet, zonesP1+"/kept/"+first.ID+"?season=2027", nil, 200, &again)
	was, err := json.Marshal(first)
	require.NoError(t, err)
	now, err := json.Marshal(again)
	require.NoError(t, err)
	assert.JSONEq(t, string(was), string(now))

	for name, c := range map[string]struct {
		body        map[string]any
		status      int
		field, says string
	}{
		"nobody":    {map[string]any{"season": 2027, "by": " ", "order": compost(nil)}, 422, "by", "say who"},
		"long note": {map[string]any{"season": 2027, "by": "Ada", "note": strings.Repeat("x", 3000), "order": compost(nil)}, 422, "note", "at most 2000"},
		"no aim":    {map[string]any{"season": 2027, "by": "Ada", "order": compost(map[string]any{"aim": ""})}, 422, "rates.aim", "choose"},
		"unit":      {map[string]any{"season": 2027, "by": "Ada", "order": compost(map[string]any{"unit": "l/ha"})}, 422, "rates.unit", "same kind"},
		"budget":    {map[string]any{"season": 2027, "by": "Ada", "order": compost(map[string]any{"budget": 1, "floor": 2})}, 422, "rates.budget", "budget of 1 kg"},
		"season":    {map[string]any{"season": 1900, "by": "Ada", "order": compost(nil)}, 404, "season", "1900"},
	} {
		a := f.ask(http.MethodPost, zonesP1+"/kept", c.body)
		assert.Equal(t, c.status, a.status, name)
		var p problem
		require.NoError(t, json.Unmarshal(a.body, &p), name)
		assert.Equal(t, c.field, p.Field, name)
		assert.Contains(t, p.Detail, c.says, name)
	}
}

// Files of a kept version are those of its order at the time.
func TestZones_KeptFiles(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	kept := f.keep(t, "", compost(nil))
	for _, form := range []string{"geojson", "shapefile", "iso-zones", "iso-grid-1", "iso-grid-2", "rows"} {
		fresh := f.ask(http.MethodPost, zonesP1+"/"+form+"?season=2027", compost(nil))
		require.Equal(t, 200, fresh.status, "%s: %s", form, fresh.body)
		old := f.ask(http.MethodGet, zonesP1+"/kept/"+kept.ID+"/"+form+"?season=2027", nil)
		require.Equal(t, 200, old.status, "%s: %s", form, old.body)
		assert.True(t, bytes.Equal(fresh.body, old.body), form)
		if len(fresh.body) > 1 && fresh.body[0] == 'P' {
			assert.Contains(t, textIn(t, fresh.body, "CAUTIONS.txt"), "licensed adviser", form)
		} else {
			assert.Contains(t, string(fresh.body), "licensed adviser", form)
		}
	}
	assert.Equal(t, 404, f.ask(http.MethodGet, zonesP1+"/kept/"+kept.ID+"/tape?season=2027", nil).status)

	// The rows turn out to stand farther apart: the ground is another one.
	require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) error {
		wider := b.Block
		wider.RowSpacingM *= 1.1
		return tx.SaveBlocks([]store.Block{wider})
	}))
	f.server.stands.Touched()
	var list zonesListJSON
	f.send(t, http.MethodGet, zonesP1+"?season=2027", nil, 200, &list)
	a := f.ask(http.MethodGet, zonesP1+"/kept/"+kept.ID+"/geojson?season=2027", nil)
	assert.Equal(t, http.StatusConflict, a.status, "%s", a.body)
	assert.Contains(t, string(a.body), "drawn anew")
}

func textIn(t *testing.T, zipped []byte, name string) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	require.NoError(t, err)
	for _, e := range z.File {
		if e.Name == name {
			r, err := e.Open()
			require.NoError(t, err)
			text, err := io.ReadAll(r)
			require.NoError(t, err)
			return string(text)
		}
	}
	return ""
}

// readings lays a point on every vine and gives it the rate of its zone times a
// factor, and another number beside it.
func readings(kept keptJSON, b testBlock, factor float64) (points []orb.Point, rates, flows []float64) {
	for i, v := range b.vines {
		at := v.Point
		for k, f := range kept.View.Ground.Features {
			if contains(f.Geometry, at) {
				points = append(points, at)
				rates = append(rates, factor*kept.View.Rates.Zones[k].Rate)
				flows = append(flows, float64(i))
			}
		}
	}
	return points, rates, flows
}

func contains(g orb.Geometry, at orb.Point) bool {
	inside := false
	for _, p := range g.(orb.MultiPolygon) {
		for _, r := range p {
			for i := range len(r) - 1 {
				a, b := r[i], r[i+1]
				if (a[1] > at[1]) != (b[1] > at[1]) && at[0] < a[0]+(at[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
					inside = !inside
				}
			}
		}
	}
	return inside
}

// A log that gives 95 % of the plan is 5 % short in every zone, whatever the file
// and the unit.
func TestZones_Applied(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	kept := f.keep(t, "", compost(nil))
	points, rates, flows := readings(kept, b, 0.95)
	require.Greater(t, len(points), 500)
	fc := geojson.NewFeatureCollection()
	layer := &shp.Layer{Name: "log", Kind: shp.Points, Columns: []shp.Column{{Name: "FLOW", Numbers: flows}, {Name: "APPLIED", Decimals: 3}}}
	for i, p := range points {
		one := geojson.NewFeature(p)
		one.Properties = geojson.Properties{"flow": flows[i], "applied": rates[i], "who": "Ben"}
		fc.Append(one)
		layer.Shapes = append(layer.Shapes, p)
		layer.Columns[1].Numbers = append(layer.Columns[1].Numbers, 1000*rates[i])
	}
	fc.Append(geojson.NewFeature(orb.LineString{points[0], points[1]}))
	text, err := fc.MarshalJSON()
	require.NoError(t, err)
	var zipped bytes.Buffer
	_, err = shp.WriteZip(&zipped, layer, time.Date(2027, 4, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)

	type compared struct {
		Points int
		Fields []numberJSON
		Work   *rate.Work
	}
	to := func(body []byte, query string) answer {
		return f.ask(http.MethodPost, zonesP1+"/kept/"+kept.ID+"/applied?season=2027"+query, string(body))
	}
	var a compared
	to(text, "").into(t, &a)
	assert.Nil(t, a.Work)
	assert.Equal(t, len(points), a.Points)
	require.Len(t, a.Fields, 2, "the text is no number")

	for name, c := range map[string]struct {
		body  []byte
		query string
	}{"GeoJSON": {text, "&value=applied"}, "shapefile, kg": {zipped.Bytes(), "&value=APPLIED&unit=" + url.QueryEscape("kg/ha")}} {
		to(c.body, c.query).into(t, &a)
		require.NotNil(t, a.Work, name)
		for k, z := range a.Work.Zones {
			assert.Equal(t, kept.View.Rates.Zones[k].Rate, z.Planned)
			assert.InDelta(t, -5, z.Percent, 1e-3, name)
			assert.InDelta(t, 1, z.Within, 0, name)
			assert.Less(t, math.Abs(float64(z.Points)-float64(kept.View.Zones[k].Vines)), 40.0, name)
		}
	}
	to(text, "&value=applied").into(t, &a)
	assert.Contains(t, a.Work.Notes, "Left out of the file because they are not points: 1.")
	for query, says := range map[string]string{"&value=rate": "they have applied, flow", "&value=applied&unit=" + url.QueryEscape("l/ha"): "one measures"} {
		got := to(text, query)
		assert.Equal(t, 422, got.status)
		assert.Contains(t, string(got.body), says)
	}
	for _, bad := range []string{"", "hello", `{"type": "FeatureCollection", "features": []}`, "PK\x03\x04"} {
		got := to([]byte(bad), "&value=applied")
		assert.Equal(t, 422, got.status, "%q: %s", bad, got.body)
	}
}

// taskLog writes task data with a log of points, as a terminal does (ISO 11783-10,
// annex D): actual mass per area in mg/m².
func taskLog(t *testing.T, points []orb.Point, kgPerHa []float64) []byte {
	t.Helper()
	var bin bytes.Buffer
	for i, p := range points {
		for _, v := range []any{uint32(1000 * i), uint16(17257), int32(math.Round(p[1] * 1e7)), int32(math.Round(p[0] * 1e7)), uint8(4), uint8(1), uint8(0), int32(math.Round(100 * kgPerHa[i]))} {
			require.NoError(t, binary.Write(&bin, binary.LittleEndian, v))
		}
	}
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for name, text := range map[string]string{
		"TASKDATA/TASKDATA.XML": `<ISO11783_TaskData VersionMajor="4" VersionMinor="2"><DVC A="DVC-1"><DET A="DET-2" D="Boom"/></DVC><TSK A="TSK1" B="Compost" G="4"><TLG A="TLG00001" C="1"/></TSK></ISO11783_TaskData>`,
		"TASKDATA/TLG00001.xml": `<TIM A="" D="4"><PTN A="" B="" D=""/><DLV A="0007" B="" C="DET-2"/><DLV A="0001" B="" C="DET-2"/></TIM>`,
		"TASKDATA/TLG00001.bin": bin.String(),
	} {
		w, err := z.Create(name)
		require.NoError(t, err)
		_, err = io.WriteString(w, text)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return out.Bytes()
}

// The log of task data tells its unit itself; 105 % of the plan is 5 % too much in
// every zone.
func TestZones_AppliedTaskData(t *testing.T) {
	f, b := patchyEstate(t)
	f.ready("P1")
	kept := f.keep(t, "", compost(nil))
	points, rates, _ := readings(kept, b, 1.05)
	for i := range rates {
		rates[i] *= 1000 // t/ha
	}
	log := taskLog(t, points, rates)
	to := func(body []byte, query string) answer {
		return f.ask(http.MethodPost, zonesP1+"/kept/"+kept.ID+"/applied?season=2027"+query, string(body))
	}
	var a struct {
		Points int
		Fields []numberJSON
		Work   *rate.Work
	}
	to(log, "").into(t, &a)
	require.Equal(t, len(points), a.Points)
	require.Len(t, a.Fields, 1, "of the other value no record says anything")
	assert.Equal(t, [2]string{"actual mass per area, Boom, kg/ha", "kg/ha"}, [2]string{a.Fields[0].Name, a.Fields[0].Unit})
	to(log, "&value="+url.QueryEscape(a.Fields[0].Name)).into(t, &a)
	require.NotNil(t, a.Work)
	for _, z := range a.Work.Zones {
		assert.InDelta(t, 5, z.Percent, 1e-3)
	}
	assert.Equal(t, 422, to(log[:len(log)/2], "").status)
	empty := taskLog(t, nil, nil)
	got := to(empty, "")
	assert.Equal(t, 422, got.status)
	assert.Contains(t, string(got.body), "no points")
}

// The own list is kept as a whole; what no rate can be worked out for is refused.
func TestMaterials_Own(t *testing.T) {
	f := newFixture(t)
	put := func(own ...map[string]any) answer {
		return f.ask(http.MethodPut, "/api/materials", map[string]any{"by": "Ada", "own": own})
	}
	mix := map[string]any{"name": "Hill mix", "kind": "cover-crop seed", "unit": "kg/ha", "most": 60, "weak": -1}
	require.Equal(t, 200, put(mix).status)
	var list struct {
		Own   []struct{ Name string } `json:"own"`
		Units []string
	}
	f.send(t, http.MethodGet, "/api/materials", nil, 200, &list)
	require.Len(t, list.Own, 1)
	assert.Equal(t, "Hill mix", list.Own[0].Name)
	assert.Contains(t, list.Units, "l/vine")
	for says, own := range map[string][]map[string]any{
		"two materials": {mix, {"name": "HILL mix", "kind": "other", "unit": "kg/ha"}},
		"wants a name":  {{"name": "", "kind": "other", "unit": "kg/ha"}},
		"unit of rates": {{"name": "Ash", "kind": "other", "unit": "bucket"}},
		"wanted one of": {{"name": "Ash", "kind": "ash", "unit": "kg/ha"}},
	} {
		a := put(own...)
		assert.Equal(t, 422, a.status, says)
		assert.Contains(t, string(a.body), says)
	}
}
