package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"slices"
)

// sendOpenAPI30 sends a description of version 3.1 as one of version 3.0.
func (s *Server) sendOpenAPI30(w http.ResponseWriter, r *http.Request, doc map[string]any) error {
	raw, err := json.Marshal(doc)
	if err != nil {
		return fmt.Errorf("encode the description: %w", err)
	}
	var plain map[string]any
	if err := json.Unmarshal(raw, &plain); err != nil {
		return fmt.Errorf("read the description: %w", err)
	}
	if info, ok := plain["info"].(map[string]any); ok {
		delete(info, "summary") // new in 3.1
	}
	down, ok := asOpenAPI30(plain).(map[string]any)
	if !ok {
		return fmt.Errorf("the description is no object")
	}
	down["openapi"] = "3.0.3"
	body, err := appendJSON(nil, down)
	if err != nil {
		return err
	}
	a := reply{contentType: openAPI30Type, tag: contentTag(body), plain: body}
	if a.zipped, err = s.zipper.zip(body); err != nil {
		return err
	}
	return a.send(w, r)
}

// asOpenAPI30 writes what is new in OpenAPI 3.1 (JSON Schema 2020-12) as 3.0 says
// it: a type that may be null, a constant, a reference with words beside it.
func asOpenAPI30(v any) any {
	switch v := v.(type) {
	case []any:
		for i := range v {
			v[i] = asOpenAPI30(v[i])
		}
	case map[string]any:
		if ref, ok := v["$ref"].(string); ok {
			return map[string]any{"$ref": ref}
		}
		if list, ok := v["type"].([]any); ok {
			kinds := slices.DeleteFunc(slices.Clone(list), func(k any) bool { return k == "null" })
			if len(kinds) < len(list) {
				v["nullable"] = true
			}
			delete(v, "type")
			if len(kinds) == 1 {
				v["type"] = kinds[0]
			} else if len(kinds) > 1 {
				of := []any{}
				for _, k := range kinds {
					of = append(of, map[string]any{"type": k})
				}
				v["oneOf"] = of
			}
		}
		if c, ok := v["const"]; ok {
			v["enum"] = []any{c}
			delete(v, "const")
		}
		for key, one := range v {
			v[key] = asOpenAPI30(one)
		}
	}
	return v
}
