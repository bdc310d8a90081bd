package server

import (
	"errors"
	"net/http"

	"github.com/paulmach/orb"

	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// mostGround is the most bytes of an order about ground.
const mostGround = 1 << 18

// byJSON is who does something, beside what is done; a try has no use for it.
type byJSON struct {
	By string `json:"by"`
}

// drawnBlockJSON is the body of a block to be kept.
type drawnBlockJSON struct {
	work.BlockDrawing
	byJSON
}

// madeBlockJSON is a block that was kept.
type madeBlockJSON struct {
	ID    vine.ID `json:"id"`
	Code  string  `json:"code"`
	Known bool    `json:"known"` // it was there already, as it is
}

// postBlockTry answers POST /api/blocks/try: judges a drawn outline.
func (s *Server) postBlockTry(w http.ResponseWriter, r *http.Request) error {
	var in drawnBlockJSON
	if err := readJSON(w, r, mostGround, &in); err != nil {
		return err
	}
	judged, err := work.JudgeBlock(r.Context(), s.cfg.Store, in.BlockDrawing)
	if err != nil {
		return groundRefusal(err)
	}
	return s.sendJSON(w, r, judged)
}

// postBlock answers POST /api/blocks: keeps a drawn block.
func (s *Server) postBlock(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in drawnBlockJSON
	if err := readJSON(w, r, mostGround, &in); err != nil {
		return err
	}
	var made madeBlockJSON
	err := s.changeGround(r, &in.By, func(tx store.Tx) error {
		b, known, err := work.DrawBlock(ctx, tx, in.BlockDrawing, in.By, s.cfg.Now())
		made = madeBlockJSON{b.ID, b.Code, known}
		return err
	})
	if err != nil {
		return err
	}
	if made.Known {
		return s.sendJSON(w, r, made)
	}
	return s.sendCreated(w, r, made)
}

// groundAsked reads an order about the ground of the block that is named in the path.
func (s *Server) groundAsked(w http.ResponseWriter, r *http.Request, order any) (block vine.ID, err error) {
	if err := readJSON(w, r, mostGround, order); err != nil {
		return 0, err
	}
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return 0, err
	}
	return h.ID, nil
}

// changeGround runs a change in one transaction, in the name of whoever is named or
// signed in.
func (s *Server) changeGround(r *http.Request, by *string, f func(tx store.Tx) error) error {
	if name := s.whoAsks(r); *by == "" {
		*by = name
	}
	if err := s.cfg.Store.Update(r.Context(), f); err != nil {
		return groundRefusal(err)
	}
	s.stands.Touched()
	return nil
}

// groundRefusal turns what is wrong with an order about ground into its answer.
func groundRefusal(err error) error {
	var wrong *work.DrawnError
	switch {
	case errors.As(err, &wrong):
		return refuse(http.StatusUnprocessableEntity, wrong.Field, "%s", wrong.Text)
	case errors.Is(err, work.ErrInUse):
		return refuse(http.StatusConflict, "", "%v", err)
	}
	return err
}

// madeRowsJSON is rows made, with the places of their vines.
type madeRowsJSON struct {
	*work.RowsMade
	Points [][]orb.Point `json:"points"` // row by row; null where there are too many to draw
}

// mostPoints is how many vines are drawn in a preview.
const mostPoints = 20_000

func madeRows(m *work.RowsMade) madeRowsJSON {
	out := madeRowsJSON{RowsMade: m}
	if m.Vines <= mostPoints {
		out.Points = m.Points()
	}
	return out
}

// postRowsTry answers POST /api/blocks/{block}/rows/try: shows rows before they are
// kept.
func (s *Server) postRowsTry(w http.ResponseWriter, r *http.Request) error {
	var in rowsJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	m, err := work.TryRows(r.Context(), s.cfg.Store, block, in.RowsOrder)
	if err != nil {
		return groundRefusal(err)
	}
	return s.sendJSON(w, r, madeRows(m))
}

// rowsJSON is the body of rows to be kept.
type rowsJSON struct {
	work.RowsOrder
	byJSON
}

// postRows answers POST /api/blocks/{block}/rows: keeps rows with their vines.
func (s *Server) postRows(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in rowsJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	var m *work.RowsMade
	err = s.changeGround(r, &in.By, func(tx store.Tx) (err error) {
		m, err = work.MakeRows(ctx, tx, block, in.RowsOrder, in.By, s.cfg.Now())
		return err
	})
	if err != nil {
		return err
	}
	if m.Known {
		return s.sendJSON(w, r, madeRowsJSON{RowsMade: m})
	}
	return s.sendCreated(w, r, madeRowsJSON{RowsMade: m})
}

// postNumbersTry answers POST /api/blocks/{block}/numbers/try: shows a numbering
// before it is kept.
func (s *Server) postNumbersTry(w http.ResponseWriter, r *http.Request) error {
	var in numbersJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	n, err := work.TryNumbers(r.Context(), s.cfg.Store, block, in.NumberOrder)
	if err != nil {
		return groundRefusal(err)
	}
	return s.sendJSON(w, r, n)
}

// numbersJSON is the body of a numbering to be kept.
type numbersJSON struct {
	work.NumberOrder
	byJSON
}

// postNumbers answers POST /api/blocks/{block}/numbers: numbers rows and vines anew.
func (s *Server) postNumbers(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in numbersJSON
	block, err := s.groundAsked(w, r, &in)
	if err != nil {
		return err
	}
	var n *work.Numbers
	err = s.changeGround(r, &in.By, func(tx store.Tx) (err error) {
		n, err = work.Renumber(ctx, tx, block, in.NumberOrder, in.By, s.cfg.Now())
		return err
	})
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, n)
}

// getGround answers GET /api/blocks/{block}/ground: who changed what of its ground,
// the newest first.
func (s *Server) getGround(w http.ResponseWriter, r *http.Request) error {
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	if err != nil {
		return err
	}
	view, err := work.GroundView(r.Context(), s.cfg.Store, h.ID)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, view)
}

// deleteGround answers DELETE /api/blocks/{block}/ground/{id}?by=: takes the newest
// change back.
func (s *Server) deleteGround(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	h, err := s.headAsked(ctx, r.PathValue("block"))
	if err != nil {
		return err
	}
	by := r.URL.Query().Get("by")
	var undone work.GroundChange
	err = s.changeGround(r, &by, func(tx store.Tx) (err error) {
		undone, err = work.TakeBack(ctx, tx, h.ID, r.PathValue("id"), by, s.cfg.Now())
		return err
	})
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, undone.ForPeople())
}
