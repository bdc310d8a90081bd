package server

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"time"

	"courson/geo/crew"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// shareBlocks gives blocks as they take part in the sharing of work; none named:
// all.
func (s *Server) shareBlocks(ctx context.Context, season int, ids []vine.ID) ([]work.ShareBlock, error) {
	if len(ids) == 0 {
		heads, err := s.stands.Heads(ctx)
		if err != nil {
			return nil, err
		}
		for _, h := range heads {
			ids = append(ids, h.ID)
		}
	}
	var out []work.ShareBlock
	for _, id := range ids {
		v, err := s.stands.Stand(ctx, id, season)
		if err != nil {
			return nil, err
		}
		settled, err := s.stands.Standards(ctx, v.Block)
		if err != nil {
			return nil, err
		}
		out = append(out, work.ShareBlock{Block: v.Block, Stand: v.Stand, Settled: settled})
	}
	return out, nil
}

// postShare answers POST /api/orders/share: a proposal, nothing is kept.
func (s *Server) postShare(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var job work.ShareJob
	if err := readJSON(w, r, 1<<20, &job); err != nil {
		return err
	}
	if _, err := s.seasonOf(ctx, strconv.Itoa(job.Season)); err != nil {
		return err
	}
	blocks, err := s.shareBlocks(ctx, job.Season, job.Blocks)
	if err != nil {
		return err
	}
	got, err := work.Share(ctx, s.cfg.Store, blocks, job)
	if err != nil {
		return refuseOrder(err)
	}
	return s.sendJSON(w, r, got)
}

// postOrdersWeigh answers POST /api/orders/weigh: what a proposal comes to as
// somebody has changed it; nothing is kept.
func (s *Server) postOrdersWeigh(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var job work.WeighJob
	if err := readJSON(w, r, 8<<20, &job); err != nil {
		return err
	}
	if len(job.Orders) == 0 || len(job.Orders) > mostOrders {
		return refuse(http.StatusUnprocessableEntity, "orders", "%d orders: 1 to %d", len(job.Orders), mostOrders)
	}
	if _, err := s.seasonOf(ctx, strconv.Itoa(job.Season)); err != nil {
		return err
	}
	var ids []vine.ID
	for _, o := range job.Orders {
		if !slices.Contains(ids, o.Block) {
			ids = append(ids, o.Block)
		}
	}
	blocks, err := s.shareBlocks(ctx, job.Season, ids)
	if err != nil {
		return err
	}
	got, err := work.WeighOrders(ctx, s.cfg.Store, blocks, job)
	if err != nil {
		return refuseOrder(err)
	}
	return s.sendJSON(w, r, got)
}

// operationJSON is an operation with what to mind at it.
type operationJSON struct {
	crew.Operation
	Own      bool           `json:"own"` // of the estate's own list
	Cautions []crew.Caution `json:"cautions"`
}

// getOperations answers /api/operations: the usual ones and the estate's own.
func (s *Server) getOperations(w http.ResponseWriter, r *http.Request) error {
	settled, err := s.stands.Standards(r.Context(), store.Block{})
	if err != nil {
		return err
	}
	list := []operationJSON{}
	for _, o := range settled.OperationList() {
		own := slices.ContainsFunc(settled.Operations.Own, func(k crew.Operation) bool { return k.Name == o.Name })
		list = append(list, operationJSON{o, own, crew.Cautions(o.Name)})
	}
	return s.sendJSON(w, r, map[string]any{"operations": list})
}

// putOperations answers PUT /api/operations: the estate's own operations, all anew.
func (s *Server) putOperations(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		By  string           `json:"by"`
		Own []crew.Operation `json:"own"`
	}
	if err := readJSON(w, r, mostStandards, &in); err != nil {
		return err
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error {
		return work.SaveOperations(r.Context(), tx, orEmpty(in.Own), in.By, s.cfg.Now())
	})
	if errors.Is(err, work.ErrStandards) {
		return refuse(http.StatusUnprocessableEntity, "own", "%v", err)
	}
	if err != nil {
		return err
	}
	s.stands.Touched()
	return s.getOperations(w, r)
}

