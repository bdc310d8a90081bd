package server

import (
	"context"
	"log/slog"
	"net"
	"net/http"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/google/uuid"

	"courson/server/stands"
)

type contextKey int

const (
	keyRequestID contextKey = iota
	keyAsker
)

// requestID gives the id of the request that ctx belongs to, "" outside one.
func requestID(ctx context.Context) string {
	id, _ := ctx.Value(keyRequestID).(string)
	return id
}

// recorder notes what was answered.
type recorder struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (w *recorder) WriteHeader(status int) {
	if w.status == 0 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *recorder) Write(p []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	n, err := w.ResponseWriter.Write(p)
	w.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach the connection.
func (w *recorder) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// watch gives the request an id, catches panics, and writes log and metrics.
// It stands outermost.
func (s *Server) watch(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		id := uuid.NewString()
		r = r.WithContext(context.WithValue(r.Context(), keyRequestID, id))
		w.Header().Set("X-Request-Id", id)
		rec := &recorder{ResponseWriter: w}
		s.metrics.inFlight.Inc()
		defer func() {
			s.metrics.inFlight.Dec()
			if p := recover(); p != nil {
				if p == http.ErrAbortHandler {
					panic(p)
				}
				s.answerPanic(rec, r, &stands.PanicError{Value: p, Stack: debug.Stack()})
			}
			s.account(rec, r, time.Since(start))
		}()
		next.ServeHTTP(rec, r)
	})
}

// answerPanic fails this request only. Where part of an answer has gone out,
// the connection is cut so that nobody takes the part for the whole.
func (s *Server) answerPanic(w *recorder, r *http.Request, err *stands.PanicError) {
	if w.status == 0 {
		s.answerError(w, r, err)
		return
	}
	s.log.LogAttrs(r.Context(), slog.LevelError, "fault after the answer had begun",
		slog.String("request", requestID(r.Context())), slog.String("path", r.URL.Path),
		slog.Any("error", err), slog.String("stack", string(err.Stack)))
	panic(http.ErrAbortHandler)
}

// account writes one line of log and the metrics of a request.
func (s *Server) account(w *recorder, r *http.Request, took time.Duration) {
	pattern := "none"
	if rc := chi.RouteContext(r.Context()); rc != nil && rc.RoutePattern() != "" {
		pattern = rc.RoutePattern()
	}
	status := w.status
	if status == 0 { // nothing was written: the caller left
		status = 499
	}
	s.metrics.observe(pattern, r.Method, status, took)
	level := slog.LevelInfo
	if status < 400 && quiet(pattern) {
		level = slog.LevelDebug
	}
	s.log.LogAttrs(r.Context(), level, "request",
		slog.String("request", requestID(r.Context())), slog.String("method", r.Method),
		slog.String("path", r.URL.Path), slog.String("route", pattern), slog.Int("status", status),
		slog.Int64("bytes", w.bytes), slog.Duration("took", took))
}

// quiet names the routes that are called too often for the ordinary log.
func quiet(pattern string) bool {
	for _, p := range []string{"/tiles/", "/assets/", "/base/", "/healthz", "/readyz", "/metrics"} {
		if strings.HasPrefix(pattern, p) {
			return true
		}
	}
	return false
}

// secure sets the headers that keep pages to our own origin.
func (s *Server) secure(next http.Handler) http.Handler {
	policy := s.contentPolicy()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}

// contentPolicy is the content security policy: everything from our own origin,
// and pictures of the base map from its own, where one is set.
func (s *Server) contentPolicy() string {
	connect, img := "connect-src 'self'", "img-src 'self' data:"
	if o := s.base.origin(); o != "" {
		connect += " " + o
		img += " " + o
	}
	return strings.Join([]string{
		"default-src 'none'", "script-src 'self'", "worker-src 'self'", "style-src 'self'",
		connect, "font-src 'self'", img, "manifest-src 'self'", "base-uri 'none'",
		"object-src 'none'", "frame-ancestors 'none'", "form-action 'self'",
	}, "; ")
}

// knownHost refuses requests for a host name that is not ours: a page of a
// foreign site may not reach a server on this machine by pointing its own name
// at it. Names are checked on loopback connections, and everywhere once host
// names are configured.
func (s *Server) knownHost(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if (len(s.hosts) > 0 || onLoopback(r)) && !s.hostAllowed(r.Host) {
			s.answerError(w, r, refuse(http.StatusMisdirectedRequest, "",
				"this server does not answer to the name %q; start it with that name among its hosts, or use localhost", r.Host))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// bareHost gives a host name without port, brackets or a final dot, in lower
// case.
func bareHost(hostport string) string {
	host := hostport
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		host = h
	}
	return strings.ToLower(strings.TrimSuffix(strings.Trim(host, "[]"), "."))
}

func (s *Server) hostAllowed(hostport string) bool {
	host := bareHost(hostport)
	switch host {
	case "localhost", "127.0.0.1", "::1":
		return true
	}
	return slices.Contains(s.hosts, host)
}

// onLoopback tells whether the request came over the loopback interface; where
// that cannot be seen it is taken to be so.
func onLoopback(r *http.Request) bool {
	addr, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	if !ok {
		return true
	}
	tcp, ok := addr.(*net.TCPAddr)
	return !ok || tcp.IP.IsLoopback()
}

// deadline bounds how long an answer may take.
func (s *Server) deadline(next http.Handler, pattern string) http.Handler {
	period := s.cfg.RequestTimeout
	if strings.HasPrefix(pattern, "/api/imports") {
		period = max(period, importPeriod) // files of hundreds of MB
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), period)
		defer cancel()
		next.ServeHTTP(w, r.WithContext(ctx))
	})
}
