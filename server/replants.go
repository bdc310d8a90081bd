package server

import (
	"context"
	"encoding/json"
	"errors"
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
	Today      replant.Day         `json:"today"` // in the estate's time zone
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

	Sources  []work.SourceCount    `json:"by_source"`
	Sample   *work.RowSample       `json:"sample"` // null: fewer than two rows
	Survival []work.BatchSurvival  `json:"survival"`
	Layers   []string              `json:"layers"` // what is to be told of layered vines
	Settings work.ReplantStandards `json:"settings"`
	Figures  []replant.Figure      `json:"figures"` // where the defaults of the settings are from
	Case     caseJSON              `json:"case"`
}

// caseJSON is the block as the sums take it.
type caseJSON struct {
	AreaHa    float64 `json:"area_ha"`
	Positions int     `json:"positions"`
	Gaps      int     `json:"gaps"`
	Remaining int     `json:"remaining"` // seasons that it stands where it is left or filled
	Horizon   int     `json:"horizon"`   // years compared
}

func caseOf(c replant.BlockCase) caseJSON {
	return caseJSON{c.AreaHa, c.Positions, c.Gaps, c.Remaining, c.Horizon}
}

type candidateJSON struct {
	vinePlaceJSON
	Action  string   `json:"action"`
	Text    string   `json:"text"`
	Reasons []string `json:"reasons"`
	Stands  string   `json:"stands"`
	Again   string   `json:"look_again"` // of a doubtful one
	// What each source said of the place, and when.
	Said []replant.Said `json:"said"`
}

// vinePlaceJSON says which place is meant, and where it is.
type vinePlaceJSON struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Row     string  `json:"row"`
	RowID   vine.ID `json:"row_id"`
	Number  int     `json:"number"`
	Lon     float64 `json:"lon"`
	Lat     float64 `json:"lat"`
}

func placeOfVine(r *work.Replants, i int) vinePlaceJSON {
	g := r.Stand.Ground
	lon, lat := stand.Degrees(g.WX[i], g.WY[i])
	label, row, number := r.RowOfVine(i)
	return vinePlaceJSON{g.ID[i], g.Address(i).String(), label, row, number, lon, lat}
}

type reviewRowJSON struct {
	Row   string           `json:"row"`
	Items []reviewItemJSON `json:"items"`
}

type reviewItemJSON struct {
	vinePlaceJSON
	State          string         `json:"state"`
	Day            string         `json:"day"`        // of what decided; "" none
	LookAgain      string         `json:"look_again"` // of a doubtful one
	Confirmed      bool           `json:"confirmed"`
	Contradictions []string       `json:"contradictions"`
	Run            int            `json:"run"`
	Reasons        []string       `json:"reasons"`
	Said           []replant.Said `json:"said"`
}

type placeJSON struct {
	vinePlaceJSON
	Stage     string   `json:"stage"`
	Since     string   `json:"since"`
	Batch     string   `json:"batch"`
	Grade     string   `json:"grade"`
	Cultivar  string   `json:"cultivar"`
	Clone     string   `json:"clone"`
	Rootstock string   `json:"rootstock"`
	By        string   `json:"by"`
	Note      string   `json:"note"`
	Next      []string `json:"next"`
}

// replantWish is what of a block's replants is asked for.
type replantWish struct {
	Season   int             `json:"season"`
	Settings json.RawMessage `json:"settings"` // in place of those in force, key by key
	PlantOn  string          `json:"plant_on"`
	Potted   bool            `json:"potted"`
	Sample   work.SampleWish `json:"sample"`
}

// sampleRows is how many rows are drawn where nobody says: ten, as in the example
// of Determining the number of replacement vines, Oenopedia.
const sampleRows = 10

// getReplants answers /api/blocks/{block}/replants?season=&plant_on=&potted=&rows=&seed=.
func (s *Server) getReplants(w http.ResponseWriter, r *http.Request) error {
	season, h, err := s.blockSeason(r)
	if err != nil {
		return err
	}
	q := r.URL.Query()
	wish := replantWish{Season: season, PlantOn: q.Get("plant_on"), Potted: q.Get("potted") == "1"}
	if wish.Sample, err = sampleAsked(q.Get("rows"), q.Get("seed")); err != nil {
		return err
	}
	ans, err := s.replantsOf(r.Context(), h, wish)
	if err != nil {
		return err
	}
	return s.sendJSON(w, r, ans)
}

func sampleAsked(rows, seed string) (w work.SampleWish, err error) {
	w.Rows, w.Seed = sampleRows, 1
	if rows != "" {
		if w.Rows, err = strconv.Atoi(rows); err != nil {
			return w, refuse(http.StatusBadRequest, "rows", "%q is not a number of rows", rows)
		}
	}
	if seed != "" {
		if w.Seed, err = strconv.ParseUint(seed, 10, 53); err != nil {
			return w, refuse(http.StatusBadRequest, "seed", "%q is not a whole number", seed)
		}
	}
	return w, nil
}

