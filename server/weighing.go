package server

import (
	"bytes"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/vigour"
	"courson/server/work"
)

// mostWeighed is the most vines a plan may be asked for.
const mostWeighed = 100_000

// getWeighing answers /api/blocks/{block}/weighing: which vines to weigh, in
// walking order.
func (s *Server) getWeighing(w http.ResponseWriter, r *http.Request) error {
	plan, err := s.planWeighing(r)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, plan)
}

// getWeighingCSV answers /api/blocks/{block}/weighing.csv: the same as a table
// to be filled in.
func (s *Server) getWeighingCSV(w http.ResponseWriter, r *http.Request) error {
	plan, err := s.planWeighing(r)
	if err != nil {
		return err
	}
	estate, err := s.cfg.Store.Estate(r.Context())
	if err != nil {
		return fmt.Errorf("estate: %w", err)
	}
	var body bytes.Buffer
	if err := work.WriteWeighing(&body, work.Table, estate.USUnits, []*work.Weighing{plan}); err != nil {
		return fmt.Errorf("list of vines to weigh: %w", err)
	}
	return sendFile(w, r, fmt.Sprintf("%s-%d-weighing.csv", plan.Code, plan.Season), "text/csv; charset=utf-8", body.Bytes())
}

func (s *Server) planWeighing(r *http.Request) (*work.Weighing, error) {
	season, err := s.seasonAsked(r)
	if err != nil {
		return nil, err
	}
	job, err := weighingAsked(r)
	if err != nil {
		return nil, err
	}
	job.Season = season
	v, err := s.viewAsked(r.Context(), r.PathValue("block"), season)
	if err != nil {
		return nil, err
	}
	plan, err := work.PlanWeighing(r.Context(), s.cfg.Store, v.Stand.Ground, job)
	switch {
	case errors.Is(err, vigour.ErrNoVines):
		return nil, refuse(http.StatusUnprocessableEntity, "", "%v", err)
	case errors.Is(err, vigour.ErrBadOption):
		return nil, refuse(http.StatusBadRequest, "", "%v", err)
	}
	return plan, err
}

// weighingAsked reads ?number=, error=, again= and seed=.
func weighingAsked(r *http.Request) (job work.WeighingJob, err error) {
	q := r.URL.Query()
	if text := q.Get("number"); text != "" {
		if job.Number, err = strconv.Atoi(text); err != nil || job.Number < 1 || job.Number > mostWeighed {
			return job, refuse(http.StatusBadRequest, "number", "%q is not a number of vines from 1 to %d", text, mostWeighed)
		}
	}
	if text := q.Get("error"); text != "" {
		if job.RelError, err = strconv.ParseFloat(text, 64); err != nil || !(job.RelError > 0 && job.RelError <= 1) {
			return job, refuse(http.StatusBadRequest, "error", "%q is not a share above 0 and at most 1, such as 0.1", text)
		}
	}
	if text := q.Get("seed"); text != "" {
		if job.Seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			return job, refuse(http.StatusBadRequest, "seed", "%q is not a whole number", text)
		}
	}
	switch text := q.Get("again"); text {
	case "", "0":
	case "1":
		job.Again = true
	default:
		return job, refuse(http.StatusBadRequest, "again", "%q is neither 1 nor 0", text)
	}
	return job, nil
}
