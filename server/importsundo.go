package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"

	"courson/server/work"
)

const undoBytes = 10_000 // of a request to take an import back

// getImportsDone answers GET /api/imports/done: what was imported, newest first.
func (s *Server) getImportsDone(w http.ResponseWriter, r *http.Request) error {
	list, err := work.Imports(r.Context(), s.cfg.Store)
	if err != nil {
		return err
	}
	var ans struct {
		Imports []work.Taken `json:"imports"`
	}
	ans.Imports = orEmpty(list)
	return s.sendJSON(w, r, ans)
}

// postUndoTry answers POST /api/imports/{id}/undo/try: what taking an import back
// would do, or what was built on it. Nothing is changed.
func (s *Server) postUndoTry(w http.ResponseWriter, r *http.Request) error {
	report, err := s.undo(w, r, true)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, report)
}

// postUndo answers POST /api/imports/{id}/undo: takes an import back. Where
// something was built on it since it is 409, with the report.
func (s *Server) postUndo(w http.ResponseWriter, r *http.Request) error {
	report, err := s.undo(w, r, false)
	if err != nil {
		return err
	}
	if !report.Refused {
		return s.sendJSON(w, r, report)
	}
	status := http.StatusConflict
	body, err := json.Marshal(struct {
		problem
		Report work.UndoReport `json:"report"`
	}{problem{Type: "about:blank", Title: http.StatusText(status), Status: status,
		Detail: fmt.Sprintf("nothing was changed: %s %s", report.Built[0].What, report.Built[0].Why)}, report})
	if err != nil {
		return fmt.Errorf("encode answer: %w", err)
	}
	return sendProblem(w, status, body)
}

func (s *Server) undo(w http.ResponseWriter, r *http.Request, try bool) (work.UndoReport, error) {
	var order struct {
		By string `json:"by"`
	}
	if err := readJSON(w, r, undoBytes, &order); err != nil {
		return work.UndoReport{}, err
	}
	if order.By == "" {
		order.By = askerOf(r.Context()).Name
	}
	report, err := work.Undo(r.Context(), s.cfg.Store, work.UndoJob{ID: r.PathValue("id"), By: order.By, DryRun: try, Now: s.cfg.Now})
	if err != nil && !errors.Is(err, work.ErrUndo) {
		return report, err
	}
	if !try && !report.Refused {
		s.stands.Touched()
	}
	return report, nil
}
