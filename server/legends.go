package server

import (
	"net/http"

	"courson/geo/stand"
	"courson/geo/tile"
)

// getLegends answers /api/legends: what the themes show, in the words, colours
// and symbols that the pictures use too.
func (s *Server) getLegends(w http.ResponseWriter, r *http.Request) error {
	limits := stand.DefaultVigourLimits()
	return s.sendJSON(w, r, tile.Legends(limits[:]))
}
