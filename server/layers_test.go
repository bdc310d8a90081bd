package server

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"courson/geo/tile"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
	"courson/store/peers"
)

type layersSeen struct {
	Season int
	Layers []struct {
		Layer   string
		Columns []struct{ Name, Kind, Unit, Title string }
		Files   []struct{ Name, Href string }
		Styles  []struct{ Name, Href string }
	}
	Formats []work.FormInfo
}

// TestLayers_EveryFile: each file and style that the list names is there, with the
// type that the list says, and has a name that says layer and season.
func TestLayers_EveryFile(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	f := newFixture(t, func(c *Config) { c.FindAfter = 20 * time.Millisecond })
	f.post(f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []int{420, 515}}, f.home.vines[0].ID, f.home.vines[1].ID))
	require.NoError(t, f.store.Update(t.Context(), func(tx store.Tx) error {
		_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2027, Block: f.home.ID, Made: testNow, By: "Ada"}, []store.PlanEntry{{Vine: f.home.vines[0].ID, Nodes: 12, Canes: 1, Spurs: 2, Reason: "space"}})
		return err
	}))
	f.settled("vigour", 2027)
	var list layersSeen
	f.get("/api/layers?season=2027&block=H3").into(t, &list)
	assert.Equal(t, 2027, list.Season)
	require.Len(t, list.Layers, len(work.LayerKinds()))
	media := map[string]work.FormInfo{}
	for _, form := range list.Formats {
		media[string(form.Form)] = form
		assert.NotEmpty(t, form.Limits, "%s: what it cannot hold", form.Form)
	}
	for _, l := range list.Layers {
		for _, c := range l.Columns {
			assert.NotEmpty(t, c.Title, "%s %s", l.Layer, c.Name)
			if c.Unit == "g" || c.Unit == "mm" || c.Unit == "kg/m" {
				assert.True(t, strings.HasSuffix(c.Name, strings.ReplaceAll(c.Unit, "/", "_per_")), "%s has its unit in its name: %s", c.Name, c.Unit)
			}
		}
		require.Len(t, l.Files, 6)
		for _, file := range l.Files {
			a := f.get(file.Href)
			require.Equal(t, http.StatusOK, a.status, "%s: %s", file.Href, a.body)
			info := media[file.Name]
			assert.Equal(t, info.Media, a.header.Get("Content-Type"))
			name := "H3_" + strings.ReplaceAll(l.Layer, "-", "_") + "_2027" + info.Suffix
			assert.Equal(t, fmt.Sprintf("attachment; filename=%q", name), a.header.Get("Content-Disposition"))
			assert.Equal(t, fmt.Sprint(len(a.body)), a.header.Get("Content-Length"))
		}
		for _, style := range l.Styles {
			a := f.get(style.Href)
			require.Equal(t, http.StatusOK, a.status, "%s: %s", style.Href, a.body)
			assert.Equal(t, "application/vnd.ogc.sld+xml;version=1.1", a.header.Get("Content-Type"))
			assert.Contains(t, string(a.body), "<se:Name>"+strings.ReplaceAll(l.Layer, "-", "_")+"_2027</se:Name>")
		}
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, left, "nothing lies about afterwards")
}

// settled waits until a layer that needs findings is there.
func (f *fixture) settled(layer string, season int) {
	f.t.Helper()
	path := fmt.Sprintf("/api/layers/%s/csv?season=%d", layer, season)
	var last answer
	require.Eventually(f.t, func() bool { last = f.get(path); return last.status != http.StatusServiceUnavailable }, 20*time.Second, 20*time.Millisecond)
	require.Equal(f.t, http.StatusOK, last.status, "%s", last.body)
}

