package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb/geojson"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// features is a page as a client reads it.
type features struct {
	Type           string
	TimeStamp      time.Time
	NumberMatched  int
	NumberReturned int
	Links          []ogcLink
	Features       []struct {
		Type       string
		ID         any
		Geometry   map[string]any
		Properties map[string]any
		Links      []ogcLink
	}
}

func (f *fixture) items(collection, query string) (out features) {
	f.t.Helper()
	f.get("/ogc/collections/"+collection+"/items?"+query).into(f.t, &out)
	require.Equal(f.t, len(out.Features), out.NumberReturned)
	return out
}

func (p features) link(rel string) (href string) {
	for _, l := range p.Links {
		if strings.EqualFold(l.Rel, rel) {
			href = l.Href
		}
	}
	return href
}

// column gives one property of all features.
func (p features) column(name string) (out []any) {
	for _, one := range p.Features {
		out = append(out, one.Properties[name])
	}
	return out
}

// TestOGC_Requirements goes through the requirements of the classes that
// /ogc/conformance names: Open Geospatial Consortium, OGC API - Features - Part
// 1: Core corrigendum, 17-069r4, by the ids that the standard gives them.
func TestOGC_Requirements(t *testing.T) {
	f, b := patchyEstate(t)
	for _, code := range []string{"H3", "L1", "P1"} {
		f.ready(code)
	}
	f.keep(t, "", compost(nil))
	var d description
	f.get("/api/openapi.json").into(t, &d)
	read := func(t *testing.T, path string) (m map[string]any) {
		a := f.get(path)
		a.into(t, &m)
		return m
	}
	linksOf := func(t *testing.T, m map[string]any) (out []ogcLink) {
		raw, err := json.Marshal(m["links"])
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(raw, &out))
		return out
	}
	refused := func(t *testing.T, paths ...string) {
		for _, path := range paths {
			a := f.get(path)
			assert.Equal(t, http.StatusBadRequest, a.status, "%s: %s", path, a.body)
			a.problem(t)
		}
	}
	collections := []string{"blocks", "rows", "vines", "patches", "zones"}
	eachCollection := func(check func(t *testing.T, id string)) func(*testing.T) {
		return func(t *testing.T) {
			for _, id := range collections {
				t.Run(id, func(t *testing.T) { check(t, id) })
			}
		}
	}
	parameter := func(t *testing.T, name string) {
		for _, p := range d.Paths["/ogc/collections/{collection}/items"]["get"].Parameters {
			if p.Name == name && p.In == "query" && !p.Required {
				return
			}
		}
		t.Errorf("the description has no parameter %s", name)
	}
	one := fmt.Sprintf("/ogc/collections/vines/items/%d", b.vines[0].ID)

	for _, c := range []struct {
		requirement string // of http://www.opengis.net/spec/ogcapi-features-1/1.0/req/
		check       func(t *testing.T)
	}{
		{"core/root-op", func(t *testing.T) { read(t, "/ogc") }},
		{"core/root-success", func(t *testing.T) {
			rels := map[string]string{}
			for _, l := range linksOf(t, read(t, "/ogc")) {
				if rels[l.Rel] == "" {
					rels[l.Rel] = l.Href
				}
			}
			for rel, path := range map[string]string{"service-desc": "/ogc/api", "conformance": "/ogc/conformance", "data": "/ogc/collections"} {
				assert.Equal(t, f.web.URL+path, rels[rel], rel)
			}
		}},
		{"core/api-definition-op", func(t *testing.T) { read(t, "/ogc/api") }},
		{"core/api-definition-success", func(t *testing.T) {
			a := f.get("/ogc/api")
			assert.Equal(t, openAPIType, a.header.Get("Content-Type"))
			assert.Equal(t, "application/json", f.get("/ogc/api", "Accept", "application/vnd.oai.openapi+json;version=3.0, application/json").header.Get("Content-Type"))
			for _, l := range linksOf(t, read(t, "/ogc")) {
				if l.Rel == "service-desc" && l.Href == f.web.URL+"/ogc/api" {
					assert.Equal(t, openAPIType, l.Type)
				}
			}
			var own struct {
				description
				Servers []struct{ URL string }
			}
			require.NoError(t, json.Unmarshal(a.body, &own))
			assert.Equal(t, f.web.URL+"/ogc", own.Servers[0].URL)
			ids := map[string]bool{}
			for path, methods := range own.Paths {
				op := methods["get"]
				assert.False(t, ids[op.OperationID], op.OperationID)
				ids[op.OperationID] = true
				if !strings.Contains(path, "{") {
					assert.Equal(t, http.StatusOK, f.get("/ogc"+path).status, path)
				}
			}
			assert.Len(t, own.Paths, 4+9+5*4)
			for _, c := range ogcCollections() {
				want := ogcPageParams()
				for _, field := range c.filterFields() {
					want = append(want, field.name)
				}
				var got []string
				for _, p := range own.Paths["/collections/"+c.id+"/items"]["get"].Parameters {
					got = append(got, p.Name)
				}
				assert.ElementsMatch(t, want, got, c.id)
			}
		}},
		{"core/conformance-op", func(t *testing.T) { read(t, "/ogc/conformance") }},
		{"core/conformance-success", func(t *testing.T) {
			assert.Subset(t, read(t, "/ogc/conformance")["conformsTo"], []any{"http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core", "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/geojson"})
		}},
		{"core/http", func(t *testing.T) {
			assert.Equal(t, http.StatusOK, f.ask(http.MethodHead, "/ogc/collections/vines/items", nil).status)
			assert.Equal(t, http.StatusMethodNotAllowed, f.ask(http.MethodPost, "/ogc/collections/vines/items", nil).status)
			assert.Equal(t, http.StatusNotFound, f.get("/ogc/collections/trees").status)
			assert.Equal(t, http.StatusNotFound, f.get("/ogc/nothing").status)
		}},
		{"core/query-param-unknown", func(t *testing.T) {
			refused(t, "/ogc?x=1", "/ogc/api?x=1", "/ogc/conformance?x=1", "/ogc/collections?x=1", "/ogc/collections/vines?x=1", "/ogc/collections/vines/schema?x=1",
				"/ogc/collections/vines/items?x=1", "/ogc/collections/vines/items?Limit=1", "/ogc/collections/blocks/items?condition=weak",
				"/ogc/collections/vines/items?crs="+crs84, one+"?x=1", one+"?limit=1")
		}},
		{"core/query-param-invalid", func(t *testing.T) {
			items := "/ogc/collections/vines/items?"
			for _, q := range []string{"limit=", "limit=0", "limit=-1", "limit=1.5", "limit=ten", "limit=1&limit=2",
				"bbox=", "bbox=1,2,3", "bbox=1,2,3,4,5", "bbox=1,2,3,4,5,6,7", "bbox=a,2,3,4", "bbox=NaN,2,3,4", "bbox=8,50,9,49", "bbox=8,49,9,91", "bbox=-181,0,1,1", "bbox=8,49,5,9,50,1", "bbox=8,49,9,Inf",
				"datetime=", "datetime=..", "datetime=2027", "datetime=2027-13-01", "datetime=2027-01-01T00:00:00", "datetime=2027-02-01/2027-01-01", "datetime=2027-01-01/2027-02-01/2027-03-01",
				"season=", "season=x", "season=1999", "season=999999", "after=7", "after=x.7", "after=1.999999", "after=99.1", "before=1.", "after=1.12&before=1.12",
				"condition=happy", "condition=", "leaf=old", "leaf=1.5", "clash=yes", "pruning_weight_g=NaN", "pruning_weight_g=1,5", "block=", "%zz=1", "vigour=1&vigour=2"} {
				refused(t, items+q)
			}
			refused(t, "/ogc?f=xml", one+"?season=1999", one+"?datetime=soon")
		}},
		{"core/crs84", eachCollection(func(t *testing.T, id string) {
			m := read(t, "/ogc/collections/"+id)
			assert.Equal(t, []any{crs84}, m["crs"])
			a := f.get("/ogc/collections/" + id + "/items?limit=1")
			assert.Equal(t, "<"+crs84+">", a.header.Get("Content-Crs"))
			assert.NotContains(t, string(a.body), `"crs"`)
		})},
		{"core/fc-md-op", func(t *testing.T) { read(t, "/ogc/collections") }},
		{"core/fc-md-success", func(t *testing.T) {
			var ids []string
			for _, c := range read(t, "/ogc/collections")["collections"].([]any) {
				ids = append(ids, c.(map[string]any)["id"].(string))
			}
			assert.Equal(t, collections, ids)
		}},
		{"core/fc-md-links", func(t *testing.T) {
			l := linksOf(t, read(t, "/ogc/collections"))
			assert.Equal(t, []ogcLink{{f.web.URL + "/ogc/collections", "self", "application/json", "Collections"}}, l)
		}},
		{"core/fc-md-items-links", eachCollection(func(t *testing.T, id string) {
			n := 0
			for _, l := range linksOf(t, read(t, "/ogc/collections/"+id)) {
				assert.NotEmpty(t, l.Type)
				assert.Equal(t, http.StatusOK, f.get(strings.TrimPrefix(l.Href, f.web.URL)).status, l.Href)
				if l.Rel == "items" {
					n++
					assert.Equal(t, "application/geo+json", l.Type)
				}
			}
			assert.Equal(t, 1, n)
		})},
		{"core/fc-md-extent", eachCollection(func(t *testing.T, id string) {
			var c collectionJSON
			f.get("/ogc/collections/"+id).into(t, &c)
			require.NotNil(t, c.Extent.Spatial)
			box := c.Extent.Spatial.BBox[0]
			bbox := fmt.Sprintf("bbox=%v,%v,%v,%v", box[0], box[1], box[2], box[3])
			assert.Equal(t, f.items(id, "").NumberMatched, f.items(id, bbox).NumberMatched, "all lie within the extent")
			from, err := time.Parse(time.RFC3339, c.Extent.Temporal.Interval[0][0])
			require.NoError(t, err)
			assert.Equal(t, "2025-10-31T23:00:00Z", from.Format(time.RFC3339), "season 2026 began on 1 November 2025 in Berlin")
		})},
		{"core/sfc-md-op", eachCollection(func(t *testing.T, id string) { read(t, "/ogc/collections/"+id) })},
		{"core/sfc-md-success", eachCollection(func(t *testing.T, id string) {
			alone := read(t, "/ogc/collections/"+id)
			assert.Equal(t, alone, read(t, "/ogc/collections")["collections"].([]any)[slices.Index(collections, id)])
		})},
		{"core/fc-op", eachCollection(func(t *testing.T, id string) { assert.Positive(t, f.items(id, "").NumberReturned) })},
		{"core/fc-limit-definition", func(t *testing.T) { parameter(t, "limit") }},
		{"core/fc-limit-response-1", func(t *testing.T) {
			for limit, want := range map[string]int{"1": 1, "7": 7, "679": 679, "680": 680, "10000": 680, "10001": 680, "18446744073709551615": 680} {
				assert.Equal(t, want, f.items("vines", "limit="+limit).NumberReturned, limit)
			}
		}},
		{"core/fc-bbox-definition", func(t *testing.T) { parameter(t, "bbox") }},
		{"core/fc-bbox-response", func(t *testing.T) {
			in := func(id, bbox string) int { return f.items(id, "bbox="+bbox).NumberMatched }
			home := "8.1199,49.2099,8.1210,49.2110"
			assert.Equal(t, 40, in("vines", home))
			assert.Equal(t, 4, in("rows", home))
			assert.Equal(t, 1, in("blocks", home))
			assert.Equal(t, 0, in("patches", home))
			assert.Equal(t, 40, in("vines", "8.1199,49.2099,-50,8.1210,49.2110,9000"), "heights do not count")
			assert.Equal(t, 680, in("vines", "170,-90,169.9,90"), "round the earth, over 180 degrees")
			assert.Equal(t, 0, in("vines", "170,-90,-170,90"))
			assert.Equal(t, 1, in("blocks", "8.12005,49.21004,8.12006,49.21005"), "a box within the block")
			assert.Equal(t, 0, in("vines", "8.12003,49.21002,8.12004,49.21003"), "a box between the vines")
			p := f.items("vines", "limit=1").Features[0].Geometry["coordinates"].([]any)
			assert.Equal(t, 1, in("vines", fmt.Sprintf("%v,%v,%v,%v", p[0], p[1], p[0], p[1])), "a box of one point, where a vine is said to stand")
		}},
		{"core/fc-time-definition", func(t *testing.T) { parameter(t, "datetime") }},
		{"core/fc-time-response", func(t *testing.T) {
			for datetime, season := range map[string]float64{
				"2026-06-01T12:00:00Z": 2026, "2026-10-31T22:59:59Z": 2026, "2026-10-31T23:00:00Z": 2027, "2026-11-01T00:00:00%2B01:00": 2027,
				"2026-06-01": 2026, "2026-06-01/2026-08-01": 2026, "2026-06-01/..": 2027, "2026-06-01/": 2027, "../2026-06-01": 2026, "/2026-06-01": 2026, "../2099-01-01": 2027,
				"2026-01-01/2026-12-31": 2026, "2026-09-01/2027-02-01": 2027, "1990-01-01/2090-01-01": 2027, "2027-12-01": 2028,
			} {
				p := f.items("vines", "limit=1&datetime="+datetime)
				require.NotEmpty(t, p.Features, datetime)
				assert.Equal(t, season, p.Features[0].Properties["season"], datetime)
			}
			for _, datetime := range []string{"2020-01-01", "2030-01-01T00:00:00Z", "2030-01-01/..", "../2020-01-01"} {
				assert.Zero(t, f.items("vines", "datetime="+datetime).NumberMatched, datetime)
			}
			assert.Zero(t, f.items("vines", "season=2026&datetime=2027-01-01").NumberMatched)
			assert.Equal(t, 680, f.items("vines", "season=2026&datetime=2026-01-01").NumberMatched)
		}},
		{"core/fc-response", func(t *testing.T) {
			p := f.items("vines", "block=P1&vigour_basis=measured&bbox=8.15,49.21,8.16,49.22")
			assert.Equal(t, 100, p.NumberMatched, "all that is asked for holds at once")
		}},
		{"core/fc-links", eachCollection(func(t *testing.T, id string) {
			p := f.items(id, "limit=3")
			assert.Equal(t, f.web.URL+"/ogc/collections/"+id+"/items?limit=3", p.link("self"))
			assert.Equal(t, p.NumberMatched > 3, p.link("next") != "")
		})},
		{"core/fc-rel-type", eachCollection(func(t *testing.T, id string) {
			for _, l := range f.items(id, "limit=1").Links {
				assert.NotEmpty(t, l.Rel)
				assert.NotEmpty(t, l.Type)
			}
		})},
		{"core/fc-timeStamp", func(t *testing.T) { assert.Equal(t, testNow, f.items("blocks", "").TimeStamp) }},
		{"core/fc-numberMatched", func(t *testing.T) {
			assert.Equal(t, 680, f.items("vines", "limit=2").NumberMatched)
			assert.Equal(t, 600, f.items("vines", "limit=2&block=P1").NumberMatched)
		}},
		{"core/fc-numberReturned", eachCollection(func(t *testing.T, id string) { f.items(id, "limit=2") })}, // items compares
		{"core/f-op", eachCollection(func(t *testing.T, id string) {
			all := f.items(id, "")
			last := all.Features[len(all.Features)-1]
			var got map[string]any
			a := f.get("/ogc/collections/" + id + "/items/" + fmt.Sprint(last.ID))
			a.into(t, &got)
			assert.Equal(t, "Feature", got["type"])
			assert.Equal(t, last.ID, got["id"])
			assert.Equal(t, last.Properties, got["properties"])
			assert.Equal(t, http.StatusNotFound, f.get("/ogc/collections/"+id+"/items/999999").status)
			assert.Equal(t, http.StatusNotFound, f.get("/ogc/collections/"+id+"/items/nothing%2F1").status)
		})},
		{"core/f-success", func(t *testing.T) {
			a := f.get(one)
			assert.Equal(t, "application/geo+json", a.header.Get("Content-Type"))
			assert.Equal(t, float64(2026), read(t, one+"?season=2026")["properties"].(map[string]any)["season"])
			assert.Equal(t, http.StatusNotFound, f.get(one+"?datetime=1999-01-01").status)
		}},
		{"core/f-links", func(t *testing.T) {
			rels := map[string]ogcLink{}
			for _, l := range linksOf(t, read(t, one+"?season=2026")) {
				rels[l.Rel] = l
			}
			assert.Equal(t, f.web.URL+one+"?season=2026", rels["self"].Href)
			assert.Equal(t, f.web.URL+"/ogc/collections/vines", rels["collection"].Href)
		}},
		{"geojson/definition", eachCollection(func(t *testing.T, id string) {
			assert.Equal(t, "application/geo+json", f.get("/ogc/collections/"+id+"/items").header.Get("Content-Type"))
		})},
		{"geojson/content", eachCollection(func(t *testing.T, id string) {
			fc, err := geojson.UnmarshalFeatureCollection(f.get("/ogc/collections/" + id + "/items").body) // another's reader of RFC 7946
			require.NoError(t, err)
			require.NotEmpty(t, fc.Features)
			for _, one := range fc.Features {
				require.NotNil(t, one.Geometry)
				require.Equal(t, map[string]string{"blocks": "MultiPolygon", "rows": "LineString", "vines": "Point", "patches": "MultiPolygon", "zones": "MultiPolygon"}[id], one.Geometry.GeoJSONType())
			}
		})},
	} {
		t.Run(c.requirement, c.check)
	}
}

