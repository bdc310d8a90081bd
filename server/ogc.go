package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// OGC API - Features - Part 1: Core, version 1.0.1 (OGC 17-069r4): the vineyard
// for every client that speaks it. Which requirement is tested where stands in
// ogc_test.go.

// The description of the API is there in both versions of OpenAPI.
const (
	openAPIType   = "application/vnd.oai.openapi+json;version=3.1"
	openAPI30Type = "application/vnd.oai.openapi+json;version=3.0"
)

// ogcConformance names the classes that are implemented whole. HTML is not among
// them: only the landing page has it.
func ogcConformance() []string {
	const base = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/"
	return append([]string{base + "core", base + "geojson", base + "oas30"}, tilesConformance()...)
}

type landingPage struct {
	Title       string    `json:"title"`
	Description string    `json:"description"`
	Links       []ogcLink `json:"links"`
}

// getOGC answers /ogc, the landing page: JSON, or HTML for who would rather
// read.
func (s *Server) getOGC(w http.ResponseWriter, r *http.Request) error {
	values, err := ogcParams(r, "f")
	if err != nil {
		return err
	}
	html := prefersHTML(r)
	if values.Has("f") {
		f := values.Get("f")
		if f != "json" && f != "html" {
			return refuse(http.StatusBadRequest, "f", "f=%s: wanted is json or html", f)
		}
		html = f == "html"
	}
	e, err := s.stands.Estate(r.Context())
	if err != nil {
		return err
	}
	base := s.ogcURL(r)
	asJSON := ogcLink{Href: base + "?f=json", Rel: "alternate", Type: "application/json", Title: "This page as JSON"}
	asHTML := ogcLink{Href: base + "?f=html", Rel: "alternate", Type: "text/html", Title: "This page to read"}
	if html {
		asHTML.Rel = "self"
	} else {
		asJSON.Rel = "self"
	}
	page := landingPage{Title: e.Name, Description: "Blocks, rows, vines, patches and zones of the estate, season by season.", Links: []ogcLink{asJSON, asHTML,
		{Href: base + "/api", Rel: "service-desc", Type: openAPIType, Title: "Description of the API"},
		{Href: base + "/api?f=oas30", Rel: "service-desc", Type: openAPI30Type, Title: "The same in OpenAPI 3.0"},
		{Href: base + "/conformance", Rel: "conformance", Type: "application/json", Title: "Conformance classes"},
		{Href: base + "/collections", Rel: "data", Type: "application/json", Title: "Collections"}}}
	page.Links = append(page.Links, s.tileLinks(r)...)
	if page.Title == "" {
		page.Title = "Estate"
	}
	w.Header().Add("Vary", "Accept")
	if html {
		return s.sendLandingHTML(w, r, page)
	}
	return s.sendJSON(w, r, page)
}

// landingHTML is the landing page for people.
var landingHTML = template.Must(template.New("ogc").Parse(`<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>{{.Title}}</title>
<h1>{{.Title}}</h1>
<p>{{.Description}}</p>
<ul>
{{range .Links}}<li><a href="{{.Href}}" rel="{{.Rel}}" type="{{.Type}}">{{.Title}}</a>
{{end}}</ul>
</html>
`))

func (s *Server) sendLandingHTML(w http.ResponseWriter, r *http.Request, page landingPage) error {
	var body bytes.Buffer
	if err := landingHTML.Execute(&body, page); err != nil {
		return fmt.Errorf("write the landing page: %w", err)
	}
	return reply{contentType: "text/html; charset=utf-8", tag: contentTag(body.Bytes()), plain: body.Bytes()}.send(w, r)
}

// prefersHTML tells whether the client would rather have HTML than JSON (RFC
// 9110, 12.5.1). Who takes anything gets JSON.
func prefersHTML(r *http.Request) bool {
	html, js := 0.0, 0.0
	for _, line := range r.Header.Values("Accept") {
		for part := range strings.SplitSeq(line, ",") {
			name, params, _ := strings.Cut(part, ";")
			q := 1.0
			for p := range strings.SplitSeq(params, ";") {
				if text, ok := strings.CutPrefix(strings.TrimSpace(p), "q="); ok {
					q, _ = strconv.ParseFloat(text, 64) // what is no number counts as 0
				}
			}
			switch strings.ToLower(strings.TrimSpace(name)) {
			case "text/html", "application/xhtml+xml":
				html = max(html, q)
			case "application/json", "application/*":
				js = max(js, q)
			}
		}
	}
	return html > js
}

// getOGCConformance answers /ogc/conformance.
func (s *Server) getOGCConformance(w http.ResponseWriter, r *http.Request) error {
	if _, err := ogcParams(r); err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"conformsTo": ogcConformance()})
}

type collectionJSON struct {
	ID          string     `json:"id"`
	Title       string     `json:"title"`
	Description string     `json:"description"`
	Links       []ogcLink  `json:"links"`
	Extent      extentJSON `json:"extent"`
	ItemType    string     `json:"itemType"`
	CRS         []string   `json:"crs"`
}

type extentJSON struct {
	Spatial  *spatialJSON `json:"spatial,omitempty"` // left out where nothing is drawn
	Temporal temporalJSON `json:"temporal"`
}

type spatialJSON struct {
	BBox [][4]float64 `json:"bbox"`
	CRS  string       `json:"crs"`
}

