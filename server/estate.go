package server

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/vine"
)

// seasonSpan is what seasons there are to look at.
type seasonSpan struct {
	list    []int // recorded or planned, and the present one; rising
	current int   // by the calendar
	open    int   // the one to open
}

// holds tells whether a season can be shown: from the first with a record to
// the next one after the last, for which plans may be made.
func (s seasonSpan) holds(season int) bool {
	return season >= s.list[0] && season <= s.list[len(s.list)-1]+1
}

func (s seasonSpan) String() string {
	return fmt.Sprintf("%d to %d", s.list[0], s.list[len(s.list)-1]+1)
}

// seasons joins what is recorded with the calendar. The season to open is the
// present one, unless nothing was recorded for longer than a season: then the
// last one that has records.
func (s *Server) seasons(ctx context.Context) (seasonSpan, error) {
	known, err := s.stands.Seasons(ctx)
	if err != nil {
		return seasonSpan{}, err
	}
	cal, err := s.calendar(ctx)
	if err != nil {
		return seasonSpan{}, err
	}
	span := seasonSpan{current: cal.Season(s.cfg.Now())}
	span.open = span.current
	if n := len(known); n > 0 && span.current > known[n-1]+1 {
		span.open = known[n-1]
	}
	span.list = append(slices.Clone(known), span.current)
	slices.Sort(span.list)
	span.list = slices.Compact(span.list)
	return span, nil
}

// calendar is the estate's own. A time zone that this machine does not know is
// taken as UTC: seasons turn by months.
func (s *Server) calendar(ctx context.Context) (vine.Calendar, error) {
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return vine.Calendar{}, err
	}
	zone, err := time.LoadLocation(e.Zone)
	if err != nil {
		zone = time.UTC
	}
	return vine.Hemisphere(e.South, zone), nil
}

type estateJSON struct {
	Name       string       `json:"name"`
	South      bool         `json:"south"`
	Zone       string       `json:"zone"`
	USUnits    bool         `json:"us_units"`
	ScoreScale string       `json:"score_scale"`
	Seasons    []int        `json:"seasons"`
	Season     int          `json:"season"`
	Bounds     *[4]float64  `json:"bounds"` // null where there is no block yet
	Vines      int          `json:"vines"`
	BaseMap    *baseMapJSON `json:"base_map"`
	Version    string       `json:"version"`
}

// getEstate answers /api/estate.
func (s *Server) getEstate(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return err
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	ans := estateJSON{Name: e.Name, South: e.South, Zone: e.Zone, USUnits: e.USUnits, ScoreScale: e.ScoreScale,
		Seasons: span.list, Season: span.open, BaseMap: s.base.json(), Version: s.cfg.Version}
	if ans.Vines, err = s.stands.CountVines(ctx); err != nil {
		return err
	}
	b, err := s.estateBounds(ctx)
	if err != nil {
		return err
	}
	ans.Bounds = boundsJSON(b)
	return s.sendJSON(w, r, ans)
}

// estateBounds holds all blocks; empty where there are none.
func (s *Server) estateBounds(ctx context.Context) (orb.Bound, error) {
	heads, err := s.stands.Heads(ctx)
	if err != nil {
		return orb.Bound{}, err
	}
	all := orb.Bound{Min: orb.Point{1, 1}, Max: orb.Point{-1, -1}}
	for _, h := range heads {
		switch {
		case h.Bounds.IsEmpty():
		case all.IsEmpty():
			all = h.Bounds
		default:
			all = all.Union(h.Bounds)
		}
	}
	return all, nil
}

// boundsJSON writes west, south, east, north; null for an empty bound.
func boundsJSON(b orb.Bound) *[4]float64 {
	if b.IsEmpty() {
		return nil
	}
	return &[4]float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
}
