package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
)

// ogcOperation is as much of an operation in the description as is looked at
// here; what else stands there is kept.
type ogcOperation map[string]json.RawMessage

// getOGCAPI answers /ogc/api: what the description of the whole API says of the
// addresses under /ogc, told from there, with each collection by its name and with
// its own parameters. Clients find from it what they may filter by.
func (s *Server) getOGCAPI(w http.ResponseWriter, r *http.Request) error {
	q, err := ogcParams(r, "f")
	if err != nil {
		return err
	}
	f := q.Get("f")
	if q.Has("f") && f != "oas30" && f != "oas31" {
		return refuse(http.StatusBadRequest, "f", "f=%s: wanted is oas30 or oas31 (versions of OpenAPI)", f)
	}
	doc, err := ogcDescription(openAPI, s.ogcURL(r))
	if err != nil {
		return err
	}
	if f == "oas30" {
		return s.sendOpenAPI30(w, r, doc)
	}
	body, err := appendJSON(nil, doc)
	if err != nil {
		return err
	}
	a := reply{contentType: openAPIType, tag: contentTag(body), plain: body}
	// Clients made for version 3.0 take it as plain JSON, if at all.
	if accept := strings.Join(r.Header.Values("Accept"), ","); strings.Contains(accept, "application/json") && !strings.Contains(accept, openAPIType) {
		a.contentType = "application/json"
	}
	w.Header().Add("Vary", "Accept")
	if a.zipped, err = s.zipper.zip(body); err != nil {
		return err
	}
	return a.send(w, r)
}

// ogcDescription derives the description of the OGC API from that of the whole.
func ogcDescription(whole []byte, base string) (map[string]any, error) {
	var d struct {
		OpenAPI    string                             `json:"openapi"`
		Info       json.RawMessage                    `json:"info"`
		Paths      map[string]map[string]ogcOperation `json:"paths"`
		Components struct {
			Schemas map[string]json.RawMessage `json:"schemas"`
		} `json:"components"`
	}
	if err := json.Unmarshal(whole, &d); err != nil {
		return nil, fmt.Errorf("read the description: %w", err)
	}
	paths := map[string]any{}
	for path, methods := range d.Paths {
		rest, ours := strings.CutPrefix(path, "/ogc/")
		if !ours {
			continue
		}
		if !strings.Contains(path, "{collection}") {
			paths["/"+rest] = methods
			continue
		}
		for _, c := range ogcCollections() {
			named := map[string]any{}
			for method, op := range methods {
				own, err := op.of(&c)
				if err != nil {
					return nil, fmt.Errorf("describe %s of %s: %w", path, c.id, err)
				}
				named[method] = own
			}
			paths["/"+strings.Replace(rest, "{collection}", c.id, 1)] = named
		}
	}
	schemas := map[string]any{"Problem": d.Components.Schemas["Problem"]}
	for name, schema := range d.Components.Schemas {
		if strings.HasPrefix(name, "OGC") {
			schemas[name] = schema
		}
	}
	return map[string]any{"openapi": d.OpenAPI, "info": d.Info, "servers": []any{map[string]string{"url": base}},
		"paths": paths, "components": map[string]any{"schemas": schemas}}, nil
}

// of is the operation for one collection: with a name of its own, and without
// the parameters that are others'.
func (op ogcOperation) of(c *ogcCollection) (ogcOperation, error) {
	known := map[string]bool{}
	for _, f := range c.filterFields() {
		known[f.name] = true
	}
	for _, name := range ogcPageParams() {
		known[name] = true
	}
	var name string
	var all, own []json.RawMessage
	if err := json.Unmarshal(op["operationId"], &name); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(op["parameters"], &all); err != nil {
		return nil, err
	}
	for _, p := range all {
		var head struct{ Name, In string }
		if err := json.Unmarshal(p, &head); err != nil {
			return nil, err
		}
		if head.In == "query" && known[head.Name] || head.In == "path" && head.Name != "collection" {
			own = append(own, p)
		}
	}
	out := ogcOperation{}
	for key, value := range op {
		out[key] = value
	}
	var err error
	if out["operationId"], err = json.Marshal(name + "-" + c.id); err != nil {
		return nil, err
	}
	out["parameters"], err = json.Marshal(orEmpty(own))
	return out, err
}
