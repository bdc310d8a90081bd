package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strconv"

	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// replantsJSON is what the record of a block says of gaps, and what could be
// done about them: advice with its sums, no verdict.
type replantsJSON struct {
	Block      vine.ID             `json:"block"`
	Code       string              `json:"code"`
	Season     int                 `json:"season"`
	Variety    string              `json:"variety"`
	Clone      string              `json:"clone"`
	Rootstock  string              `json:"rootstock"`
	Counts     map[string]int      `json:"counts"` // positions by what is taken to stand there
	Full       replant.Rate        `json:"gap_rate"`
	Candidates []candidateJSON     `json:"candidates"`
	Review     []reviewRowJSON     `json:"review"`
	Limits     []replant.LimitNote `json:"limits"`
	Outlook    replant.Outlook     `json:"outlook"`
	Comparison *replant.Comparison `json:"comparison"`
	Why        string              `json:"why"`
	Losses     replant.LossTable   `json:"losses"`
	Places     []placeJSON         `json:"places"`
	Settled    settledJSON         `json:"settled"`
	Evidence   []evidenceJSON      `json:"evidence"`
	Order      *replant.Order      `json:"order"`
	Cautions   []string            `json:"cautions"`
}

type candidateJSON struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Action  string  `json:"action"`
	Text    string  `json:"text"`
	Lon     float64 `json:"lon"`
	Lat     float64 `json:"lat"`
	// What each source said of the place, and when.
	Said []replant.Said `json:"said"`
}

type reviewRowJSON struct {
	Row   string           `json:"row"`
	Items []reviewItemJSON `json:"items"`
}

type reviewItemJSON struct {
	ID      vine.ID  `json:"id"`
	Address string   `json:"address"`
	State   string   `json:"state"`
	Run     int      `json:"run"`
	Reasons []string `json:"reasons"`

	Day            string         `json:"day"`        // of what decided; "" none
	LookAgain      string         `json:"look_again"` // of a doubtful one
	Confirmed      bool           `json:"confirmed"`
	Contradictions []string       `json:"contradictions"`
	Said           []replant.Said `json:"said"`
}

type placeJSON struct {
	ID        vine.ID  `json:"id"`
	Address   string   `json:"address"`
	Stage     string   `json:"stage"`
	Since     string   `json:"since"`
	Batch     string   `json:"batch"`
	Grade     string   `json:"grade"`
	Cultivar  string   `json:"cultivar"`
	Clone     string   `json:"clone"`
	Rootstock string   `json:"rootstock"`
	Next      []string `json:"next"`
}

// getReplants answers /api/blocks/{block}/replants?season=&plant_on=.
func (s *Server) getReplants(w http.ResponseWriter, r *http.Request) error {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	ans, err := s.replantsOf(r, h, season)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

func (s *Server) replantsOf(r *http.Request, h *stands.Head, season int) (*replantsJSON, error) {
	ctx := r.Context()
	got, err := s.planReplants(ctx, h.ID, season)
	if err != nil {
		return nil, err
	}
	g := got.Stand.Ground
	ans := &replantsJSON{Block: h.ID, Code: h.Code, Season: season, Variety: h.Variety, Clone: h.Clone, Rootstock: h.Rootstock, Counts: map[string]int{}, Full: got.Full,
		Candidates: []candidateJSON{}, Review: []reviewRowJSON{}, Limits: orEmpty(got.Limits), Outlook: got.Outlook, Comparison: got.Comparison, Why: got.Why, Losses: got.Losses, Places: []placeJSON{}, Cautions: replant.Cautions()}
	for i := range g.ID {
		ans.Counts[got.Findings.Verdicts[i].State.String()]++
	}
	for _, c := range got.Candidates {
		lon, lat := stand.Degrees(g.WX[c.Vine], g.WY[c.Vine])
		ans.Candidates = append(ans.Candidates, candidateJSON{g.ID[c.Vine], c.Address, c.Action.String(), c.Text, lon, lat, orEmpty(got.Findings.Said(c.Vine))})
	}
	for _, row := range got.Review {
		out := reviewRowJSON{Row: row.Label, Items: []reviewItemJSON{}}
		for _, item := range row.Items {
			out.Items = append(out.Items, reviewItemOf(got, item))
		}
		ans.Review = append(ans.Review, out)
	}
	for _, p := range got.Places {
		j := placeJSON{ID: p.Vine, Stage: p.Stage.String(), Since: p.Since.String(), Batch: p.Batch, Grade: p.Grade, Cultivar: p.Cultivar, Clone: p.Clone, Rootstock: p.Rootstock, Next: []string{}}
		if i, ok := g.IndexOf(p.Vine); ok {
			j.Address = g.Address(i).String()
		}
		for _, next := range p.Stage.Next() {
			j.Next = append(j.Next, next.String())
		}
		ans.Places = append(ans.Places, j)
	}
	ans.Settled, ans.Evidence = settledOf(got, got.Settled), evidenceOf(got.Kept)
	ans.Order, err = s.nurseryOrder(r, got.Needs, h.Block)
	return ans, err
}

// planReplants gathers a block and works its replants out.
func (s *Server) planReplants(ctx context.Context, block vine.ID, season int) (*work.Replants, error) {
	blocks, err := s.shareBlocks(ctx, season, []vine.ID{block})
	if err != nil {
		return nil, err
	}
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return nil, err
	}
	job := work.ReplantJob{Block: blocks[0], Zone: zone, Today: s.cfg.Now()}
	if job.Moves, err = work.ReplantMoves(ctx, s.cfg.Store, block); err != nil {
		return nil, err
	}
	for back := 1; back < blocks[0].Settled.Replants.Rules.WeakWinters; back++ {
		v, err := s.stands.Stand(ctx, block, season-back)
		if err != nil {
			return nil, err
		}
		if v.Stand.Ground != blocks[0].Stand.Ground {
			break
		}
		job.Past = append(job.Past, v.Stand)
	}
	return work.PlanReplants(ctx, s.cfg.Store, job)
}

