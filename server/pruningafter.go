package server

import (
	"bytes"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/pruning"
	"courson/geo/vine"
	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

type runsJSON struct {
	Season int           `json:"season"`
	Block  vine.ID       `json:"block"`
	Code   string        `json:"code"`
	Marks  []markJSON    `json:"marks"`
	Rows   []rowRunsJSON `json:"rows"`
	Runs   int           `json:"runs"`
	Misfit float64       `json:"misfit"`
}

type markJSON struct {
	Word   string `json:"word"`
	Colour string `json:"colour"`
	Text   string `json:"text"`
	Runs   int    `json:"runs"`
	Vines  int    `json:"vines"`
}

type rowRunsJSON struct {
	Row    vine.ID     `json:"row"`
	Label  string      `json:"label"`
	Pieces []pieceJSON `json:"pieces"`
}

type pieceJSON struct {
	From  int    `json:"from"`
	To    int    `json:"to"`
	Mark  string `json:"mark"`
	Text  string `json:"text"`
	Vines int    `json:"vines"`
	Alone bool   `json:"alone"`
}

// getPruningRuns answers /api/blocks/{block}/pruning/runs.
func (s *Server) getPruningRuns(w http.ResponseWriter, r *http.Request) error {
	cut, h, err := s.cutRuns(r)
	if err != nil {
		return err
	}
	ans := runsJSON{Season: cut.Season, Block: h.ID, Code: cut.Code, Runs: cut.Runs, Misfit: cut.Misfit, Marks: []markJSON{}, Rows: []rowRunsJSON{}}
	for _, k := range cut.Key {
		ans.Marks = append(ans.Marks, markJSON{k.Mark.Word, k.Mark.Color, k.Instruction.String(), k.Runs, k.Vines})
	}
	for _, row := range cut.Rows {
		out := rowRunsJSON{Row: row.Row, Label: row.Label, Pieces: []pieceJSON{}}
		for _, p := range row.Pieces {
			out.Pieces = append(out.Pieces, pieceJSON{p.From, p.To, p.Mark.Word, p.Instruction.String(), p.Vines, p.Pinned})
		}
		ans.Rows = append(ans.Rows, out)
	}
	return s.sendJSON(w, r, ans)
}

// getPruningRunsCSV answers /api/blocks/{block}/pruning/runs.csv.
func (s *Server) getPruningRunsCSV(w http.ResponseWriter, r *http.Request) error {
	cut, _, err := s.cutRuns(r)
	if err != nil {
		return err
	}
	var body bytes.Buffer
	if err := work.WriteRuns(&body, []*work.Runs{cut}); err != nil {
		return fmt.Errorf("list of marks: %w", err)
	}
	return sendFile(w, r, fmt.Sprintf("%s-%d-runs.csv", cut.Code, cut.Season), "text/csv; charset=utf-8", body.Bytes())
}

type compareJSON struct {
	Now       int64          `json:"now"`
	With      int64          `json:"with"`
	Vines     int            `json:"vines"`
	Changed   int            `json:"changed"`
	NodesNow  int            `json:"nodes_now"`
	NodesWith int            `json:"nodes_with"`
	More      int            `json:"more"`
	Fewer     int            `json:"fewer"`
	List      []work.Changed `json:"list"`
}

// getPruningCompare answers /api/blocks/{block}/pruning/compare?season=&with=.
func (s *Server) getPruningCompare(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	id, err := strconv.ParseInt(r.URL.Query().Get("with"), 10, 64)
	if err != nil {
		return refuse(http.StatusBadRequest, "with", "%q is not the number of a version", r.URL.Query().Get("with"))
	}
	other, with, err := work.ReadVersion(ctx, s.cfg.Store, id)
	if err != nil {
		return err
	}
	if other.Block != h.ID || other.Kind != store.PlanPruning {
		return refuse(http.StatusNotFound, "with", "version %d is not a pruning plan of block %s", id, h.Code)
	}
	head, now, err := work.ReadPlan(ctx, s.cfg.Store, h.ID, season)
	if err != nil {
		return err
	}
	if head == nil {
		return work.ErrNoPlan(h.Code, season)
	}
	v, err := s.stands.Stand(ctx, h.ID, season)
	if err != nil {
		return err
	}
	c := work.ComparePlans(v.Stand.Ground, now, with)
	return s.sendJSON(w, r, compareJSON{head.ID, id, c.Vines, c.Changed, c.NodesNow, c.NodesWith, c.More, c.Fewer, c.List})
}

type practiceJSON struct {
	Vines []practiceVine `json:"vines"`
}

type practiceVine struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Text    string  `json:"text"`
	Nodes   int     `json:"nodes"`
}

