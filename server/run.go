package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"
)

// Handler gives everything the server answers.
func (s *Server) Handler() http.Handler { return s.handler }

// Warm loads the season to open, block by block, until all are held, the
// memory budget is used up or ctx ends.
func (s *Server) Warm(ctx context.Context) error {
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	return s.stands.Warm(ctx, span.open)
}

// Close ends the event streams and stops listening for changes.
// It may be called again and then does nothing.
func (s *Server) Close() error {
	s.beginStop()
	s.closeOnce.Do(func() {
		s.desk.Close()
		s.stands.Close()
		s.closed = s.base.close()
	})
	return s.closed
}

func (s *Server) beginStop() { s.stopOnce.Do(func() { close(s.stopping) }) }

// Run serves on a listener until ctx ends: then it takes no new requests, ends
// the event streams at once, lets running requests finish for StopTimeout, and
// closes the server. It returns nil after such a stop.
func (s *Server) Run(ctx context.Context, l net.Listener) error {
	web := &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       time.Minute,
		WriteTimeout:      s.cfg.RequestTimeout + time.Minute,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelDebug),
	}
	failed := make(chan error, 1)
	go func() { failed <- web.Serve(l) }()
	warmCtx, stopWarm := context.WithCancel(ctx)
	warmed := make(chan struct{})
	go func() {
		defer close(warmed)
		if err := s.Warm(warmCtx); err != nil && warmCtx.Err() == nil {
			s.log.WarnContext(ctx, "load the blocks ahead", "error", err)
		}
	}()
	defer func() { stopWarm(); <-warmed }()

	select {
	case err := <-failed:
		return errors.Join(fmt.Errorf("serve: %w", err), s.Close())
	case <-ctx.Done():
	}
	s.beginStop()
	stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), s.cfg.StopTimeout)
	defer cancel()
	err := web.Shutdown(stop)
	if err != nil {
		err = errors.Join(fmt.Errorf("stop: requests were still running after %s: %w", s.cfg.StopTimeout, err), web.Close())
	}
	<-failed
	return errors.Join(err, s.Close())
}
