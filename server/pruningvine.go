package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"

	"courson/geo/pruning"
	"courson/geo/pruning/renewal"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// vinePruningJSON is what one vine carries, with every step of the reasoning.
type vinePruningJSON struct {
	Season    int                `json:"season"`
	Vine      vine.ID            `json:"vine"`
	Address   string             `json:"address"`
	Line      string             `json:"line"`
	Nodes     int                `json:"nodes"`
	Load      int                `json:"load"`
	Crop      float64            `json:"crop"`
	Steps     []pruning.Step     `json:"steps"`
	FollowUps []pruning.FollowUp `json:"follow_ups"`
	Override  *work.Override     `json:"override"`
	Planned   *plannedJSON       `json:"planned"`
	Rule      []string           `json:"rule"`
	Arms      []armJSON          `json:"arms"`
	Renewals  []dueJSON          `json:"renewals"` // what falls due this winter
	// RenewalPlans are the renewals over several winters.
	RenewalPlans []renewal.Renewal `json:"renewal_plans"`
	Drawing      string            `json:"drawing"`
	Cautions     []string          `json:"cautions"`
}

type plannedJSON struct {
	ID   int64  `json:"id"`
	Text string `json:"text"`
}

type armJSON struct {
	Name    string       `json:"name"`
	Path    renewal.Path `json:"path"`
	ClimbMM float64      `json:"climb_mm"`
	Text    string       `json:"text"`
	Expect  []string     `json:"expect"`
	Cuts    []cutJSON    `json:"cuts"`
}

type cutJSON struct {
	Face       string  `json:"face"`
	DiameterMM float64 `json:"diameter_mm"`
	Season     int     `json:"season"`
}

type dueJSON struct {
	Arm    string `json:"arm"`
	Step   string `json:"step"`
	Season int    `json:"season"`
	Text   string `json:"text"`
}

