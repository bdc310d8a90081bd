package server

import (
	"encoding/json"
	"errors"
	"net/http"
	"time"

	"courson/geo/pruning"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// standardsJSON is what counts for a block, and where it is from.
type standardsJSON struct {
	Block     vine.ID          `json:"block"` // 0: the estate
	Code      string           `json:"code"`
	Own       bool             `json:"own"` // the block has its own
	By        string           `json:"by"`
	Made      *time.Time       `json:"made"`    // null: defaults
	Unclear   string           `json:"unclear"` // why the block's training system was not understood
	Standards work.Standards   `json:"standards"`
	Systems   []pruning.System `json:"systems"` // the training systems known by name
}

// getStandards answers /api/blocks/{block}/standards.
func (s *Server) getStandards(w http.ResponseWriter, r *http.Request) error {
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	return s.sendStandards(w, r, h.Block)
}

// getEstateStandards answers /api/standards.
func (s *Server) getEstateStandards(w http.ResponseWriter, r *http.Request) error {
	return s.sendStandards(w, r, store.Block{})
}

func (s *Server) sendStandards(w http.ResponseWriter, r *http.Request, b store.Block) error {
	got, err := s.stands.Standards(r.Context(), b)
	if err != nil {
		return err
	}
	out := standardsJSON{Block: b.ID, Code: b.Code, Own: got.Own, By: got.By, Unclear: got.Unclear, Standards: got.Standards, Systems: pruning.Systems()}
	if !got.Made.IsZero() {
		out.Made = &got.Made
	}
	return s.sendJSON(w, r, out)
}

// putStandards takes /api/blocks/{block}/standards: what the owner sets; parts
// that are left out are the estate's or the defaults.
func (s *Server) putStandards(w http.ResponseWriter, r *http.Request) error {
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	return s.saveStandards(w, r, h.Block)
}

// putEstateStandards takes /api/standards: for every block without its own.
func (s *Server) putEstateStandards(w http.ResponseWriter, r *http.Request) error {
	return s.saveStandards(w, r, store.Block{})
}

// mostStandards is how long standards may be, bytes.
const mostStandards = 256 << 10

func (s *Server) saveStandards(w http.ResponseWriter, r *http.Request, b store.Block) error {
	var in struct {
		By        string          `json:"by"`
		Standards json.RawMessage `json:"standards"`
	}
	if err := readJSON(w, r, mostStandards, &in); err != nil {
		return err
	}
	if in.Standards == nil {
		return refuse(http.StatusBadRequest, "standards", "the request has no standards")
	}
	if err := checkStandards(in.Standards); err != nil {
		return err
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error {
		return tx.SaveStandards(store.Standards{Block: b.ID, Made: s.cfg.Now(), By: in.By, Value: in.Standards})
	})
	if err != nil {
		return err
	}
	s.stands.Touched()
	return s.sendStandards(w, r, b)
}

// checkStandards refuses what cannot be used, with the reason.
func checkStandards(value json.RawMessage) error {
	if _, err := work.ParseStandards(value); err != nil {
		if errors.Is(err, work.ErrStandards) {
			return refuse(http.StatusUnprocessableEntity, "standards", "%v", err)
		}
		return err
	}
	return nil
}
