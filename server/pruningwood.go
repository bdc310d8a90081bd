package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
	"courson/server/work"
	"courson/store"
)

// woodOrder is the body of POST /api/pruning/renewal.
type woodOrder struct {
	Vine         vine.ID    `json:"vine"` // 0: none that is known here
	Season       int        `json:"season"`
	Canes        int        `json:"canes"`          // that the vine is to carry
	ClimbLimitMM float64    `json:"climb_limit_mm"` // 0: the usual
	Last         string     `json:"last"`           // the arm that carried the cane last winter
	Arms         []armShape `json:"arms"`
}

type armShape struct {
	Name        string       `json:"name"`
	BelowWireMM *float64     `json:"below_wire_mm"`
	Shoots      []shootShape `json:"shoots"`
}

// shootShape is a candidate as it was looked at; lengths and diameters in mm, 0 not
// measured.
type shootShape struct {
	On           renewal.Place  `json:"on"`
	Node         int            `json:"node"`
	OutMM        float64        `json:"out_mm"`
	WoodYears    int            `json:"wood_years"`
	Faces        renewal.Facing `json:"faces"`
	BaseMM       float64        `json:"base_mm"`
	InternodeMM  float64        `json:"internode_mm"`
	DiameterMM   float64        `json:"diameter_mm"`
	Sound        bool           `json:"sound"`
	BaseBudSound bool           `json:"base_bud_sound"`
}

type woodJSON struct {
	Arms     []armChoiceJSON `json:"arms"`
	Keep     *keepJSON       `json:"keep"`
	Cautions []string        `json:"cautions"`
}

type keepJSON struct {
	Arm  string `json:"arm"`
	Free bool   `json:"free"`
	Text string `json:"text"`
}

// armChoiceJSON is a choice; shoots are counted from 1, as they were given.
type armChoiceJSON struct {
	Name         string            `json:"name"`
	Spur         *spurJSON         `json:"spur"`
	Cane         *caneJSON         `json:"cane"`
	Rebuild      *spurJSON         `json:"rebuild"`
	FollowUps    []string          `json:"follow_ups"`
	Alternatives []alternativeJSON `json:"alternatives"`
	Unusable     []unusableJSON    `json:"unusable"`
	Alarms       []string          `json:"alarms"`
	Notes        []string          `json:"notes"`
	Rule         []string          `json:"rule"`
}

type spurJSON struct {
	Shoot      int     `json:"shoot"`
	Nodes      int     `json:"nodes"`
	Text       string  `json:"text"`
	ClimbMM    float64 `json:"climb_mm"`
	ClimbKnown bool    `json:"climb_known"`
	Drawback   string  `json:"drawback"`
}

type caneJSON struct {
	Shoot   int             `json:"shoot"`
	Verdict renewal.Verdict `json:"verdict"`
	Why     string          `json:"why"`
}

type alternativeJSON struct {
	Shoot    int    `json:"shoot"`
	Text     string `json:"text"`
	Drawback string `json:"drawback"`
}

type unusableJSON struct {
	Shoot  int    `json:"shoot"`
	Reason string `json:"reason"`
}

// mostArms and mostShoots bound a question, chosen by us.
const (
	mostArms   = 12
	mostShoots = 60
)

// postRenewal answers POST /api/pruning/renewal: which spur and which cane to keep
// of the shoots that stand on each arm. With a vine, what is recorded of it and the
// standards of its block count too. Nothing is kept.
func (s *Server) postRenewal(w http.ResponseWriter, r *http.Request) error {
	var in woodOrder
	if err := readJSON(w, r, 1<<16, &in); err != nil {
		return err
	}
	if len(in.Arms) == 0 || len(in.Arms) > mostArms {
		return refuse(http.StatusUnprocessableEntity, "arms", "found %d arms, wanted 1 to %d", len(in.Arms), mostArms)
	}
	if in.Canes < 0 || in.Canes > mostArms {
		return refuse(http.StatusUnprocessableEntity, "canes", "found %d canes, wanted 0 to %d", in.Canes, mostArms)
	}
	job := work.WoodJob{Canes: in.Canes, Last: in.Last, Settings: renewal.Usual()}
	if in.Vine != 0 {
		if err := s.knownOfVine(r.Context(), in, &job); err != nil {
			return err
		}
	}
	if in.ClimbLimitMM != 0 {
		job.Settings.ClimbLimitMM = in.ClimbLimitMM
	}
	for _, a := range in.Arms {
		if len(a.Shoots) > mostShoots {
			return refuse(http.StatusUnprocessableEntity, "arms", "arm %q has %d shoots, at most %d are looked at", a.Name, len(a.Shoots), mostShoots)
		}
		job.Arms = append(job.Arms, a.arm())
	}
	wood, err := work.ChooseWood(job)
	if errors.Is(err, renewal.ErrShoot) || errors.Is(err, renewal.ErrSetting) {
		return refuse(http.StatusUnprocessableEntity, "arms", "%v", err)
	}
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, woodOf(wood))
}

