package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"courson/geo/pruning"
	"courson/geo/pruning/runs"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// pruneJob gathers what a block's plan is made from: the vigour as it was found,
// where that is ready and still true.
func (s *Server) pruneJob(ctx context.Context, h *stands.Head, season int, standards json.RawMessage, options work.PruneOptions) (work.PruneJob, work.Settled, error) {
	settled, err := s.stands.Standards(ctx, h.Block)
	if err != nil {
		return work.PruneJob{}, settled, err
	}
	if len(standards) > 0 && !bytes.Equal(standards, []byte("null")) {
		if err := checkStandards(standards); err != nil {
			return work.PruneJob{}, settled, err
		}
		if settled, err = s.settledWith(ctx, h.Block, standards); err != nil {
			return work.PruneJob{}, settled, err
		}
	}
	key := findings.Key{Block: h.ID, Season: season}
	now, _, err := s.desk.Measured(ctx, key)
	if err != nil {
		return work.PruneJob{}, settled, err
	}
	job := work.PruneJob{Block: h.Block, Now: now, Standards: settled.Pruning, Options: options}
	job.Vigour = s.vigourFound(key, now)
	return job, settled, nil
}

// settledWith gives what would count if the block's own standards were these.
func (s *Server) settledWith(ctx context.Context, b store.Block, own json.RawMessage) (work.Settled, error) {
	list, err := s.cfg.Store.Standards(ctx)
	if err != nil {
		return work.Settled{}, fmt.Errorf("standards: %w", err)
	}
	got, err := work.NewRulebook(append(list, store.Standards{Block: b.ID, Value: own})).For(b)
	if errors.Is(err, work.ErrStandards) {
		return got, refuse(http.StatusUnprocessableEntity, "standards", "%v", err)
	}
	return got, err
}

// vigourFound gives the vigour that was found of the very stand; nil where it
// must be worked out.
func (s *Server) vigourFound(key findings.Key, now work.Measured) *vigour.Result {
	f, status := s.desk.Of(key)
	if f == nil || status.State != findings.Ready || f.Stand.Ground != now.Stand.Ground || now.Stand.Stamp() != f.Found.Stamp {
		return nil
	}
	return f.Vigour
}

// planPruning computes a plan; what cannot be done is the caller's to mend.
func (s *Server) planPruning(ctx context.Context, job work.PruneJob) (*work.Pruning, error) {
	p, err := work.PlanPruning(ctx, s.cfg.Store, job)
	if errors.Is(err, work.ErrStandards) {
		return nil, refuse(http.StatusUnprocessableEntity, "standards", "%v", err)
	}
	return p, err
}

// pruneOrder is the body of a preview and of a plan to be made.
type pruneOrder struct {
	Season    int               `json:"season"`
	By        string            `json:"by"`
	Standards json.RawMessage   `json:"standards"`
	Options   work.PruneOptions `json:"options"`
}

func (s *Server) readPruneOrder(w http.ResponseWriter, r *http.Request) (o pruneOrder, h *stands.Head, err error) {
	if err := readJSON(w, r, mostStandards, &o); err != nil {
		return o, nil, err
	}
	if o.Season, err = s.seasonOf(r.Context(), strconv.Itoa(o.Season)); err != nil {
		return o, nil, err
	}
	h, err = s.headAsked(r.Context(), r.PathValue("block"))
	return o, h, err
}

type previewJSON struct {
	Season  int         `json:"season"`
	Sum     pruning.Sum `json:"sum"`
	Unclear string      `json:"unclear"`
	Notes   []string    `json:"notes"`
}

// postPruningPreview answers POST /api/blocks/{block}/pruning/preview.
func (s *Server) postPruningPreview(w http.ResponseWriter, r *http.Request) error {
	o, h, err := s.readPruneOrder(w, r)
	if err != nil {
		return err
	}
	job, settled, err := s.pruneJob(r.Context(), h, o.Season, o.Standards, o.Options)
	if err != nil {
		return err
	}
	p, err := s.planPruning(r.Context(), job)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, previewJSON{o.Season, p.Result.Sum(), settled.Unclear, orEmpty(p.Notes)})
}

