// Package server answers over HTTP: the pages, the vector tiles and pictures,
// the JSON that the pages live on, the batches of events that phones send, and
// the stream that tells open pages of changes.
//
// Handlers are thin: they read the request, ask the stands (package stands) or
// the store, and write the answer. What goes wrong is returned as an error and
// turned into an answer in one place, errors.go.
package server

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"golang.org/x/sync/semaphore"

	"courson/geo/tile"
	"courson/server/access"
	"courson/server/findings"
	"courson/server/stands"
	"courson/store"
)

// Config of a server. Only Store must be set.
type Config struct {
	Store   store.Store      // where everything is kept; the caller closes it after the server
	Logger  *slog.Logger     // nil: silent
	Now     func() time.Time // the server's clock; nil: time.Now
	Version string           // of the program, shown to pages; "" is "dev"
	Pages   fs.FS            // files of the pages; nil: those built in

	BaseMap BaseMap // picture under the vines; zero: none

	// Hosts are the names that this server is reached by, beside
	// localhost, 127.0.0.1 and [::1]. Where any is given, requests for other
	// names are refused; where none is, they are refused on loopback only.
	Hosts []string
	// PublicURL is how clients reach this server where a proxy stands before
	// it, such as https://vines.example; its host counts among Hosts. Without
	// it, links are made from what the request says. No header that a proxy may
	// add is trusted.
	PublicURL string

	Access AccessConfig // who may do what, for how long

	// FindAfter is how long a block must have been left alone before its findings
	// are worked out anew; 0: a third of a second.
	FindAfter      time.Duration
	StandBytes     int64         // memory budget for grounds and stands; 0: 1 GiB
	TileBytes      int64         // memory budget for finished tiles; 0: 64 MiB
	RequestTimeout time.Duration // longest time to answer; 0: 30 s
	StopTimeout    time.Duration // how long running requests may take to end at a stop; 0: 10 s
}

// Server answers requests for one store.
type Server struct {
	cfg    Config
	log    *slog.Logger
	hosts  []string
	gate   *access.Gate
	stands *stands.Cache
	desk   *findings.Desk
	tiles  *tileCache
	base   *baseMap
	pages  map[string]page
	shelf  zoneShelf
	pixels imageShelf

	renderer  tile.Renderer
	drawing   *semaphore.Weighted
	exporting *semaphore.Weighted
	waiting   atomic.Int32 // tiles that somebody waits for
	zipper    zipper

	metrics     *metrics
	metricsPage http.Handler
	handler     http.Handler

	heartbeat time.Duration // between comments in event streams
	stopping  chan struct{} // closed when the server begins to stop
	stopOnce  sync.Once
	closeOnce sync.Once
	closed    error // what closing came to
}

const (
	defaultTileBytes = 64 << 20
	defaultRequest   = 30 * time.Second
	defaultStop      = 10 * time.Second
	defaultHeartbeat = 15 * time.Second
)

// New makes a server and begins to listen for changes of the store. Close it
// when it is no longer used.
func New(cfg Config) (*Server, error) {
	if cfg.Store == nil {
		return nil, errors.New("server: no store")
	}
	cfg = cfg.withDefaults()
	s := &Server{cfg: cfg, log: cfg.Logger, tiles: newTileCache(cfg.TileBytes),
		drawing:   semaphore.NewWeighted(int64(runtime.GOMAXPROCS(0))),
		exporting: semaphore.NewWeighted(exportsAtOnce),
		heartbeat: defaultHeartbeat, stopping: make(chan struct{})}
	s.stands = stands.New(cfg.Store, stands.Options{Budget: cfg.StandBytes, Logger: cfg.Logger})
	s.gate = newGate(cfg)
	s.metrics = newMetrics(s.stands, s.tiles)
	s.metricsPage = s.metrics.page()

	var err error
	if s.hosts, err = hostNames(cfg); err != nil {
		return nil, err
	}
	if s.pages, err = readPages(cfg.Pages, &s.zipper); err != nil {
		return nil, err
	}
	if s.base, err = openBaseMap(cfg.BaseMap); err != nil {
		return nil, err
	}
	if s.handler, err = s.routed(); err != nil {
		return nil, errors.Join(err, s.base.close())
	}
	if err := s.stands.Start(context.Background()); err != nil {
		return nil, errors.Join(fmt.Errorf("listen for changes: %w", err), s.base.close())
	}
	s.desk = findings.New(cfg.Store, s.stands, cfg.Logger, cfg.FindAfter, s.giveWay)
	s.desk.Start(context.Background())
	return s, nil
}

