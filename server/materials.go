package server

import (
	"net/http"

	"courson/geo/rate"
	"courson/server/work"
	"courson/store"
)

// getMaterials answers /api/materials: what an estate starts from and its own, with
// the rates that trials are on record with.
func (s *Server) getMaterials(w http.ResponseWriter, r *http.Request) error {
	own, err := work.OwnMaterials(r.Context(), s.cfg.Store)
	if err != nil {
		return err
	}
	list := rate.Materials()
	cautions := map[string][]string{}
	for _, m := range list {
		cautions[m.Key] = rate.Cautions(m)
	}
	return s.sendJSON(w, r, map[string]any{"materials": list, "own": orEmpty(own), "cautions": cautions, "on_record": rate.OnRecord(), "units": rate.Units()})
}

// putMaterials answers PUT /api/materials: the estate's own ones.
func (s *Server) putMaterials(w http.ResponseWriter, r *http.Request) error {
	var o struct {
		By  string             `json:"by"`
		Own []work.OwnMaterial `json:"own"`
	}
	if err := readJSON(w, r, mostRateOrder, &o); err != nil {
		return err
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error { return work.SaveMaterials(tx, o.Own, o.By, s.cfg.Now()) })
	if err != nil {
		return ratesRefusal(err)
	}
	return s.getMaterials(w, r)
}