// nurseryOrder writes the order for needs; ?plant_on=2027-09-01 is the day of
// planting, ?potted=1 potted plants.
func (s *Server) nurseryOrder(r *http.Request, needs []replant.Need, b store.Block) (*replant.Order, error) {
	if len(needs) == 0 {
		return nil, nil
	}
	settled, err := s.stands.Standards(r.Context(), b)
	if err != nil {
		return nil, err
	}
	zone, err := s.zoneOf(r.Context())
	if err != nil {
		return nil, err
	}
	when := replant.When{Today: replant.DayOf(s.cfg.Now(), zone), Potted: r.URL.Query().Get("potted") == "1"}
	if text := r.URL.Query().Get("plant_on"); text != "" {
		if when.PlantOn, err = replant.ParseDay(text); err != nil {
			return nil, refuse(http.StatusBadRequest, "plant_on", "%q is not a day such as 2027-09-01", text)
		}
	}
	return replant.OrderPlants(needs, nil, settled.Replants.Order, when)
}

// estateReplantsJSON sums up all blocks and the order for the nursery.
type estateReplantsJSON struct {
	Season int                  `json:"season"`
	Blocks []blockReplantsJSON  `json:"blocks"`
	Order  *replant.Order       `json:"order"`
	Limits map[string][]vine.ID `json:"beyond"` // blocks beyond each limit
}

type blockReplantsJSON struct {
	Block     vine.ID `json:"block"`
	Code      string  `json:"code"`
	Variety   string  `json:"variety"`
	Positions int     `json:"positions"`
	Gaps      int     `json:"gaps"`
	Share     float64 `json:"share"`
	Replace   int     `json:"replace"` // candidates to be replaced
	Look      int     `json:"look"`
	Test      int     `json:"test"`
	OnTheWay  int     `json:"on_the_way"`
	Advice    string  `json:"advice"`
}