func (s *Server) replantsOf(ctx context.Context, h *stands.Head, wish replantWish) (*replantsJSON, error) {
	if wish.Sample.Rows < 2 || wish.Sample.Rows > work.MostSampleRows {
		return nil, refuse(http.StatusBadRequest, "rows", "%d rows: a sample has 2 to %d", wish.Sample.Rows, work.MostSampleRows)
	}
	got, set, err := s.planReplants(ctx, h.ID, wish.Season, wish.Settings)
	if err != nil {
		return nil, err
	}
	ans := &replantsJSON{Block: h.ID, Code: h.Code, Season: wish.Season, Today: got.Today, Variety: h.Variety, Clone: h.Clone, Rootstock: h.Rootstock, Counts: map[string]int{}, Full: got.Full,
		Sources: got.BySource(), Survival: got.Survival, Layers: orEmpty(got.Layers), Settings: set, Figures: replant.Figures(), Case: caseOf(got.Case),
		Candidates: []candidateJSON{}, Review: []reviewRowJSON{}, Limits: orEmpty(got.Limits), Outlook: got.Outlook, Comparison: got.Comparison, Why: got.Why, Losses: got.Losses, Places: []placeJSON{}, Cautions: replant.Cautions()}
	ans.list(got)
	ans.Sample, err = got.Sample(wish.Sample)
	if errors.Is(err, replant.ErrInput) {
		return nil, refuse(http.StatusUnprocessableEntity, "sample", "%v", err)
	}
	if err != nil {
		return nil, err
	}
	ans.Order, err = s.nurseryOrder(ctx, got.Needs, set, wish)
	return ans, err
}

// list writes what is told place by place.
func (ans *replantsJSON) list(got *work.Replants) {
	g := got.Stand.Ground
	for i := range g.ID {
		ans.Counts[got.Findings.Verdicts[i].State.String()]++
	}
	for _, c := range got.Candidates {
		ans.Candidates = append(ans.Candidates, candidateJSON{placeOfVine(got, c.Vine), c.Action.String(), c.Text, work.WhyWords(c.Why), got.Findings.Verdicts[c.Vine].State.String(), dayText(got.Findings.Verdicts[c.Vine].LookAgain), orEmpty(got.Findings.Said(c.Vine))})
	}
	for _, row := range got.Review {
		out := reviewRowJSON{Row: row.Label, Items: []reviewItemJSON{}}
		for _, item := range row.Items {
			out.Items = append(out.Items, reviewItemOf(got, item))
		}
		ans.Review = append(ans.Review, out)
	}
	for _, p := range got.Places {
		i, ok := g.IndexOf(p.Vine)
		if !ok {
			continue
		}
		ans.Places = append(ans.Places, stepsOf(placeOfVine(got, i), p))
	}
	ans.Settled, ans.Evidence = settledOf(got, got.Settled), evidenceOf(got.Kept)
}

// stepsOf tells how far a place has come, and what can follow.
func stepsOf(at vinePlaceJSON, p replant.Place) placeJSON {
	j := placeJSON{vinePlaceJSON: at, Stage: p.Stage.String(), Since: p.Since.String(), Batch: p.Batch, Grade: p.Grade, Cultivar: p.Cultivar, Clone: p.Clone, Rootstock: p.Rootstock, Next: []string{}}
	if n := len(p.Moves); n > 0 {
		j.By, j.Note = p.Moves[n-1].By, p.Moves[n-1].Note
	}
	for _, next := range p.Stage.Next() {
		j.Next = append(j.Next, next.String())
	}
	return j
}

// dayText writes a day, nothing where there is none.
func dayText(d replant.Day) string {
	if d == 0 {
		return ""
	}
	return d.String()
}

// planReplants gathers a block and works its replants out, with settings in place
// of those in force where there are any.
func (s *Server) planReplants(ctx context.Context, block vine.ID, season int, settings json.RawMessage) (*work.Replants, work.ReplantStandards, error) {
	var set work.ReplantStandards
	blocks, err := s.shareBlocks(ctx, season, []vine.ID{block})
	if err != nil {
		return nil, set, err
	}
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return nil, set, err
	}
	if set, err = work.ReplantSettings(blocks[0].Settled.Replants, settings); err != nil {
		return nil, set, refuse(http.StatusUnprocessableEntity, "settings", "%v", err)
	}
	blocks[0].Settled.Replants = set
	job := work.ReplantJob{Block: blocks[0], Zone: zone, Today: s.cfg.Now()}
	if job.Moves, err = work.ReplantMoves(ctx, s.cfg.Store, block); err != nil {
		return nil, set, err
	}
	for back := 1; back < blocks[0].Settled.Replants.Rules.WeakWinters; back++ {
		v, err := s.stands.Stand(ctx, block, season-back)
		if err != nil {
			return nil, set, err
		}
		if v.Stand.Ground != blocks[0].Stand.Ground {
			break
		}
		job.Past = append(job.Past, v.Stand)
	}
	got, err := work.PlanReplants(ctx, s.cfg.Store, job)
	return got, set, err
}

// nurseryOrder writes the order for needs, less what is in hand of their sorts.
func (s *Server) nurseryOrder(ctx context.Context, needs []replant.Need, set work.ReplantStandards, wish replantWish) (*replant.Order, error) {
	if len(needs) == 0 {
		return nil, nil
	}
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return nil, err
	}
	when := replant.When{Today: replant.DayOf(s.cfg.Now(), zone), Potted: wish.Potted}
	if wish.PlantOn != "" {
		if when.PlantOn, err = replant.ParseDay(wish.PlantOn); err != nil {
			return nil, refuse(http.StatusBadRequest, "plant_on", "%q is not a day such as 2027-09-01", wish.PlantOn)
		}
	}
	return replant.OrderPlants(needs, work.OwnStock(set.Stock, needs), set.Order, when)
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
	ans, err := s.replantsOf(ctx, h, replantWish{Season: span.open, Sample: work.SampleWish{Rows: sampleRows, Seed: 1}})
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
