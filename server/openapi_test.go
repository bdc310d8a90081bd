package server

import (
	"encoding/json"
	"fmt"
	"net/http"
	"regexp"
	"sort"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

// description is as much of OpenAPI 3.1 as the tests read.
type description struct {
	OpenAPI string
	Paths   map[string]map[string]struct {
		OperationID string `json:"operationId"`
		Parameters  []struct {
			Name, In string
			Required bool
		}
		Responses map[string]struct {
			Content map[string]struct{ Schema *schema }
		}
	}
	Components struct{ Schemas map[string]*schema }
}

// schema is the part of JSON Schema that the description uses.
type schema struct {
	Ref        string `json:"$ref"`
	Type       any
	Properties map[string]*schema
	Required   []string
	Items      *schema
	OneOf      []*schema `json:"oneOf"`
	AllOf      []*schema `json:"allOf"`
	Additional any       `json:"additionalProperties"`
}

func TestOpenAPI_NamesEveryRoute(t *testing.T) {
	f := newFixture(t)
	var d description
	f.get("/api/openapi.json").into(t, &d)
	assert.Regexp(t, `^3\.1\.`, d.OpenAPI)
	var described, routed []string
	ids := map[string]bool{}
	for path, methods := range d.Paths {
		for method, op := range methods {
			described = append(described, strings.ToUpper(method)+" "+path)
			assert.NotEmpty(t, op.OperationID)
			assert.False(t, ids[op.OperationID], "operation %s twice", op.OperationID)
			ids[op.OperationID] = true
			inPath := map[string]bool{}
			for _, p := range op.Parameters {
				inPath[p.Name] = p.In == "path" && p.Required
			}
			for _, m := range regexp.MustCompile(`{(\w+)}`).FindAllStringSubmatch(path, -1) {
				assert.True(t, inPath[m[1]], "%s says nothing of {%s}", path, m[1])
			}
		}
	}
	// The router cannot match what follows a placeholder in the same part of the
	// path, so there the ending is left to the handler.
	endings := map[string]string{"/tiles/{season}": ".json", "/tiles/{season}/{z}/{x}/{y}": ".mvt",
		"/tiles/{theme}/{season}/{z}/{x}/{y}": ".png", "/api/images/{id}/tiles/{z}/{x}/{y}": ".png"}
	for _, r := range f.server.routes() {
		routed = append(routed, r.method+" "+strings.Replace(r.pattern, "*", "{path}", 1)+endings[r.pattern])
	}
	sort.Strings(described)
	sort.Strings(routed)
	assert.Equal(t, routed, described)
}

// TestOpenAPI_AnswersFit compares real answers with their schemas: every field
// is described, and every required one is there.
func TestOpenAPI_AnswersFit(t *testing.T) {
	f := newFixture(t)
	v := f.home.vines[4].ID
	note := f.event(f.home, vine.KindNote, map[string]any{"text": "x"}, v)
	f.post(note, f.event(f.home, vine.KindCondition, map[string]any{"condition": "doubtful", "cause": "frost", "look_again": testNow}, v),
		f.event(f.home, vine.KindMeasure, map[string]any{"quantity": "yield", "unit": "g", "values": []int{900, 1000}}, v, v+1),
		f.event(f.home, vine.KindPruned, map[string]any{"nodes": 9, "reason": "strong"}, v))
	var d description
	f.get("/api/openapi.json").into(t, &d)
	for path, real := range map[string]string{
		"/api/estate":                        "/api/estate",
		"/api/blocks":                        "/api/blocks?season=2027",
		"/api/blocks/{block}":                "/api/blocks/H3?season=2027",
		"/api/blocks/{block}/stand/{season}": "/api/blocks/H3/stand/2027?since=0",
		"/api/blocks/{block}/weighing":       "/api/blocks/H3/weighing?season=2027",
		"/api/vines":                         "/api/vines?find=H3/1/5",
		"/api/vines/{id}":                    fmt.Sprintf("/api/vines/%d", v),
		"/api/legends":                       "/api/legends",
		"/api/blocks/{block}/standards":      "/api/blocks/H3/standards",
		"/api/standards":                     "/api/standards",
	} {
		t.Run(path, func(t *testing.T) {
			s := d.Paths[path]["get"].Responses["200"].Content["application/json"].Schema
			require.NotNil(t, s)
			var answer any
			f.get(real).into(t, &answer)
			d.fits(t, s, answer, "answer")
		})
	}
	t.Run("/api/events", func(t *testing.T) {
		s := d.Paths["/api/events"]["post"].Responses["200"].Content["application/json"].Schema
		var answer any
		f.ask(http.MethodPost, "/api/events", map[string]any{"sent_at": testNow, "events": []any{note, 3}}).into(t, &answer)
		d.fits(t, s, answer, "answer")
	})
	t.Run("problem", func(t *testing.T) {
		var answer any
		require.NoError(t, json.Unmarshal(f.get("/api/blocks?season=1").body, &answer))
		d.fits(t, d.Components.Schemas["Problem"], answer, "problem")
	})
}

// fits walks an answer along its schema.
func (d *description) fits(t *testing.T, s *schema, answer any, at string) {
	t.Helper()
	if s.Ref != "" {
		named := d.Components.Schemas[strings.TrimPrefix(s.Ref, "#/components/schemas/")]
		require.NotNil(t, named, s.Ref)
		d.fits(t, named, answer, at)
		return
	}
	if len(s.OneOf) > 0 {
		if answer != nil {
			d.fits(t, s.OneOf[0], answer, at)
		}
		return
	}
	switch a := answer.(type) {
	case map[string]any:
		props, required := d.fields(s)
		for name, value := range a {
			p, ok := props[name]
			if ok || s.Additional == nil && assert.True(t, ok, "%s.%s is not described", at, name) {
				d.fits(t, p, value, at+"."+name)
			}
		}
		for _, name := range required {
			assert.Contains(t, a, name, at)
		}
	case []any:
		require.NotNil(t, s.Items, at)
		for _, one := range a {
			d.fits(t, s.Items, one, at+"[]")
		}
	default:
		assert.True(t, kindFits(s.Type, a), "%s: %v is not %v", at, a, s.Type)
	}
}

// fields gives the properties of an object schema, those of its parts included.
func (d *description) fields(s *schema) (map[string]*schema, []string) {
	props, required := map[string]*schema{}, s.Required
	for name, p := range s.Properties {
		props[name] = p
	}
	for _, part := range s.AllOf {
		if part.Ref != "" {
			part = d.Components.Schemas[strings.TrimPrefix(part.Ref, "#/components/schemas/")]
		}
		more, need := d.fields(part)
		for name, p := range more {
			props[name] = p
		}
		required = append(required, need...)
	}
	return props, required
}

func kindFits(kind any, v any) bool {
	if several, ok := kind.([]any); ok {
		for _, k := range several {
			if kindFits(k, v) {
				return true
			}
		}
		return false
	}
	switch kind {
	case "string":
		_, ok := v.(string)
		return ok
	case "boolean":
		_, ok := v.(bool)
		return ok
	case "integer":
		n, ok := v.(float64)
		return ok && n == float64(int64(n))
	case "number":
		_, ok := v.(float64)
		return ok
	case "null":
		return v == nil
	}
	return kind == nil
}