type temporalJSON struct {
	Interval [][2]string `json:"interval"`
	TRS      string      `json:"trs"`
}

// getOGCCollections answers /ogc/collections.
func (s *Server) getOGCCollections(w http.ResponseWriter, r *http.Request) error {
	if _, err := ogcParams(r); err != nil {
		return err
	}
	extent, err := s.ogcExtent(r)
	if err != nil {
		return err
	}
	all := []collectionJSON{}
	for _, c := range ogcCollections() {
		all = append(all, s.describeCollection(r, &c, extent))
	}
	return s.sendJSON(w, r, map[string]any{"collections": all,
		"links": []ogcLink{{Href: s.ogcURL(r) + "/collections", Rel: "self", Type: "application/json", Title: "Collections"}}})
}

// getOGCCollection answers /ogc/collections/{collection}.
func (s *Server) getOGCCollection(w http.ResponseWriter, r *http.Request) error {
	c, err := ogcCollectionOf(r)
	if err != nil {
		return err
	}
	if _, err := ogcParams(r); err != nil {
		return err
	}
	extent, err := s.ogcExtent(r)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, s.describeCollection(r, c, extent))
}

func (s *Server) describeCollection(r *http.Request, c *ogcCollection, extent extentJSON) collectionJSON {
	base := s.collectionURL(r, c)
	return collectionJSON{ID: c.id, Title: c.title, Description: c.what, Extent: extent, ItemType: "feature", CRS: []string{crs84}, Links: []ogcLink{
		{Href: base, Rel: "self", Type: "application/json", Title: c.title},
		{Href: base + "/items", Rel: "items", Type: geoJSONType, Title: c.title + " as GeoJSON"},
		// The name of a relation may be in any letters (RFC 8288, 2.1.1); some clients
		// know it only so.
		{Href: base + "/schema", Rel: "describedBy", Type: "application/schema+json", Title: "The properties"},
	}}
}

// ogcExtent is where and of when all features are. Rounding goes outwards.
func (s *Server) ogcExtent(r *http.Request) (extentJSON, error) {
	var out extentJSON
	b, err := s.estateBounds(r.Context())
	if err != nil {
		return out, err
	}
	if !b.IsEmpty() {
		b = b.Pad(ogcMargin)
		b.Min, b.Max = orb.Point{max(-180, b.Min[0]), max(-90, b.Min[1])}, orb.Point{min(180, b.Max[0]), min(90, b.Max[1])}
		out.Spatial = &spatialJSON{BBox: [][4]float64{*boundsJSON(b)}, CRS: crs84}
	}
	span, err := s.seasons(r.Context())
	if err != nil {
		return out, err
	}
	cal, err := s.calendar(r.Context())
	if err != nil {
		return out, err
	}
	last := span.list[len(span.list)-1] + 1
	out.Temporal = temporalJSON{TRS: "http://www.opengis.net/def/uom/ISO-8601/0/Gregorian",
		Interval: [][2]string{{seasonTime(cal, span.list[0]).from.UTC().Format(time.RFC3339), seasonTime(cal, last).to.UTC().Format(time.RFC3339)}}}
	return out, nil
}

// getOGCSchema answers /ogc/collections/{collection}/schema: what a feature looks
// like, as a JSON Schema.
func (s *Server) getOGCSchema(w http.ResponseWriter, r *http.Request) error {
	c, err := ogcCollectionOf(r)
	if err != nil {
		return err
	}
	if _, err := ogcParams(r); err != nil {
		return err
	}
	props, err := c.schemaOfFields()
	if err != nil {
		return err
	}
	id := "integer"
	if c.textID {
		id = "string"
	}
	body, err := appendJSON(nil, map[string]any{"$id": s.collectionURL(r, c) + "/schema",
		"title": c.title, "description": c.what, "type": "object", "required": []string{"type", "id", "geometry", "properties"}, "properties": map[string]any{
			"type":       map[string]any{"type": "string", "enum": []string{"Feature"}},
			"id":         map[string]any{"type": id},
			"geometry":   map[string]any{"oneOf": []any{map[string]any{"$ref": "https://geojson.org/schema/" + c.geometry + ".json"}, map[string]any{"type": "null"}}},
			"properties": map[string]any{"type": "object", "properties": props},
		}})
	if err != nil {
		return err
	}
	return reply{contentType: "application/schema+json", tag: contentTag(body), plain: body}.send(w, r)
}

// schemaOfFields describes the properties, in their order. A value that is not
// known is null; that is said as OpenAPI 3.0 says it, since clients read a single
// type only.
func (c *ogcCollection) schemaOfFields() (json.RawMessage, error) {
	type property struct {
		Title    string   `json:"title"`
		Type     string   `json:"type"`
		Nullable bool     `json:"nullable"`
		Enum     []string `json:"enum,omitempty"`
	}
	out := []byte{'{'}
	for k, key := range c.keys() {
		f := c.fields[k]
		var err error
		if out, err = appendJSON(append(out, key...), property{f.what, f.kind.schemaType(), true, f.words}); err != nil {
			return nil, err
		}
	}
	return append(out, '}'), nil
}

func appendJSON(dst []byte, v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false) // links have &
	if err := e.Encode(v); err != nil {
		return nil, fmt.Errorf("encode answer: %w", err)
	}
	return append(dst, bytes.TrimRight(b.Bytes(), "\n")...), nil
}