// postPruning answers POST /api/blocks/{block}/pruning: makes and keeps a plan.
func (s *Server) postPruning(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	o, h, err := s.readPruneOrder(w, r)
	if err != nil {
		return err
	}
	job, _, err := s.pruneJob(ctx, h, o.Season, o.Standards, o.Options)
	if err != nil {
		return err
	}
	p, err := s.planPruning(ctx, job)
	if err != nil {
		return err
	}
	now := s.cfg.Now()
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) error {
		if len(o.Standards) > 0 && !bytes.Equal(o.Standards, []byte("null")) {
			if err := tx.SaveStandards(store.Standards{Block: h.ID, Made: now, By: o.By, Value: o.Standards}); err != nil {
				return err
			}
		}
		_, err := work.SavePruning(tx, p, o.By, now)
		return err
	})
	if err != nil {
		return err
	}
	s.stands.Touched()
	ans, err := s.pruningOf(ctx, h.ID, o.Season)
	if err != nil {
		return err
	}
	return s.sendCreated(w, r, ans)
}

// pruningJSON is a block's plan of a season.
type pruningJSON struct {
	Season    int             `json:"season"`
	Block     vine.ID         `json:"block"`
	Code      string          `json:"code"`
	Plan      *planHeadJSON   `json:"plan"`
	Fresh     bool            `json:"fresh"`
	Sum       *pruning.Sum    `json:"sum"`
	Versions  []versionJSON   `json:"versions"`
	Overrides []work.Override `json:"overrides"`
	Unclear   string          `json:"unclear"`
	Notes     []string        `json:"notes"`
}

type planHeadJSON struct {
	ID        int64     `json:"id"`
	Made      time.Time `json:"made"`
	By        string    `json:"by"`
	Source    string    `json:"source"`
	Options   any       `json:"options"`   // null: imported
	Standards any       `json:"standards"` // null: imported
}

type versionJSON struct {
	ID     int64     `json:"id"`
	Made   time.Time `json:"made"`
	By     string    `json:"by"`
	Source string    `json:"source"`
	Vines  any       `json:"vines"`
	Nodes  any       `json:"nodes"`
}

