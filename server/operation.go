package server

import (
	"context"
	"net/http"

	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/server/stands"
	"courson/server/work"
)

// mostOperation is the longest name of an operation, as in the log.
const mostOperation = 60

// operationShown reads ?operation= of a map: whose progress it shows; "" is
// pruning.
func operationShown(r *http.Request) (string, error) {
	op := r.URL.Query().Get("operation")
	if len(op) > mostOperation {
		return "", refuse(http.StatusBadRequest, "operation", "an operation has at most %d characters", mostOperation)
	}
	if op == vine.Pruning {
		return "", nil
	}
	return op, nil
}

// standOf gives a stand that shows the progress of an operation.
func (s *Server) standOf(ctx context.Context, v *stands.View, operation string) (*stand.Stand, error) {
	if operation == "" {
		return v.Stand, nil
	}
	progress, err := work.ProgressOf(ctx, s.cfg.Store, v.Stand, operation)
	if err != nil {
		return nil, err
	}
	shown := *v.Stand
	shown.Progress = progress
	return &shown, nil
}

// totalsOf gives the sums of blocks with the progress of an operation.
func (s *Server) totalsOf(ctx context.Context, heads []*stands.Head, season int, operation string) ([]stands.Totals, error) {
	if operation == "" {
		return s.stands.AllTotals(ctx, heads, season)
	}
	views, err := s.stands.Views(ctx, heads, season)
	if err != nil {
		return nil, err
	}
	out := make([]stands.Totals, len(views))
	for i, v := range views {
		shown, err := s.standOf(ctx, v, operation)
		if err != nil {
			return nil, err
		}
		out[i] = v.Totals
		out[i].Totals = stand.TotalsOf(shown)
	}
	return out, nil
}

// drawingsOf gives the blocks to draw with the progress of an operation.
func (s *Server) drawingsOf(ctx context.Context, heads []*stands.Head, q tileRequest) ([]stands.Drawing, error) {
	if q.operation == "" {
		return s.stands.Drawings(ctx, heads, q.season, q.tile.Z)
	}
	views, err := s.stands.Views(ctx, heads, q.season)
	if err != nil {
		return nil, err
	}
	out := make([]stands.Drawing, len(views))
	for i, v := range views {
		shown, err := s.standOf(ctx, v, q.operation)
		if err != nil {
			return nil, err
		}
		d, err := tile.NewView(shown, v.Drawing.Index, v.Drawing.Outline, v.Name, v.Variety)
		if err != nil {
			return nil, err
		}
		out[i] = stands.Drawing{Head: v.Head, BlockView: d, Found: v.Stand.Stamp()}
	}
	return out, nil
}
