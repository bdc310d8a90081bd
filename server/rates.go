package server

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strconv"

	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
)

// postZones answers POST /api/blocks/{block}/zones?season=: zones and rates by
// the order in the body. Nothing is kept.
func (s *Server) postZones(w http.ResponseWriter, r *http.Request) error {
	got, err := s.ratedAsked(w, r)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, got.View())
}

// postRateFile answers POST /api/blocks/{block}/zones/{form}?season=: the rates as
// a file of a form.
func (s *Server) postRateFile(w http.ResponseWriter, r *http.Request) error {
	form, err := formAsked(r)
	if err != nil {
		return err
	}
	got, err := s.ratedAsked(w, r)
	if err != nil {
		return err
	}
	return s.sendRates(w, r, got, form)
}

// mostRateOrder is how long an order may be, bytes.
const mostRateOrder = 64 << 10

func (s *Server) ratedAsked(w http.ResponseWriter, r *http.Request) (*work.Rated, error) {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return nil, err
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, mostRateOrder))
	if err != nil {
		return nil, refuse(http.StatusRequestEntityTooLarge, "", "an order for zones is at most %d KB long", mostRateOrder>>10)
	}
	order, err := work.ParseRateOrder(body)
	if err != nil {
		return nil, ratesRefusal(err)
	}
	return s.rated(r.Context(), h, season, order)
}

// rated carries out an order for zones and rates.
func (s *Server) rated(ctx context.Context, h *stands.Head, season int, order work.RateOrder) (*work.Rated, error) {
	for _, c := range order.Columns {
		if c.Season == 0 {
			continue
		}
		if _, err := s.seasonOf(ctx, strconv.Itoa(c.Season)); err != nil {
			return nil, err
		}
	}
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return nil, err
	}
	zones, err := s.zoned(ctx, work.RateJob{Estate: e.Name, Block: h.Block, Season: season, Order: order, In: s.measuredOf(h)})
	if err != nil {
		return nil, ratesRefusal(err)
	}
	got, err := zones.WithRates(order)
	return got, ratesRefusal(err)
}

func (s *Server) measuredOf(h *stands.Head) func(context.Context, int) (work.Measured, error) {
	return func(ctx context.Context, season int) (work.Measured, error) {
		m, _, err := s.desk.Measured(ctx, findings.Key{Block: h.ID, Season: season})
		return m, err
	}
}

// ratesRefusal says which part of an order is at fault.
func ratesRefusal(err error) error {
	switch {
	case errors.Is(err, work.ErrNoZones):
		return refuse(http.StatusNotFound, "id", "%v", err)
	case errors.Is(err, work.ErrRates):
		return refuse(http.StatusUnprocessableEntity, work.RatesField(err), "%v", err)
	}
	return err
}