// knownOfVine puts in what is recorded of a vine and what its block's standards say.
func (s *Server) knownOfVine(ctx context.Context, in woodOrder, job *work.WoodJob) error {
	v, err := s.cfg.Store.Vine(ctx, in.Vine)
	if err != nil {
		return fmt.Errorf("vine %d: %w", in.Vine, err)
	}
	h, err := s.stands.Head(ctx, v.Block)
	if err != nil {
		return err
	}
	settled, err := s.stands.Standards(ctx, h.Block)
	if err != nil {
		return err
	}
	job.Settings = work.RenewalSettings(settled.Pruning.Wood)
	life, err := s.lifeOf(ctx, v)
	if err != nil {
		return err
	}
	job.History, err = work.HistoryOf(life, in.Season, job.Settings)
	return err
}

// lifeOf folds all that was recorded of a vine.
func (s *Server) lifeOf(ctx context.Context, v store.Vine) (vine.Life, error) {
	events, err := s.cfg.Store.Events(ctx, store.EventQuery{Block: v.Block, Vine: v.ID})
	if err != nil {
		return vine.Life{}, fmt.Errorf("events of vine %d: %w", v.ID, err)
	}
	return vine.Fold(vine.Place{ID: v.ID, Row: v.Row, Block: v.Block, Planted: v.Planted}, plain(events)), nil
}

func (a armShape) arm() renewal.Arm {
	arm := renewal.Arm{Name: a.Name, BelowWireMM: a.BelowWireMM}
	for _, s := range a.Shoots {
		arm.Shoots = append(arm.Shoots, renewal.Shoot(s))
	}
	return arm
}

func woodOf(w work.Wood) woodJSON {
	out := woodJSON{Cautions: cautions()}
	if w.Keep != nil {
		out.Keep = &keepJSON{w.Keep.Arm, w.Keep.Free, w.Keep.Text}
	}
	for _, c := range w.Arms {
		out.Arms = append(out.Arms, armChoiceOf(c))
	}
	return out
}

func armChoiceOf(c renewal.Choice) armChoiceJSON {
	out := armChoiceJSON{Name: c.Arm, Spur: spurOf(c.Spur), Rebuild: spurOf(c.Rebuild), FollowUps: []string{}, Alternatives: []alternativeJSON{},
		Unusable: []unusableJSON{}, Alarms: []string{}, Notes: orEmpty(c.Notes), Rule: orEmpty(c.Rule)}
	if c.Cane != nil {
		out.Cane = &caneJSON{c.Cane.Shoot + 1, c.Cane.Verdict, c.Cane.Why}
	}
	for _, f := range c.FollowUps {
		out.FollowUps = append(out.FollowUps, f.Text)
	}
	for _, a := range c.Alternatives {
		out.Alternatives = append(out.Alternatives, alternativeJSON{a.Shoot + 1, a.Text, a.Drawback})
	}
	for _, u := range c.Unusable {
		out.Unusable = append(out.Unusable, unusableJSON{u.Shoot + 1, u.Reason})
	}
	for _, a := range c.Alarms {
		out.Alarms = append(out.Alarms, a.Text)
	}
	return out
}

func spurOf(p *renewal.Spur) *spurJSON {
	if p == nil {
		return nil
	}
	return &spurJSON{p.Shoot + 1, p.Nodes, p.Text(), p.ClimbMM, p.ClimbKnown, p.Drawback}
}
