package server

import (
	_ "embed"
	"net/http"
)

// openAPI describes the routes. A test walks both, so that neither names what
// the other does not know.
//
//go:embed openapi.json
var openAPI []byte

// getOpenAPI answers /api/openapi.json.
func (s *Server) getOpenAPI(w http.ResponseWriter, r *http.Request) error {
	return reply{contentType: "application/json", tag: contentTag(openAPI), plain: openAPI}.send(w, r)
}