func (c Config) withDefaults() Config {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Now == nil {
		c.Now = time.Now
	}
	if c.Version == "" {
		c.Version = "dev"
	}
	if c.Pages == nil {
		c.Pages = builtInPages()
	}
	if c.TileBytes <= 0 {
		c.TileBytes = defaultTileBytes
	}
	if c.RequestTimeout <= 0 {
		c.RequestTimeout = defaultRequest
	}
	if c.StopTimeout <= 0 {
		c.StopTimeout = defaultStop
	}
	return c
}

// hostNames gives the names the server answers to, in lower case.
func hostNames(cfg Config) ([]string, error) {
	var hosts []string
	for _, h := range cfg.Hosts {
		hosts = append(hosts, bareHost(h))
	}
	if cfg.PublicURL != "" {
		u, err := url.Parse(cfg.PublicURL)
		if err != nil || (u.Scheme != "http" && u.Scheme != "https") || u.Hostname() == "" {
			return nil, fmt.Errorf("public address %q: write it like https://vines.example", cfg.PublicURL)
		}
		hosts = append(hosts, bareHost(u.Host))
	}
	return hosts, nil
}

// unlimited routes stay open for as long as the client likes, or bound their time
// themselves.
func unlimited(pattern string) bool {
	return pattern == "/api/stream" || pattern == "/api/layers/{layer}/{form}"
}

// routed builds the handler.
func (s *Server) routed() (http.Handler, error) {
	cross := http.NewCrossOriginProtection()
	if s.cfg.PublicURL != "" {
		u, err := url.Parse(s.cfg.PublicURL)
		if err != nil {
			return nil, err
		}
		if err := cross.AddTrustedOrigin(u.Scheme + "://" + u.Host); err != nil {
			return nil, fmt.Errorf("public address: %w", err)
		}
	}
	cross.SetDenyHandler(s.wrap(func(http.ResponseWriter, *http.Request) error {
		return refuse(http.StatusForbidden, "", "a page of another site may not write here")
	}))
	r := chi.NewRouter()
	r.Use(s.watch, s.secure, s.knownHost, cross.Handler, middleware.GetHead)
	r.NotFound(s.wrap(func(_ http.ResponseWriter, r *http.Request) error {
		return refuse(http.StatusNotFound, "", "there is nothing at %s", r.URL.Path)
	}))
	for _, rt := range s.routes() {
		h := s.guard(rt, s.wrap(rt.handle))
		if !unlimited(rt.pattern) {
			h = s.deadline(h, rt.pattern)
		}
		r.Method(rt.method, rt.pattern, h)
	}
	r.MethodNotAllowed(s.wrap(func(w http.ResponseWriter, req *http.Request) error { return wrongMethod(r, w, req) }))
	return r, nil
}

// wrongMethod says which methods there are.
func wrongMethod(routes chi.Routes, w http.ResponseWriter, r *http.Request) error {
	var allow []string
	for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut, http.MethodDelete} {
		if routes.Match(chi.NewRouteContext(), method, r.URL.Path) {
			allow = append(allow, method)
			if method == http.MethodGet {
				allow = append(allow, http.MethodHead)
			}
		}
	}
	w.Header().Set("Allow", strings.Join(allow, ", "))
	return refuse(http.StatusMethodNotAllowed, "", "%s is not possible here; there is %s", r.Method, strings.Join(allow, ", "))
}

// wrap turns the error of a handler into its answer.
func (s *Server) wrap(h func(http.ResponseWriter, *http.Request) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := h(w, r); err != nil {
			s.answerError(w, r, err)
		}
	}
}
