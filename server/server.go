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

// route is one line of the list of routes.
type route struct {
	method  string
	pattern string
	handle  func(http.ResponseWriter, *http.Request) error
}

// routes is everything the server answers. HEAD is answered wherever GET is.
func (s *Server) routes() []route {
	return []route{
		{http.MethodGet, "/", s.getMapPage},
		{http.MethodGet, "/report", s.getReportPage},
		{http.MethodGet, "/pruning", s.getPruningPage},
		{http.MethodGet, "/zones", s.getZonesPage},
		{http.MethodGet, "/replants", s.getReplantsPage},
		{http.MethodGet, "/work", s.getWorkPage},
		{http.MethodGet, "/print/orders", s.getOrderSheets},
		{http.MethodGet, "/people", s.getPeoplePage},
		{http.MethodGet, "/import", s.getImportPage},
		{http.MethodGet, "/ground", s.getGroundPage},
		{http.MethodGet, "/field", s.getFieldPage},
		{http.MethodGet, "/field/tags", s.getFieldTags},
		{http.MethodGet, "/field/sw.js", s.getFieldWorker},
		{http.MethodGet, "/field/app.webmanifest", s.getFieldManifest},
		{http.MethodGet, "/assets/*", s.getAsset},
		{http.MethodGet, "/base/{z}/{x}/{y}", s.getBase},

		{http.MethodGet, "/tiles/{season}", s.getTileJSON},
		{http.MethodGet, "/tiles/{season}/{z}/{x}/{y}", s.getVectorTile},
		{http.MethodGet, "/tiles/{theme}/{season}/{z}/{x}/{y}", s.getPicture},

		{http.MethodGet, "/ogc", s.getOGC},
		{http.MethodGet, "/ogc/", s.getOGC},
		{http.MethodGet, "/ogc/conformance", s.getOGCConformance},
		{http.MethodGet, "/ogc/api", s.getOGCAPI},
		{http.MethodGet, "/ogc/tileMatrixSets", s.getTileMatrixSets},
		{http.MethodGet, "/ogc/tileMatrixSets/{scheme}", s.getTileMatrixSet},
		{http.MethodGet, "/ogc/tiles", s.getTilesets},
		{http.MethodGet, "/ogc/tiles/{scheme}", s.getTileset},
		{http.MethodGet, "/ogc/tiles/{scheme}/{matrix}/{row}/{col}", s.getTile},
		{http.MethodGet, "/ogc/map/tiles", s.getMapTilesets},
		{http.MethodGet, "/ogc/styles/{theme}/map/tiles", s.getTilesets},
		{http.MethodGet, "/ogc/styles/{theme}/map/tiles/{scheme}", s.getTileset},
		{http.MethodGet, "/ogc/styles/{theme}/map/tiles/{scheme}/{matrix}/{row}/{col}", s.getTile},
		{http.MethodGet, "/ogc/collections", s.getOGCCollections},
		{http.MethodGet, "/ogc/collections/{collection}", s.getOGCCollection},
		{http.MethodGet, "/ogc/collections/{collection}/schema", s.getOGCSchema},
		{http.MethodGet, "/ogc/collections/{collection}/items", s.getOGCItems},
		{http.MethodGet, "/ogc/collections/{collection}/items/{id}", s.getOGCItem},

		{http.MethodGet, "/api/imports", s.getImports},
		{http.MethodGet, "/api/imports/done", s.getImportsDone},
		{http.MethodPost, "/api/imports/try", s.postImportTry},
		{http.MethodPost, "/api/imports/{id}/undo/try", s.postUndoTry},
		{http.MethodPost, "/api/imports/{id}/undo", s.postUndo},
		{http.MethodPost, "/api/imports", s.postImport},
		{http.MethodGet, "/api/estate", s.getEstate},
		{http.MethodGet, "/api/blocks", s.getBlocks},
		{http.MethodPost, "/api/blocks/try", s.postBlockTry},
		{http.MethodPost, "/api/blocks", s.postBlock},
		{http.MethodGet, "/api/blocks/{block}", s.getBlock},
		{http.MethodGet, "/api/blocks/{block}/ground", s.getGround},
		{http.MethodDelete, "/api/blocks/{block}/ground/{id}", s.deleteGround},
		{http.MethodPost, "/api/blocks/{block}/rows/try", s.postRowsTry},
		{http.MethodPost, "/api/blocks/{block}/rows", s.postRows},
		{http.MethodPost, "/api/blocks/{block}/numbers/try", s.postNumbersTry},
		{http.MethodPost, "/api/blocks/{block}/numbers", s.postNumbers},
		{http.MethodGet, "/api/blocks/{block}/stand/{season}", s.getStand},
		{http.MethodGet, "/api/blocks/{block}/weighing", s.getWeighing},
		{http.MethodGet, "/api/blocks/{block}/weighing.csv", s.getWeighingCSV},
		{http.MethodGet, "/api/blocks/{block}/findings", s.getBlockFindings},
		{http.MethodGet, "/api/blocks/{block}/findings.csv", s.getFindingsCSV},
		{http.MethodGet, "/api/blocks/{block}/standards", s.getStandards},
		{http.MethodPut, "/api/blocks/{block}/standards", s.putStandards},
		{http.MethodPost, "/api/blocks/{block}/pruning/preview", s.postPruningPreview},
		{http.MethodPost, "/api/blocks/{block}/pruning", s.postPruning},
		{http.MethodGet, "/api/blocks/{block}/pruning", s.getPruning},
		{http.MethodGet, "/api/blocks/{block}/pruning/compare", s.getPruningCompare},
		{http.MethodGet, "/api/blocks/{block}/pruning/runs", s.getPruningRuns},
		{http.MethodGet, "/api/blocks/{block}/pruning/runs.csv", s.getPruningRunsCSV},
		{http.MethodGet, "/api/blocks/{block}/pruning/practice", s.getPruningPractice},
		{http.MethodGet, "/api/blocks/{block}/pruning/left", s.getPruningLeft},
		{http.MethodGet, "/api/blocks/{block}/pruning/follow-ups", s.getFollowUps},
		{http.MethodGet, "/api/blocks/{block}/pruning/follow-ups.csv", s.getFollowUpsCSV},
		{http.MethodPut, "/api/blocks/{block}/pruning/overrides", s.putOverrides},
		{http.MethodGet, "/api/vines/{id}/pruning", s.getVinePruning},
		{http.MethodPut, "/api/vines/{id}/renewals", s.putRenewals},
		{http.MethodGet, "/api/blocks/{block}/pruning/renewals", s.getRenewals},
		{http.MethodPost, "/api/pruning/renewal", s.postRenewal},
		{http.MethodGet, "/api/crews", s.getCrews},
		{http.MethodPut, "/api/crews/{name}", s.putCrew},
		{http.MethodDelete, "/api/crews/{name}", s.deleteCrew},
		{http.MethodGet, "/api/orders", s.getOrders},
		{http.MethodPost, "/api/orders", s.postOrders},
		{http.MethodPut, "/api/orders/{id}", s.putOrder},
		{http.MethodDelete, "/api/orders/{id}", s.deleteOrder},
		{http.MethodGet, "/api/replants", s.getEstateReplants},
		{http.MethodGet, "/api/replants.csv", s.getReplantsCSV},
		{http.MethodGet, "/api/blocks/{block}/replants", s.getReplants},
		{http.MethodGet, "/api/replants.geojson", s.getReplantsGeoJSON},
		{http.MethodPost, "/api/blocks/{block}/replants/steps", s.postReplantSteps},
		{http.MethodPost, "/api/blocks/{block}/replants/preview", s.postReplantsPreview},
		{http.MethodGet, "/api/vines/{id}/replants", s.getVineReplant},
		{http.MethodPost, "/api/blocks/{block}/replants/counts", s.postReplantCounts},
		{http.MethodGet, "/api/images", s.getImages},
		{http.MethodDelete, "/api/images/{id}", s.deleteImage},
		{http.MethodGet, "/api/images/{id}/tiles/{z}/{x}/{y}", s.getImageTile},
		{http.MethodGet, "/api/materials", s.getMaterials},
		{http.MethodPut, "/api/materials", s.putMaterials},
		{http.MethodGet, "/api/blocks/{block}/zones", s.getZones},
		{http.MethodPost, "/api/blocks/{block}/zones", s.postZones},
		{http.MethodPost, "/api/blocks/{block}/zones/kept", s.postKeptZones},
		{http.MethodGet, "/api/blocks/{block}/zones/kept/{id}", s.getKeptZones},
		{http.MethodGet, "/api/blocks/{block}/zones/kept/{id}/{form}", s.getKeptFile},
		{http.MethodPost, "/api/blocks/{block}/zones/kept/{id}/applied", s.postApplied},
		{http.MethodGet, "/api/blocks/{block}/zones/compare", s.getZonesCompare},
		{http.MethodPost, "/api/blocks/{block}/zones/{form}", s.postRateFile},
		{http.MethodPost, "/api/orders/share", s.postShare},
		{http.MethodGet, "/api/weighings", s.getWeighings},
		{http.MethodPost, "/api/weighings", s.postWeighing},
		{http.MethodDelete, "/api/weighings/{id}", s.deleteWeighing},
		{http.MethodGet, "/api/reviews", s.getReviews},
		{http.MethodPost, "/api/reviews", s.postReview},
		{http.MethodDelete, "/api/reviews/{id}", s.deleteReview},
		{http.MethodPost, "/api/orders/weigh", s.postOrdersWeigh},
		{http.MethodGet, "/api/operations", s.getOperations},
		{http.MethodPut, "/api/operations", s.putOperations},
		{http.MethodGet, "/api/progress", s.getProgress},
		{http.MethodGet, "/api/progress.csv", s.getProgressCSV},
		{http.MethodPut, "/api/progress/deadline", s.putDeadline},
		{http.MethodPut, "/api/progress/lost-day", s.putLostDay},
		{http.MethodGet, "/api/checks", s.getChecks},
		{http.MethodGet, "/api/field", s.getField},
		{http.MethodGet, "/api/standards", s.getEstateStandards},
		{http.MethodPut, "/api/standards", s.putEstateStandards},
		{http.MethodGet, "/api/findings", s.getFindings},
		{http.MethodPost, "/api/findings", s.postFindings},
		{http.MethodPut, "/api/findings/since", s.putSince},
		{http.MethodGet, "/api/patches.csv", s.getPatchesCSV},
		{http.MethodGet, "/api/patches.geojson", s.getPatchesGeoJSON},
		{http.MethodGet, "/api/change.csv", s.getChangeCSV},
		{http.MethodGet, "/api/vines", s.findVines},
		{http.MethodGet, "/api/vines/{id}", s.getVine},
		{http.MethodGet, "/api/legends", s.getLegends},
		{http.MethodGet, "/api/layers", s.getLayers},
		{http.MethodGet, "/api/layers/{layer}/style.sld", s.getLayerStyle},
		{http.MethodGet, "/api/layers/{layer}/{form}", s.getLayer},
		{http.MethodGet, "/api/stream", s.getStream},
		{http.MethodPost, "/api/events", s.postEvents},
		{http.MethodGet, "/api/events", s.getEvents},
		{http.MethodGet, "/api/openapi.json", s.getOpenAPI},

		{http.MethodGet, "/signin", s.getSignInPage},
		{http.MethodPost, "/signin", s.postSignInPage},
		{http.MethodGet, "/join", s.getJoinPage},
		{http.MethodPost, "/api/signin", s.postSignIn},
		{http.MethodPost, "/api/signout", s.postSignOut},
		{http.MethodPost, "/api/join", s.postJoin},
		{http.MethodGet, "/api/me", s.getMe},
		{http.MethodPut, "/api/me/password", s.putMyPassword},
		{http.MethodGet, "/api/users", s.getUsers},
		{http.MethodGet, "/api/users/{name}", s.getUser},
		{http.MethodPut, "/api/users/{name}", s.putUser},
		{http.MethodDelete, "/api/users/{name}", s.deleteUser},
		{http.MethodGet, "/api/tokens", s.getTokens},
		{http.MethodPost, "/api/tokens", s.postTokens},
		{http.MethodDelete, "/api/tokens/{id}", s.deleteToken},
		{http.MethodGet, "/api/crew-links", s.getCrewLinks},
		{http.MethodPost, "/api/crew-links", s.postCrewLinks},
		{http.MethodDelete, "/api/crew-links/{id}", s.deleteCrewLink},
		{http.MethodGet, "/api/audit", s.getAudit},

		{http.MethodGet, "/healthz", s.getHealth},
		{http.MethodGet, "/readyz", s.getReady},
		{http.MethodGet, "/metrics", s.getMetrics},
	}
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