// getEstateReplants answers /api/replants?season=&plant_on=.
func (s *Server) getEstateReplants(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	heads, err := s.stands.Heads(ctx)
	if err != nil {
		return err
	}
	ans := estateReplantsJSON{Season: season, Blocks: []blockReplantsJSON{}, Limits: map[string][]vine.ID{}}
	var needs []replant.Need
	for _, h := range heads {
		got, err := s.planReplants(ctx, h.ID, season)
		if err != nil {
			return err
		}
		j := blockReplantsJSON{Block: h.ID, Code: h.Code, Variety: h.Variety, Positions: got.Full.Positions, Gaps: got.Full.Gaps, Share: got.Full.Share, OnTheWay: len(got.Places)}
		for _, c := range got.Candidates {
			switch c.Action {
			case replant.ActReplace:
				j.Replace++
			case replant.ActLook:
				j.Look++
			case replant.ActTest:
				j.Test++
			}
		}
		if got.Comparison != nil && len(got.Comparison.Advice) > 0 {
			j.Advice = got.Comparison.Advice[0]
		}
		for _, l := range got.Limits {
			if l.Beyond {
				ans.Limits[l.Key] = append(ans.Limits[l.Key], h.ID)
			}
		}
		needs = append(needs, got.Needs...)
		ans.Blocks = append(ans.Blocks, j)
	}
	if ans.Order, err = s.nurseryOrder(r, needs, store.Block{}); err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

// replantStep is one step of one or more places.
type replantSteps struct {
	By    string    `json:"by"`
	Vines []vine.ID `json:"vines"`
	To    string    `json:"to"`
	Day   string    `json:"day"`
	Batch string    `json:"batch"`
	Note  string    `json:"note"`
	// Of the plants, for ordered and planted; left out: as the nursery's order says.
	Grade     string `json:"grade"`
	Cultivar  string `json:"cultivar"`
	Clone     string `json:"clone"`
	Rootstock string `json:"rootstock"`
}

// postReplantSteps answers POST /api/blocks/{block}/replants/steps: all or none.
func (s *Server) postReplantSteps(w http.ResponseWriter, r *http.Request) error {
	ctx := r.Context()
	var in replantSteps
	if err := readJSON(w, r, 1<<20, &in); err != nil {
		return err
	}
	h, err := s.headAsked(ctx, r.PathValue("block"))
	if err != nil {
		return err
	}
	span, err := s.seasons(ctx)
	if err != nil {
		return err
	}
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return err
	}
	moves, err := in.moves(replant.DayOf(s.cfg.Now(), zone))
	if err != nil {
		return err
	}
	v, err := s.stands.Stand(ctx, h.ID, span.open)
	if err != nil {
		return err
	}
	err = s.cfg.Store.Update(ctx, func(tx store.Tx) error {
		return work.AddReplantMoves(ctx, tx, v.Stand.Ground, moves, in.By, s.cfg.Now())
	})
	if errors.Is(err, replant.ErrStep) {
		return refuse(http.StatusUnprocessableEntity, "to", "%v", err)
	}
	if err != nil {
		return err
	}
	s.stands.Touched()
	ans, err := s.replantsOf(r, h, span.open)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, map[string]any{"places": ans.Places, "order": ans.Order})
}

func (in replantSteps) moves(today replant.Day) ([]replant.Move, error) {
	if len(in.Vines) == 0 {
		return nil, refuse(http.StatusUnprocessableEntity, "vines", "no vine is named")
	}
	to, err := replant.ParseStage(in.To)
	if err != nil {
		return nil, refuse(http.StatusUnprocessableEntity, "to", "%v", err)
	}
	day := today
	if in.Day != "" {
		if day, err = replant.ParseDay(in.Day); err != nil {
			return nil, refuse(http.StatusUnprocessableEntity, "day", "%q is not a day such as 2027-09-01", in.Day)
		}
	}
	out := make([]replant.Move, len(in.Vines))
	for i, id := range in.Vines {
		out[i] = replant.Move{Vine: id, To: to, Day: day, By: in.By, Batch: in.Batch, Note: in.Note, Grade: in.Grade, Sort: replant.Sort{Cultivar: in.Cultivar, Clone: in.Clone, Rootstock: in.Rootstock}}
	}
	return out, nil
}

// getReplantsCSV answers /api/replants.csv?season=: one line for every candidate
// and every place on its way.
func (s *Server) getReplantsCSV(w http.ResponseWriter, r *http.Request) error {
	season, err := s.seasonAsked(r)
	if err != nil {
		return err
	}
	heads, err := s.stands.Heads(r.Context())
	if err != nil {
		return err
	}
	t := newTable("address", "courson_id", "block", "variety", "clone", "rootstock", "what", "stage", "since", "batch", "reason", "lon", "lat")
	for _, h := range heads {
		got, err := s.planReplants(r.Context(), h.ID, season)
		if err != nil {
			return err
		}
		g := got.Stand.Ground
		stage := map[vine.ID]replant.Place{}
		for _, p := range got.Places {
			stage[p.Vine] = p
		}
		for _, c := range got.Candidates {
			lon, lat := stand.Degrees(g.WX[c.Vine], g.WY[c.Vine])
			p, on := stage[g.ID[c.Vine]]
			st, since := "", ""
			if on {
				st, since = p.Stage.String(), p.Since.String()
			}
			t.row(c.Address, strconv.FormatInt(g.ID[c.Vine], 10), h.Code, h.Variety, h.Clone, h.Rootstock, c.Action.String(), st, since, p.Batch, c.Text,
				strconv.FormatFloat(lon, 'f', 8, 64), strconv.FormatFloat(lat, 'f', 8, 64))
		}
	}
	return t.send(w, r, fmt.Sprintf("replants-%d.csv", season))
}
