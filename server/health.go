package server

import (
	"context"
	"fmt"
	"net/http"
	"time"
)

// readyPatience is how long the store may take to say that it is ready.
const readyPatience = 3 * time.Second

// getHealth says that the process answers.
func (s *Server) getHealth(w http.ResponseWriter, _ *http.Request) error {
	return sayOK(w)
}

// getReady says that the store can be read and written, and that the server is
// not about to stop.
func (s *Server) getReady(w http.ResponseWriter, r *http.Request) error {
	select {
	case <-s.stopping:
		return refuse(http.StatusServiceUnavailable, "", "the server is stopping")
	default:
	}
	ctx, cancel := context.WithTimeout(r.Context(), readyPatience)
	defer cancel()
	if err := s.cfg.Store.Ready(ctx); err != nil {
		s.log.WarnContext(r.Context(), "the store is not ready", "error", err)
		return refuse(http.StatusServiceUnavailable, "", "the store is not ready")
	}
	return sayOK(w)
}

func sayOK(w http.ResponseWriter) error {
	h := w.Header()
	h.Set("Content-Type", "text/plain; charset=utf-8")
	h.Set("Cache-Control", "no-store")
	_, err := fmt.Fprintln(w, "ok")
	_ = err // the caller may be gone: nobody left to tell
	return nil
}