// getPruning answers GET /api/blocks/{block}/pruning?season=.
func (s *Server) getPruning(w http.ResponseWriter, r *http.Request) error {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	ans, err := s.pruningOf(r.Context(), h.ID, season)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

// blockSeason reads {block} and ?season=.
func (s *Server) blockSeason(r *http.Request) (int, *stands.Head, error) {
	season, err := s.seasonAsked(r)
	if err != nil {
		return 0, nil, err
	}
	h, err := s.headAsked(r.Context(), r.PathValue("block"))
	return season, h, err
}

func (s *Server) pruningOf(ctx context.Context, block vine.ID, season int) (*pruningJSON, error) {
	h, err := s.stands.Head(ctx, block)
	if err != nil {
		return nil, err
	}
	heads, err := s.cfg.Store.PlanList(ctx, store.PlanPruning, season, h.ID)
	if err != nil {
		return nil, err
	}
	v, err := s.stands.Stand(ctx, h.ID, season)
	if err != nil {
		return nil, err
	}
	ans := &pruningJSON{Season: season, Block: h.ID, Code: h.Code, Versions: make([]versionJSON, len(heads))}
	for i, p := range heads {
		ans.Versions[i] = versionJSON{p.ID, p.Made, p.By, p.Source, p.Inputs["vines"], p.Inputs["nodes"]}
	}
	overrides, err := work.Overrides(ctx, s.cfg.Store, v.Stand.Ground, season)
	if err != nil {
		return nil, err
	}
	ans.Overrides = orEmpty(overrides)
	if len(heads) == 0 {
		return ans, s.notesNow(ctx, ans, h, season, work.PruneOptions{})
	}
	p := heads[0]
	ans.Plan = &planHeadJSON{p.ID, p.Made, p.By, p.Source, p.Inputs["options"], p.Inputs["standards"]}
	if _, ours := p.Inputs["standards"]; !ours {
		_, plan, err := work.ReadVersion(ctx, s.cfg.Store, p.ID)
		if err != nil {
			return nil, err
		}
		sum := work.CountPlan(v.Stand, plan)
		ans.Sum = &sum
		return ans, s.notesNow(ctx, ans, h, season, work.PruneOptions{})
	}
	return ans, s.sumOf(ctx, ans, h, season, p)
}

// sumOf computes the plan in use again, from its own standards, and tells
// whether what is known now gives the same.
func (s *Server) sumOf(ctx context.Context, ans *pruningJSON, h *stands.Head, season int, p store.Plan) error {
	_, plan, err := work.ReadVersion(ctx, s.cfg.Store, p.ID)
	if err != nil {
		return err
	}
	options, err := work.OptionsOf(p)
	if err != nil {
		return err
	}
	job, settled, err := s.pruneJob(ctx, h, season, nil, options)
	if err != nil {
		return err
	}
	ans.Unclear = settled.Unclear
	now, err := work.PlanPruning(ctx, s.cfg.Store, job)
	if errors.Is(err, work.ErrStandards) { // set since then: the plan in use stands
		ans.Notes = []string{err.Error()}
		sum := work.CountPlan(job.Now.Stand, plan)
		ans.Sum = &sum
		return nil
	}
	if err != nil {
		return err
	}
	ans.Notes = orEmpty(now.Notes)
	if ans.Fresh, err = now.Same(plan); err != nil {
		return err
	}
	sum := work.CountPlan(job.Now.Stand, plan)
	if ans.Fresh {
		sum = now.Result.Sum()
	}
	ans.Sum = &sum
	return nil
}

// notesNow says what a plan made now would rest on.
func (s *Server) notesNow(ctx context.Context, ans *pruningJSON, h *stands.Head, season int, options work.PruneOptions) error {
	job, settled, err := s.pruneJob(ctx, h, season, nil, options)
	if err != nil {
		return err
	}
	ans.Unclear, ans.Notes = settled.Unclear, []string{}
	p, err := work.PlanPruning(ctx, s.cfg.Store, job)
	if errors.Is(err, work.ErrStandards) {
		ans.Notes = []string{err.Error()}
		return nil
	}
	if err == nil {
		ans.Notes = orEmpty(p.Notes)
	}
	return err
}

// planInUse gives the stand of a block and season and its pruning plan.
func (s *Server) planInUse(ctx context.Context, h *stands.Head, season int) (*stands.View, map[vine.ID]work.Planned, error) {
	v, err := s.stands.Stand(ctx, h.ID, season)
	if err != nil {
		return nil, nil, err
	}
	head, plan, err := work.ReadPlan(ctx, s.cfg.Store, h.ID, season)
	if err == nil && head == nil {
		err = work.ErrNoPlan(h.Code, season)
	}
	return v, plan, err
}

// runsAsked reads ?goal=, change= and limit=.
func runsAsked(r *http.Request) (job work.RunsJob, err error) {
	job = work.DefaultRuns()
	q := r.URL.Query()
	if job.Goal, err = work.ParseGoal(q.Get("goal")); err != nil {
		return job, refuse(http.StatusBadRequest, "goal", "%v", err)
	}
	for _, f := range []struct {
		name string
		into *float64
	}{{"change", &job.Change}, {"limit", &job.Limit}} {
		if text := q.Get(f.name); text != "" {
			if *f.into, err = strconv.ParseFloat(text, 64); err != nil || !(*f.into >= 0 && *f.into <= 1000) {
				return job, refuse(http.StatusBadRequest, f.name, "%q is not a number of nodes from 0 to 1000", text)
			}
		}
	}
	if text := q.Get("words"); text != "" {
		if job.Words, err = strconv.Atoi(text); err != nil || job.Words < 0 || job.Words > 60 {
			return job, refuse(http.StatusBadRequest, "words", "%q is not a number of instructions from 0 (no limit) to 60", text)
		}
	}
	return job, nil
}

func (s *Server) cutRuns(r *http.Request) (*work.Runs, *stands.Head, error) {
	job, err := runsAsked(r)
	if err != nil {
		return nil, nil, err
	}
	season, h, err := s.blockSeason(r)
	if err != nil {
		return nil, nil, err
	}
	v, plan, err := s.planInUse(r.Context(), h, season)
	if err != nil {
		return nil, nil, err
	}
	cut, err := work.CutRuns(v.Stand, plan, job)
	if errors.Is(err, runs.ErrFewMarks) || errors.Is(err, runs.ErrOption) {
		return nil, nil, refuse(http.StatusUnprocessableEntity, "limit", "%v", err)
	}
	return cut, h, err
}