// getVinePruning answers /api/vines/{id}/pruning?season=.
func (s *Server) getVinePruning(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil || id <= 0 {
		return refuse(http.StatusNotFound, "id", "%q is not the number of a vine", r.PathValue("id"))
	}
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	v, err := s.cfg.Store.Vine(ctx, id)
	if err != nil {
		return fmt.Errorf("vine %d: %w", id, err)
	}
	ans := vinePruningJSON{Season: season, Vine: id, Cautions: cautions()}
	system, err := s.explainVine(ctx, v, &ans)
	if err != nil {
		return err
	}
	if err := s.structureOf(ctx, v, system, &ans); err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

// explainVine fills in what the vine carries and why, by what is known now.
func (s *Server) explainVine(ctx context.Context, v store.Vine, ans *vinePruningJSON) (pruning.System, error) {
	h, err := s.stands.Head(ctx, v.Block)
	if err != nil {
		return pruning.System{}, err
	}
	head, plan, err := work.ReadPlan(ctx, s.cfg.Store, v.Block, ans.Season)
	if err != nil {
		return pruning.System{}, err
	}
	options := work.PruneOptions{}
	if head != nil {
		if options, err = work.OptionsOf(*head); err != nil {
			return pruning.System{}, err
		}
		if p, ok := plan[v.ID]; ok {
			ans.Planned = &plannedJSON{head.ID, p.Text()}
		}
	}
	job, _, err := s.pruneJob(ctx, h, ans.Season, nil, options)
	if err != nil {
		return pruning.System{}, err
	}
	p, err := s.planPruning(ctx, job)
	if err != nil {
		return pruning.System{}, err
	}
	i, ok := job.Now.Stand.Ground.IndexOf(v.ID)
	if !ok {
		return pruning.System{}, fmt.Errorf("vine %d: %w", v.ID, store.ErrNotFound)
	}
	res := p.Result
	ans.Address, ans.Line, ans.Nodes, ans.Load, ans.Crop = job.Now.Stand.Ground.Address(i).String(), res.Line(i), int(res.Nodes[i]), int(res.Load[i]), float64(res.Crop[i])
	ans.Steps, ans.FollowUps = orEmpty(res.Explain(i)), orEmpty(res.FollowUps(i))
	overrides, err := work.Overrides(ctx, s.cfg.Store, job.Now.Stand.Ground, ans.Season)
	if err != nil {
		return pruning.System{}, err
	}
	if k := slices.IndexFunc(overrides, func(o work.Override) bool { return o.Vine == v.ID }); k >= 0 {
		ans.Override = &overrides[k]
	}
	return job.Standards.System, nil
}

// structureOf fills in arms over the winters, renewals that fall due, the rule
// and the drawing.
func (s *Server) structureOf(ctx context.Context, v store.Vine, system pruning.System, ans *vinePruningJSON) error {
	life, err := s.lifeOf(ctx, v)
	if err != nil {
		return err
	}
	settings := renewal.Usual()
	if ans.Rule, err = renewal.RuleText(settings); err != nil {
		return err
	}
	history, err := work.HistoryOf(life, ans.Season, settings)
	if err != nil {
		return fmt.Errorf("winters of vine %s: %w", ans.Address, err)
	}
	ans.Arms, ans.Renewals = []armJSON{}, []dueJSON{}
	for _, a := range history.Arms {
		arm := armJSON{Name: a.Name, Path: a.Path, ClimbMM: a.ClimbMM, Text: a.Text(), Expect: []string{}, Cuts: []cutJSON{}}
		for _, e := range a.Expect {
			arm.Expect = append(arm.Expect, e.Text)
		}
		for _, c := range a.Cuts {
			arm.Cuts = append(arm.Cuts, cutJSON{string(c.Face), c.DiameterMM, c.Season})
		}
		ans.Arms = append(ans.Arms, arm)
	}
	planned, err := work.Renewals(ctx, s.cfg.Store, v.Block)
	if err != nil {
		return err
	}
	ans.RenewalPlans = orEmpty(planned[v.ID])
	for _, d := range renewal.Due(planned[v.ID], ans.Season) {
		ans.Renewals = append(ans.Renewals, dueOf(d))
	}
	drawing, err := work.DrawVine(ans.Address, ans.Season, system, life, history)
	if err != nil {
		return fmt.Errorf("drawing of vine %s: %w", ans.Address, err)
	}
	ans.Drawing = string(drawing)
	return nil
}

func dueOf(d renewal.DueStep) dueJSON {
	return dueJSON{Arm: d.Arm, Step: d.Step.String(), Season: d.Season, Text: d.Text}
}

// putRenewals answers PUT /api/vines/{id}/renewals: the renewals of a vine over
// several winters; none takes them away.
func (s *Server) putRenewals(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in struct {
		By    string            `json:"by"`
		Plans []renewal.Renewal `json:"plans"`
	}
	if err := readJSON(w, r, 1<<16, &in); err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.PathValue("id"), 10, 64)
	if err != nil {
		return refuse(http.StatusNotFound, "id", "%q is not the number of a vine", r.PathValue("id"))
	}
	v, err := s.cfg.Store.Vine(ctx, id)
	if err != nil {
		return fmt.Errorf("vine %d: %w", id, err)
	}
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) error { return work.SaveRenewals(tx, v, in.Plans, in.By, s.cfg.Now()) })
	if errors.Is(err, renewal.ErrPlan) {
		return refuse(http.StatusUnprocessableEntity, "plans", "%v", err)
	}
	if err != nil {
		return err
	}
	s.stands.Touched()
	return s.sendJSON(w, r, map[string]any{"plans": orEmpty(in.Plans)})
}

type renewalDueJSON struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	dueJSON
}

// getRenewals answers GET /api/blocks/{block}/pruning/renewals?season=: the steps
// that fall due in a winter.
func (s *Server) getRenewals(w http.ResponseWriter, r *http.Request) error {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	v, err := s.stands.Stand(r.Context(), h.ID, season)
	if err != nil {
		return err
	}
	planned, err := work.Renewals(r.Context(), s.cfg.Store, h.ID)
	if err != nil {
		return err
	}
	out := []renewalDueJSON{}
	for i, id := range v.Stand.Ground.ID {
		for _, d := range renewal.Due(planned[id], season) {
			out = append(out, renewalDueJSON{id, v.Stand.Ground.Address(i).String(), dueOf(d)})
		}
	}
	return s.sendJSON(w, r, map[string]any{"vines": out})
}

