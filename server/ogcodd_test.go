package server

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func TestOGC_Landing(t *testing.T) {
	f := newFixture(t)
	for _, c := range []struct{ path, accept, want string }{
		{"/ogc", "", "application/json"},
		{"/ogc", "*/*", "application/json"},
		{"/ogc", "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", "text/html; charset=utf-8"},
		{"/ogc", "application/json, text/html;q=0.5", "application/json"},
		{"/ogc", "text/html;q=0", "application/json"},
		{"/ogc?f=html", "application/json", "text/html; charset=utf-8"},
		{"/ogc?f=json", "text/html", "application/json"},
	} {
		a := f.get(c.path, "Accept", c.accept)
		assert.Equal(t, http.StatusOK, a.status)
		assert.Equal(t, c.want, a.header.Get("Content-Type"), "%s %s", c.path, c.accept)
		assert.Contains(t, a.header.Values("Vary"), "Accept")
		assert.Contains(t, string(a.body), "Trockenried")
	}
}

// What cannot be known yet is not shown as nothing.
func TestOGC_PatchesNotReady(t *testing.T) {
	f := newFixture(t) // its findings do not come for an hour
	for _, path := range []string{"/ogc/collections/patches/items", "/ogc/collections/patches/items/H3-2027-w1"} {
		a := f.get(path)
		assert.Equal(t, http.StatusServiceUnavailable, a.status)
		assert.NotEmpty(t, a.header.Get("Retry-After"))
	}
	assert.Equal(t, http.StatusNotFound, f.get("/ogc/collections/patches/items/H3").status)
}

// An estimate never looks like a measure, also in the moments after a vine was
// weighed.
func TestOGC_VigourSaysWhereItIsFrom(t *testing.T) {
	f, _ := patchyEstate(t)
	f.ready("P1")
	count := func(basis string) int { return f.items("vines", "limit=1&block=P1&vigour_basis="+basis).NumberMatched }
	assert.Equal(t, 100, count("measured"))
	assert.Equal(t, 500, count("calibrated"))
	for _, one := range f.items("vines", "block=P1&vigour_basis=calibrated").Features {
		assert.Nil(t, one.Properties["pruning_weight_g"])
		assert.NotNil(t, one.Properties["vigour_se_kg_per_m"])
	}
	row := f.items("rows", "block=P1&limit=1").Features[0].Properties
	assert.EqualValues(t, 30, row["vigour_measured"].(float64)+row["vigour_calibrated"].(float64)+row["vigour_estimated"].(float64))
	assert.EqualValues(t, 5, row["vigour_measured"], "one vine in six of 30")
	block := f.items("blocks", "code=P1").Features[0].Properties
	assert.EqualValues(t, 100, block["vigour_measured"])
	assert.EqualValues(t, 500, block["vigour_calibrated"])

	slow := newFixture(t) // whose findings do not come
	v := slow.home.vines
	slow.post(slow.event(slow.home, vine.KindMeasure, map[string]any{"quantity": "visual_score", "unit": "score", "scale": "1-5", "values": []int{4}}, v[0].ID),
		slow.event(slow.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []int{600}}, v[1].ID))
	got := slow.items("vines", "block=H3&limit=3")
	assert.Equal(t, []any{"score", "measured", nil}, got.column("vigour_basis"))
	assert.Equal(t, []any{nil, 0.5, nil}, got.column("vigour_kg_per_m"), "600 g on 1.2 m")
	assert.Equal(t, []any{nil, 600.0, nil}, got.column("pruning_weight_g"))
}

func TestOGC_Filters(t *testing.T) {
	f := newFixture(t)
	v := f.home.vines
	f.post(f.event(f.home, vine.KindCondition, map[string]any{"condition": "weak"}, v[3].ID, v[17].ID), f.done(f.home, v[3].ID, v[4].ID),
		f.event(f.home, vine.KindNote, map[string]any{"text": "x"}, v[9].ID), f.event(f.home, vine.KindPruned, map[string]any{"nodes": 9}, v[20].ID))
	for _, c := range []struct {
		collection, query string
		want              []string // addresses, or labels of rows, or codes
	}{
		{"vines", "condition=weak", []string{"H3/1/4", "H3/2/8"}},
		{"vines", "condition=weak&progress=done", []string{"H3/1/4"}},
		{"vines", "condition=weak&block=L1", nil},
		{"vines", "note=true", []string{"H3/1/10"}},
		{"vines", "nodes_left=9", []string{"H3/3/1"}},
		{"vines", "address=H3/2/8", []string{"H3/2/8"}},
		{"vines", "block=H3&row=2&number=3", []string{"H3/2/3"}},
		{"vines", "block=h3&row=2", nil}, // as written
		{"vines", "leaf=8&row=4&number=10", []string{"L1/4/10"}},
		{"vines", "variety=Riesling&number=1&row=1", []string{"H3/1/1", "L1/1/1"}},
		{"vines", "variety=Silvaner", nil},
		{"rows", "weak=1", []string{"1", "2"}},
		{"rows", "block=L1&row=3", []string{"3"}},
		{"rows", "length_m=12&block=H3", []string{"1", "2", "3", "4"}},
		{"blocks", "code=L1", []string{"L1"}},
		{"blocks", "leaf=8", []string{"L1"}},
		{"blocks", "row_spacing_m=2.5", []string{"H3", "L1"}},
		{"blocks", "row_spacing_m=2.50001", nil},
	} {
		p := f.items(c.collection, c.query)
		var got []string
		for _, value := range p.column(map[string]string{"vines": "address", "rows": "row", "blocks": "code"}[c.collection]) {
			got = append(got, value.(string))
		}
		assert.Equal(t, c.want, got, "%s %s", c.collection, c.query)
		assert.Equal(t, len(c.want), p.NumberMatched)
	}
}