func TestLayers_WhatTheyHold(t *testing.T) {
	f := newFixture(t)
	v := f.home.vines[2].ID
	f.post(f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "pruning_weight", "unit": "g", "values": []int{420}}, v))
	table := func(a answer) [][]string {
		book, err := excelize.OpenReader(bytes.NewReader(a.body))
		require.NoError(t, err)
		defer book.Close()
		rows, err := book.GetRows(book.GetSheetName(0), excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		return rows
	}
	all := table(f.get("/api/layers/vines/xlsx?season=2027"))
	one := table(f.get("/api/layers/vines/xlsx?season=2027&block=h3"))
	assert.Len(t, all, 1+len(f.home.vines)+len(f.far.vines))
	require.Len(t, one, 1+len(f.home.vines))
	at := -1
	for k, name := range one[0] {
		if name == "pruning_weight_g" {
			at = k
		}
	}
	require.Positive(t, at)
	assert.Equal(t, "420", one[3][at])

	a := f.get("/api/layers/vines/shp?season=2027")
	z, err := zip.NewReader(bytes.NewReader(a.body), int64(len(a.body)))
	require.NoError(t, err)
	var names []string
	for _, part := range z.File {
		names = append(names, part.Name)
	}
	for _, want := range []string{"vines_2027.shp", "vines_2027.dbf", "vines_2027.prj", "vines_2027_fields.csv", "vines_2027.sld", "vines_2027_progress.sld", "README.txt"} {
		assert.Contains(t, names, want)
	}
}

func TestLayers_Refused(t *testing.T) {
	f := newFixture(t)
	for path, status := range map[string]int{
		"/api/layers?season=1999":                                    http.StatusNotFound,
		"/api/layers?block=Q9":                                       http.StatusNotFound,
		"/api/layers/trees/csv":                                      http.StatusNotFound,
		"/api/layers/vines/dxf":                                      http.StatusNotFound,
		"/api/layers/vines/csv?season=1999":                          http.StatusNotFound,
		"/api/layers/vines/csv?block=Q9":                             http.StatusNotFound,
		"/api/layers/replants/style.sld":                             http.StatusNotFound,
		"/api/layers/vines/style.sld?theme=weather":                  http.StatusNotFound,
		"/api/layers/vines/style.sld?theme=condition&fields=longest": http.StatusBadRequest,
		"/api/layers/vines/style.sld?theme=condition&fields=short":   http.StatusOK,
		"/api/layers/vigour/style.sld?season=2027&theme=doubt":       http.StatusOK,
		"/api/layers/vigour/style.sld?season=2027&theme=follow-ups":  http.StatusOK,
	} {
		a := f.get(path)
		assert.Equal(t, status, a.status, "%s: %s", path, a.body)
		if status >= 400 {
			a.problem(t)
		}
	}
}

// TestLayerStyle_ColoursOfThePage: the style has the colours of /api/legends.
func TestLayerStyle_ColoursOfThePage(t *testing.T) {
	f := newFixture(t)
	var legends map[string]tile.Legend
	f.get("/api/legends").into(t, &legends)
	for _, theme := range work.StyleThemes(work.VigourLayer) {
		style := string(f.get("/api/layers/vigour/style.sld?season=2027&theme=" + theme).body)
		for _, c := range legends[theme].Classes {
			assert.Contains(t, style, ">"+c.Light+"<", "%s %s", theme, c.Key)
			assert.Contains(t, style, "<se:Name>"+c.Key+"</se:Name>")
		}
	}
}

// TestLayers_Roles: files are for whoever may read the layer's JSON; a crew is not.
func TestLayers_Roles(t *testing.T) {
	g := newGated(t, gpkgPlace(t))
	for name, status := range map[string]int{"Ada": http.StatusOK, "Ben": http.StatusOK, "Cia": http.StatusOK, "Dan": http.StatusForbidden} {
		cookie := g.signIn(name)
		for _, path := range []string{"/api/layers", "/api/layers/blocks/gpkg", "/api/layers/blocks/style.sld", "/ogc/tiles", "/ogc/styles/vigour/map/tiles/WebMercatorQuad"} {
			a := g.get(path, cookie...)
			assert.Equal(t, status, a.status, "%s %s", name, path)
		}
	}
	assert.Equal(t, http.StatusUnauthorized, g.get("/api/layers/blocks/csv").status)
}

// TestLayers_GDALReadsTheDownload: what was downloaded is a whole file.
func TestLayers_GDALReadsTheDownload(t *testing.T) {
	f := newFixture(t)
	path := filepath.Join(t.TempDir(), "vines.gpkg")
	require.NoError(t, os.WriteFile(path, f.get("/api/layers/vines/gpkg?season=2027").body, 0o600))
	out, err := exec.Command(peers.Program(t, "ogr2ogr"), "-f", "GeoJSON", "/vsistdout/", path, "vines_2027").Output()
	require.NoError(t, err)
	var sees gdalSees
	require.NoError(t, json.Unmarshal(out, &sees))
	assert.Len(t, sees.Features, len(f.home.vines)+len(f.far.vines))
}