// cautions are shown wherever wood is told to be cut.
func cautions() []string {
	return append([]string{
		"Planning figures: look at the vine before you cut; the grower decides.",
		"Shears, saws, cold, heat, slopes and machines hurt people: gloves and eye protection, no lone work with powered shears, and the local work-safety rules apply.",
	}, renewal.WoundCare()...)
}

// overridesOrder is the body of PUT /api/blocks/{block}/pruning/overrides.
type overridesOrder struct {
	Season int       `json:"season"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	Vines  []vine.ID `json:"vines"`
	Nodes  *int      `json:"nodes"`
	Canes  *int      `json:"canes"`
	Clear  bool      `json:"clear"`
}

// putOverrides answers PUT /api/blocks/{block}/pruning/overrides.
func (s *Server) putOverrides(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var o overridesOrder
	if err := readJSON(w, r, 1<<20, &o); err != nil {
		return err
	}
	season, err := s.seasonOf(ctx, strconv.Itoa(o.Season))
	if err != nil {
		return err
	}
	h, err := s.headAsked(ctx, r.PathValue("block"))
	if err != nil {
		return err
	}
	job := work.OverrideJob{Season: season, By: o.By, Reason: o.Reason, Vines: o.Vines, Nodes: -1, Canes: -1, Clear: o.Clear, Now: s.cfg.Now()}
	if o.Nodes != nil {
		job.Nodes = *o.Nodes
	}
	if o.Canes != nil {
		job.Canes = *o.Canes
	}
	if err := s.checkOverrides(ctx, h.Block, job); err != nil {
		return err
	}
	if err := s.cfg.Store.Update(ctx, func(tx store.Tx) error { return work.SaveOverrides(ctx, tx, h.ID, job) }); err != nil {
		return err
	}
	s.stands.Touched()
	v, err := s.stands.Stand(ctx, h.ID, season)
	if err != nil {
		return err
	}
	list, err := work.Overrides(ctx, s.cfg.Store, v.Stand.Ground, season)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, orEmpty(list))
}

// checkOverrides refuses overrides with which no plan could be made.
func (s *Server) checkOverrides(ctx context.Context, b store.Block, job work.OverrideJob) error {
	v, err := s.stands.Stand(ctx, b.ID, job.Season)
	if err != nil {
		return err
	}
	for _, id := range job.Vines {
		if _, ok := v.Find(id); !ok {
			return refuse(http.StatusUnprocessableEntity, "vines", "there is no vine %d in block %s", id, b.Code)
		}
	}
	settled, err := s.stands.Standards(ctx, b)
	if err != nil {
		return err
	}
	switch most := settled.Pruning.System.CanesAtMost(); {
	case len(job.Vines) == 0:
		return refuse(http.StatusUnprocessableEntity, "vines", "no vine is named")
	case job.Clear:
		return nil
	case job.By == "" || job.Reason == "":
		return refuse(http.StatusUnprocessableEntity, "reason", "an override wants who decided it (by) and why (reason)")
	case job.Nodes == -1 && job.Canes == -1:
		return refuse(http.StatusUnprocessableEntity, "nodes", "an override names nodes, canes or both")
	case job.Nodes != -1 && (job.Nodes < 2 || job.Nodes > 250):
		return refuse(http.StatusUnprocessableEntity, "nodes", "%d nodes: 2 to 250, or -1 for as computed", job.Nodes)
	case job.Canes < -1 || job.Canes > most:
		return refuse(http.StatusUnprocessableEntity, "canes", "%d canes: the training system has 0 to %d; -1 for as computed", job.Canes, most)
	}
	return nil
}

// sendCreated sends JSON with status 201.
func (s *Server) sendCreated(w http.ResponseWriter, _ *http.Request, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusCreated)
	_, _ = w.Write(body) // the client may be gone: nobody left to tell
	return nil
}