func TestOGC_Tag(t *testing.T) {
	f := newFixture(t)
	path := "/ogc/collections/vines/items?block=H3"
	first := f.get(path)
	tag := first.header.Get("ETag")
	require.True(t, strings.HasPrefix(tag, `W/"`), "weak: the time stamp differs each time")
	assert.Equal(t, "gzip", first.header.Get("Content-Encoding"))
	assert.Empty(t, f.get(path, "Accept-Encoding", "identity").header.Get("Content-Encoding"))
	assert.Equal(t, http.StatusNotModified, f.get(path, "If-None-Match", tag).status)
	f.post(f.done(f.far, f.far.vines[0].ID))
	assert.Equal(t, http.StatusNotModified, f.get(path, "If-None-Match", tag).status, "another block changed")
	f.post(f.done(f.home, f.home.vines[0].ID))
	next := f.get(path, "If-None-Match", tag)
	assert.Equal(t, http.StatusOK, next.status)
	assert.NotEqual(t, tag, next.header.Get("ETag"))
	assert.NotEqual(t, next.header.Get("ETag"), f.get(path+"&season=2028").header.Get("ETag"))
}

func TestOGC_Links(t *testing.T) {
	f := newFixture(t, func(c *Config) { c.PublicURL = "https://vines.example" })
	p := f.items("vines", "limit=3&variety=Riesling&datetime="+url.QueryEscape("2026-12-01/.."))
	next := p.link("next")
	require.True(t, strings.HasPrefix(next, "https://vines.example/ogc/collections/vines/items?"), next)
	u, err := url.Parse(next)
	require.NoError(t, err)
	assert.Equal(t, "2026-12-01/..", u.Query().Get("datetime"), "what was asked stays asked")
	assert.Equal(t, "Riesling", u.Query().Get("variety"))
	assert.Equal(t, "3", u.Query().Get("limit"))
}

// Blocks without an outline and rows without a line have no geometry, or that of
// their vines. What has none matches every box (17-069r4, core/fc-bbox-response
// C). A row that a road cuts is several lines.
func TestOGC_WithoutGeometry(t *testing.T) {
	f := newFixture(t)
	require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) error {
		blocks := []store.Block{{Code: "Z1", Name: "say \"Ü\" <&> \\"}}
		if err := tx.SaveBlocks(blocks); err != nil {
			return err
		}
		rows := []store.Row{{Block: blocks[0].ID, Label: "cut", Ord: 1, Line: orb.MultiLineString{{{8.2, 49.2}, {8.2, 49.201}}, {{8.2, 49.202}, {8.2, 49.203}}}},
			{Block: blocks[0].ID, Label: "bare", Ord: 2}, {Block: blocks[0].ID, Label: "one", Ord: 3}}
		if err := tx.SaveRows(rows); err != nil {
			return err
		}
		return tx.SaveVines([]store.Vine{{Block: blocks[0].ID, Row: rows[1].ID, Number: 1, Point: orb.Point{8.21, 49.2}},
			{Block: blocks[0].ID, Row: rows[1].ID, Number: 2, Point: orb.Point{8.21, 49.2001}}, {Block: blocks[0].ID, Row: rows[2].ID, Number: 1, Point: orb.Point{8.22, 49.2}}})
	}))
	block := f.items("blocks", "code=Z1").Features[0]
	assert.Nil(t, block.Geometry)
	assert.Equal(t, "say \"Ü\" <&> \\", block.Properties["name"])
	for _, name := range []string{"variety", "planted", "leaf", "row_spacing_m", "area_m2"} {
		assert.Contains(t, block.Properties, name)
		assert.Nil(t, block.Properties[name], "%s is not known", name)
	}
	rows := f.items("rows", "block=Z1").Features
	require.Len(t, rows, 3)
	assert.Equal(t, "MultiLineString", rows[0].Geometry["type"])
	assert.Equal(t, []any{[]any{8.21, 49.2}, []any{8.21, 49.2001}}, rows[1].Geometry["coordinates"], "from vine to vine")
	assert.Nil(t, rows[2].Geometry)

	elsewhere := "bbox=-10,0,-9,1"
	assert.Equal(t, []any{"Z1"}, f.items("blocks", elsewhere).column("code"))
	assert.Equal(t, []any{"one"}, f.items("rows", elsewhere).column("row"))
	assert.Empty(t, f.items("vines", elsewhere).Features)
	assert.Equal(t, []any{"cut", "one"}, f.items("rows", "bbox=8.1,49.2025,8.205,49.21&block=Z1").column("row"), "the part behind the road")
	assert.Equal(t, []any{"Z1/one/1"}, f.items("vines", "bbox=8.22,49.2,8.22,49.2").column("address"), "a box of one point")
}

// An estate without blocks has no features and says nothing of where it is.
func TestOGC_NothingThere(t *testing.T) {
	st := gpkgPlace(t).open(t)
	_, web := serve(t, st)
	for _, id := range []string{"blocks", "rows", "vines", "patches", "zones"} {
		var p features
		askAt(t, web.URL, http.MethodGet, "/ogc/collections/"+id+"/items", nil).into(t, &p)
		assert.Zero(t, p.NumberMatched)
		assert.NotNil(t, p.Features)
		var c collectionJSON
		askAt(t, web.URL, http.MethodGet, "/ogc/collections/"+id, nil).into(t, &c)
		assert.Nil(t, c.Extent.Spatial)
	}
}
