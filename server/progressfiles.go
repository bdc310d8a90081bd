package server

import (
	"fmt"
	"net/http"
	"strconv"

	"courson/server/work"
)

// getProgressCSV answers /api/progress.csv?season=&operation=&by=: a line for each
// row (by=row, also where it is left out), or for each day, crew and block (by=day).
func (s *Server) getProgressCSV(w http.ResponseWriter, r *http.Request) error {
	by := r.URL.Query().Get("by")
	if by != "" && by != "row" && by != "day" {
		return refuse(http.StatusBadRequest, "by", "%q: row or day", by)
	}
	got, season, err := s.progressAsked(r)
	if err != nil {
		return err
	}
	if by == "day" {
		return rowDays(got).send(w, r, fmt.Sprintf("rows-by-day-%d.csv", season))
	}
	return rowLines(got).send(w, r, fmt.Sprintf("rows-%d.csv", season))
}

func rowDays(p *work.Progressed) *table {
	t := newTable("operation", "day", "crew", "block", "rows_done", "rows_left")
	for _, d := range p.Rows {
		t.row(p.Operation, d.Day, d.Crew, d.Code, strconv.Itoa(d.Done), strconv.Itoa(d.Left))
	}
	return t
}

func rowLines(p *work.Progressed) *table {
	t := newTable("operation", "block", "row", "vines", "vines_done", "vines_skipped", "vines_left", "done_on", "done_by", "ordered_for", "ordered_from")
	for _, l := range p.Lines {
		t.row(p.Operation, l.Code, l.Row, strconv.Itoa(l.Vines), strconv.Itoa(l.Done), strconv.Itoa(l.Skipped), strconv.Itoa(l.Left), l.DoneOn, l.DoneBy, l.For, l.By)
	}
	return t
}