// Every parameter that is understood is described, and the other way round.
func TestOGC_DescribesParameters(t *testing.T) {
	f := newFixture(t)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	known := map[string]bool{"collection": true, "limit": true, "bbox": true, "datetime": true, "season": true, "after": true, "before": true}
	for _, c := range ogcCollections() {
		names := map[string]bool{}
		for _, field := range c.filterFields() {
			known[field.name] = true
			assert.False(t, names[field.name], "%s has %s twice", c.id, field.name)
			names[field.name] = true
		}
	}
	described := map[string]bool{}
	for _, p := range d.Paths["/ogc/collections/{collection}/items"]["get"].Parameters {
		described[p.Name] = true
	}
	assert.Equal(t, known, described)
	for path, real := range map[string]string{"/ogc": "/ogc", "/ogc/conformance": "/ogc/conformance", "/ogc/collections": "/ogc/collections",
		"/ogc/collections/{collection}":            "/ogc/collections/rows",
		"/ogc/collections/{collection}/items":      "/ogc/collections/rows/items?limit=2",
		"/ogc/collections/{collection}/items/{id}": fmt.Sprintf("/ogc/collections/rows/items/%d", f.home.rows[0].ID)} {
		for _, media := range d.Paths[path]["get"].Responses["200"].Content {
			if media.Schema.Type != "string" {
				var answer any
				f.get(real).into(t, &answer)
				d.fits(t, media.Schema, answer, path)
			}
		}
	}
}
