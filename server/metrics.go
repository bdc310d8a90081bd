package server

import (
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"courson/server/stands"
)

// metrics are the server's own numbers, in a registry of their own.
type metrics struct {
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	seconds  *prometheus.HistogramVec
	inFlight prometheus.Gauge
	streams  prometheus.Gauge
	events   *prometheus.CounterVec
	rendered *prometheus.CounterVec
	kept     *prometheus.CounterVec
}

func newMetrics(cache *stands.Cache, tiles *tileCache) *metrics {
	m := &metrics{
		registry: prometheus.NewRegistry(),
		requests: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "courson_http_requests_total", Help: "Requests answered, by route pattern, method and status."},
			[]string{"route", "method", "status"}),
		seconds: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name: "courson_http_request_seconds", Help: "Time to answer, by route pattern.",
			Buckets: []float64{.0005, .001, .0025, .005, .01, .025, .05, .1, .25, 1, 5, 30}},
			[]string{"route"}),
		inFlight: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "courson_http_requests_in_flight", Help: "Requests being answered now."}),
		streams: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "courson_streams", Help: "Open event streams."}),
		events: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "courson_events_total", Help: "Events received, by what became of them."}, []string{"result"}),
		rendered: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "courson_tiles_rendered_total", Help: "Tiles drawn, by format."}, []string{"format"}),
		kept: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "courson_tiles_reused_total", Help: "Tiles answered without drawing, by how."}, []string{"how"}),
	}
	m.registry.MustRegister(m.requests, m.seconds, m.inFlight, m.streams, m.events, m.rendered, m.kept,
		collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}),
		gauge("courson_stand_cache_bytes", "Memory held by grounds and stands.", func() float64 { return float64(cache.Stats().Bytes) }),
		gauge("courson_stands_held", "Stands held in memory.", func() float64 { return float64(cache.Stats().Stands) }),
		counter("courson_stands_loaded_total", "Stands read whole from the store.", func() float64 { return float64(cache.Stats().Loads) }),
		counter("courson_stands_folded_total", "Stands brought up to date without reading them whole.", func() float64 { return float64(cache.Stats().Folds) }),
		counter("courson_stands_evicted_total", "Stands let go to stay within the memory budget.", func() float64 { return float64(cache.Stats().Evicted) }),
		gauge("courson_tile_cache_bytes", "Memory held by finished tiles.", func() float64 { return float64(tiles.size()) }),
	)
	for _, result := range []string{"stored", "known", "refused"} {
		m.events.WithLabelValues(result)
	}
	return m
}

func gauge(name, help string, f func() float64) prometheus.Collector {
	return prometheus.NewGaugeFunc(prometheus.GaugeOpts{Name: name, Help: help}, f)
}

func counter(name, help string, f func() float64) prometheus.Collector {
	return prometheus.NewCounterFunc(prometheus.CounterOpts{Name: name, Help: help}, f)
}

// observe counts one request. Routes are named by pattern, never by path, so
// that their number stays small; methods nobody knows go under one name.
func (m *metrics) observe(route, method string, status int, took time.Duration) {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost, http.MethodOptions:
	default:
		method = "other"
	}
	m.requests.WithLabelValues(route, method, strconv.Itoa(status)).Inc()
	m.seconds.WithLabelValues(route).Observe(took.Seconds())
}

// getMetrics gives the numbers in the Prometheus text format.
func (s *Server) getMetrics(w http.ResponseWriter, r *http.Request) error {
	s.metricsPage.ServeHTTP(w, r)
	return nil
}

func (m *metrics) page() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{})
}