// mostPractice is the longest list for a first morning.
const mostPractice = 200

// getPruningPractice answers /api/blocks/{block}/pruning/practice.
func (s *Server) getPruningPractice(w http.ResponseWriter, r *http.Request) error {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	number, seed := pruning.PracticeVines, uint64(0)
	if text := r.URL.Query().Get("number"); text != "" {
		if number, err = strconv.Atoi(text); err != nil || number < 1 || number > mostPractice {
			return refuse(http.StatusBadRequest, "number", "%q is not a number of vines from 1 to %d", text, mostPractice)
		}
	}
	if text := r.URL.Query().Get("seed"); text != "" {
		if seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			return refuse(http.StatusBadRequest, "seed", "%q is not a whole number", text)
		}
	}
	v, plan, err := s.planInUse(r.Context(), h, season)
	if err != nil {
		return err
	}
	ans := practiceJSON{Vines: []practiceVine{}}
	for _, i := range work.Practice(v.Stand, plan, number, seed) {
		p := plan[v.Stand.Ground.ID[i]]
		ans.Vines = append(ans.Vines, practiceVine{p.Vine, v.Stand.Ground.Address(i).String(), p.Text(), p.Nodes})
	}
	return s.sendJSON(w, r, ans)
}

type leftJSON struct {
	All      pruning.Departure   `json:"all"`
	Rows     []pruning.Departure `json:"rows"`
	Pruners  []pruning.Departure `json:"pruners"`
	Budburst *pruning.Budburst   `json:"budburst"`
	Treated  *pruning.Difference `json:"treated"`
	Why      string              `json:"why"`
}

// getPruningLeft answers /api/blocks/{block}/pruning/left?season=.
func (s *Server) getPruningLeft(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	v, plan, err := s.planInUse(ctx, h, season)
	if err != nil {
		return err
	}
	next, err := s.seasonAfter(r, h, season)
	if err != nil {
		return err
	}
	a, err := work.CompareLeft(ctx, s.cfg.Store, v.Stand, plan, next)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, leftJSON{a.All, orEmpty(a.Rows), orEmpty(a.Pruners), a.Budburst, a.Treated, a.Why})
}

// seasonAfter gives what was measured in the season after, nil where nothing is
// recorded of it.
func (s *Server) seasonAfter(r *http.Request, h *stands.Head, season int) (*work.Measured, error) {
	known, err := s.stands.Seasons(r.Context())
	if err != nil {
		return nil, err
	}
	for _, k := range known {
		if k == season+1 {
			m, _, err := s.desk.Measured(r.Context(), findings.Key{Block: h.ID, Season: season + 1})
			return &m, err
		}
	}
	return nil, nil
}

type followJSON struct {
	Vines []work.FollowUp `json:"vines"`
	Count int             `json:"count"` // left to do
}

// getFollowUps answers /api/blocks/{block}/pruning/follow-ups?season=.
func (s *Server) getFollowUps(w http.ResponseWriter, r *http.Request) error {
	list, _, _, err := s.followUps(r)
	if err != nil {
		return err
	}
	ans := followJSON{Vines: list}
	for _, f := range list {
		if !f.Done {
			ans.Count++
		}
	}
	return s.sendJSON(w, r, ans)
}

// getFollowUpsCSV answers /api/blocks/{block}/pruning/follow-ups.csv?season=.
func (s *Server) getFollowUpsCSV(w http.ResponseWriter, r *http.Request) error {
	list, h, season, err := s.followUps(r)
	if err != nil {
		return err
	}
	var body bytes.Buffer
	if err := work.WriteFollowUps(&body, season, list); err != nil {
		return fmt.Errorf("list of follow-ups: %w", err)
	}
	return sendFile(w, r, fmt.Sprintf("%s-%d-follow-ups.csv", h.Code, season), "text/csv; charset=utf-8", body.Bytes())
}

func (s *Server) followUps(r *http.Request) ([]work.FollowUp, *stands.Head, int, error) {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return nil, nil, 0, err
	}
	v, err := s.stands.Stand(r.Context(), h.ID, season)
	if err != nil {
		return nil, nil, 0, err
	}
	_, plan, err := work.ReadPlan(r.Context(), s.cfg.Store, h.ID, season)
	if err != nil {
		return nil, nil, 0, err
	}
	return work.FollowUps(v.Stand, plan), h, season, nil
}