// zoneOf is where the estate's clocks stand; UTC where this machine does not know
// the zone.
func (s *Server) zoneOf(ctx context.Context) (*time.Location, error) {
	e, err := s.stands.Estate(ctx)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(e.Zone)
	if err != nil {
		return time.UTC, nil
	}
	return zone, nil
}

// operationAsked reads ?operation=, pruning where it is left out.
func operationAsked(r *http.Request) string {
	if op := r.URL.Query().Get("operation"); op != "" {
		return op
	}
	return vine.Pruning
}

// getProgress answers /api/progress?season=&operation=.
func (s *Server) getProgress(w http.ResponseWriter, r *http.Request) error {
	got, _, err := s.progressAsked(r)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, got)
}

// progressAsked works out how far an operation is, and says of which season.
func (s *Server) progressAsked(r *http.Request) (*work.Progressed, int, error) {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return nil, 0, err
	}
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return nil, 0, err
	}
	blocks, err := s.shareBlocks(ctx, season, nil)
	if err != nil {
		return nil, 0, err
	}
	now := s.cfg.Now().In(zone)
	job := work.ProgressJob{Season: season, Operation: operationAsked(r), Zone: zone, Today: time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, zone)}
	if job.Deadline, err = work.Deadline(ctx, s.cfg.Store, season, job.Operation); err != nil {
		return nil, 0, err
	}
	if job.Lost, err = work.LostDays(ctx, s.cfg.Store, season); err != nil {
		return nil, 0, err
	}
	got, err := work.Progress(ctx, s.cfg.Store, blocks, job)
	return got, season, refuseOrder(err)
}

// putDeadline answers PUT /api/progress/deadline.
func (s *Server) putDeadline(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Season    int    `json:"season"`
		Operation string `json:"operation"`
		Day       string `json:"day"`
		By        string `json:"by"`
	}
	if err := readJSON(w, r, 1<<12, &in); err != nil {
		return err
	}
	if in.Operation == "" {
		in.Operation = vine.Pruning
	}
	err := s.cfg.Store.Update(r.Context(), func(tx store.Tx) error {
		return work.SaveDeadline(tx, in.Season, in.Operation, in.Day, in.By, s.cfg.Now())
	})
	if err != nil {
		return refuseOrder(err)
	}
	return s.sendJSON(w, r, in)
}

// What is drawn of a day's vines where nothing else is asked for; chosen by us.
const (
	usualCheckShare = 0.02
	leastChecks     = 5
)

// getChecks answers /api/checks?season=&block=&day=&number=&seed=: vines of a
// day drawn at random, what was to be left beside what was.
func (s *Server) getChecks(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return err
	}
	job := work.CheckJob{Day: q.Get("day"), Share: usualCheckShare, Least: leastChecks, Zone: zone}
	if job.Day == "" {
		job.Day = s.cfg.Now().In(zone).AddDate(0, 0, -1).Format(time.DateOnly)
	}
	if text := q.Get("number"); text != "" {
		if job.Least, err = strconv.Atoi(text); err != nil || job.Least < 1 || job.Least > mostPractice {
			return refuse(http.StatusBadRequest, "number", "%q is not a number of vines from 1 to %d", text, mostPractice)
		}
	}
	if text := q.Get("seed"); text != "" {
		if job.Seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			return refuse(http.StatusBadRequest, "seed", "%q is not a whole number", text)
		}
	}
	var ids []vine.ID
	if b := q.Get("block"); b != "" {
		h, err := s.headAsked(ctx, b)
		if err != nil {
			return err
		}
		ids = []vine.ID{h.ID}
	}
	blocks, err := s.shareBlocks(ctx, season, ids)
	if err != nil {
		return err
	}
	out := []work.CheckVine{}
	for _, b := range blocks {
		_, plan, err := work.ReadPlan(ctx, s.cfg.Store, b.Block.ID, season)
		if err != nil {
			return err
		}
		list, err := work.Checks(ctx, s.cfg.Store, b.Stand, plan, job)
		if err != nil {
			return refuseOrder(err)
		}
		out = append(out, list...)
	}
	return s.sendJSON(w, r, map[string]any{"day": job.Day, "vines": out})
}
