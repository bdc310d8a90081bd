package work

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"courson/geo/frame"
	"courson/geo/replant"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// ReplantStandards are what the owner sets about gaps and replants.
type ReplantStandards struct {
	Find   replant.FindSettings  `json:"find"`
	Rules  replant.Rules         `json:"rules"`
	Limits replant.Limits        `json:"limits"`
	Life   replant.Life          `json:"life"`
	Money  replant.Money         `json:"money"`
	Order  replant.OrderSettings `json:"order"`
	// Over is how many years filling the gaps may take; KeepUp: what is lost anew
	// is filled too. Chosen by us: 3 years, kept up.
	Over   int  `json:"fill_over_years"`
	KeepUp bool `json:"keep_up"`
	// Horizon is over how many years the ways are compared: 30, about the life of a
	// block (common practice).
	Horizon int `json:"horizon_years"`
	// Stock is plants in hand, by sort.
	Stock []replant.Stock `json:"stock"`
}

func defaultReplants() ReplantStandards {
	return ReplantStandards{Find: replant.DefaultFindSettings(), Rules: replant.DefaultRules(), Limits: replant.DefaultLimits(), Life: replant.DefaultLife(),
		Money: replant.DefaultMoney(), Order: replant.DefaultOrderSettings(), Over: 3, KeepUp: true, Horizon: replant.DefaultHorizon, Stock: []replant.Stock{}}
}

func (r ReplantStandards) check() error {
	for name, err := range map[string]error{"find": r.Find.Check(), "rules": r.Rules.Check(), "limits": r.Limits.Check(), "money": r.Money.Check(), "order": r.Order.Check()} {
		if err != nil {
			return fmt.Errorf("%w: replants.%s: %w", ErrStandards, name, err)
		}
	}
	if r.Over < 1 || r.Over > 30 {
		return fmt.Errorf("%w: replants.fill_over_years: found %d, wanted 1 to 30", ErrStandards, r.Over)
	}
	if r.Horizon < 1 || r.Horizon > 100 {
		return fmt.Errorf("%w: replants.horizon_years: found %d, wanted 1 to 100", ErrStandards, r.Horizon)
	}
	for k, s := range r.Stock {
		if s.Plants < 0 || s.Plants > 10_000_000 || s.Cultivar == "" {
			return fmt.Errorf("%w: replants.stock.%d: found %d of %q, wanted a cultivar and 0 or more plants", ErrStandards, k, s.Plants, s.Cultivar)
		}
	}
	return nil
}

// Replants is what the record of a block says of gaps and what could be done.
type Replants struct {
	Block      store.Block
	Stand      *stand.Stand
	Findings   *replant.Findings
	Candidates []replant.Candidate
	Review     []replant.ReviewRow
	Limits     []replant.LimitNote
	Outlook    replant.Outlook
	Comparison *replant.Comparison
	Case       replant.BlockCase // what is compared
	Why        string            // why there is no comparison
	Losses     replant.LossTable
	Places     []replant.Place
	Full       replant.Rate
	Needs      []replant.Need
	Survival   []BatchSurvival
}

// ReplantJob says of which block and when.
type ReplantJob struct {
	Block ShareBlock
	Past  []*stand.Stand // the two winters before, newest first, on the same ground
	Zone  *time.Location
	Today time.Time
	Moves []replant.Move
}

// PlanReplants works out gaps, candidates, limits, the sums and what to order.
func PlanReplants(ctx context.Context, st reader, job ReplantJob) (*Replants, error) {
	b, s := job.Block, job.Block.Stand
	set := b.Settled.Replants
	out := &Replants{Block: b.Block, Stand: s}
	evidence, histories, sick, err := evidenceOf(ctx, st, b, job.Zone)
	if err != nil {
		return nil, err
	}
	if out.Findings, err = replant.Judge(evidence, set.Find); err != nil {
		return nil, fmt.Errorf("gaps of block %s: %w", b.Block.Code, err)
	}
	in := replant.BlockInput{Stand: s, Findings: out.Findings, Sick: sick, Past: job.Past}
	if out.Candidates, err = replant.Candidates(in, set.Rules); err != nil {
		return nil, fmt.Errorf("candidates of block %s: %w", b.Block.Code, err)
	}
	if out.Review, err = replant.Review(out.Findings, s.Ground, replant.Walk{}); err != nil {
		return nil, fmt.Errorf("review of block %s: %w", b.Block.Code, err)
	}
	if out.Outlook, err = replant.BlockOutlook(s, set.Life); err != nil {
		return nil, fmt.Errorf("outlook of block %s: %w", b.Block.Code, err)
	}
	if out.Losses, err = replant.Losses(histories, s.Season-lossYears+1, s.Season); err != nil {
		return nil, err
	}
	if out.Survival, err = survival(histories, s.Season); err != nil {
		return nil, err
	}
	if err := out.count(set, sick, job); err != nil {
		return nil, err
	}
	places, refused := replant.Follow(job.Moves)
	if len(refused) > 0 {
		return nil, fmt.Errorf("steps of block %s: %w", b.Block.Code, errors.Join(refused...))
	}
	out.Places = places
	out.needs()
	return out, out.compare(set)
}

// lossYears is how many seasons the table of losses goes back; chosen by us.
const lossYears = 8

// evidenceOf gathers what people saw and what was planted, with the plants of
// each position and every sickness ever seen.
func evidenceOf(ctx context.Context, st reader, b ShareBlock, zone *time.Location) (*replant.Evidence, []replant.History, []replant.Sickness, error) {
	g := b.Stand.Ground
	e := &replant.Evidence{Places: g.Len()}
	events, err := st.Events(ctx, store.EventQuery{Block: b.Block.ID})
	if err != nil {
		return nil, nil, nil, fmt.Errorf("records of block %s: %w", b.Block.Code, err)
	}
	list := plainEvents(events)
	places := make([]vine.Place, g.Len())
	for i := range places {
		places[i] = vine.Place{ID: g.ID[i], Row: g.Rows[g.Row[i]].ID, Block: b.Block.ID, Planted: int(g.Planted[i])}
	}
	histories := make([]replant.History, g.Len())
	vine.FoldMany(places, list, func(i int, life vine.Life) { histories[i] = replant.HistoryOf(g.ID[i], life.Plantings) })
	gone := takenBack(list)
	var sick []replant.Sickness
	for _, ev := range list {
		c, ok := ev.Body.(vine.Sighting)
		if !ok || gone[ev.ID.String()] || ev.Season > b.Stand.Season {
			continue
		}
		day := replant.DayOf(ev.When, zone)
		eachTarget(g, ev.Target, func(i int) {
			if c.Condition == vine.Replanted {
				e.Records = append(e.Records, replant.Record{Vine: int32(i), Day: day, Kind: replant.Planted})
				return
			}
			if c.Condition == vine.Diseased {
				kind := strings.ToLower(strings.TrimSpace(c.Cause))
				if kind == "" {
					kind = "not named"
				}
				sick = append(sick, replant.Sickness{Vine: int32(i), Kind: kind, Day: day})
			}
			e.Sightings = append(e.Sightings, replant.FromRecord(int32(i), c, ev.By, day))
		})
	}
	return e, histories, sick, nil
}

// takenBack gives the events that a void took back whole.
func takenBack(list []vine.Event) map[string]bool {
	out := map[string]bool{}
	for _, ev := range list {
		if v, ok := ev.Body.(vine.Void); ok {
			out[v.Event.String()] = true
		}
	}
	return out
}

// eachTarget calls do for the vines that an event is about.
func eachTarget(g *stand.Ground, t vine.Target, do func(i int)) {
	if len(t.Vines) > 0 {
		for _, id := range t.Vines {
			if i, ok := g.IndexOf(id); ok {
				do(i)
			}
		}
		return
	}
	for _, row := range g.Rows {
		if t.Row != 0 && t.Row != row.ID {
			continue
		}
		for i := row.First; i < row.First+row.Count; i++ {
			do(i)
		}
	}
}

// count holds the block against its limits.
func (r *Replants) count(set ReplantStandards, sick []replant.Sickness, job ReplantJob) error {
	c := replant.Counts{Day: replant.DayOf(job.Today, job.Zone), Positions: r.Stand.Ground.Len()}
	for i := range r.Stand.Condition {
		if r.gap(i) {
			c.Gaps++
		}
	}
	if n := len(r.Losses.Years); n > 0 {
		c.LostYear = r.Losses.Years[n-1].Lost
	}
	infected := map[string]map[int32]bool{}
	for _, s := range sick {
		if infected[s.Kind] == nil {
			infected[s.Kind] = map[int32]bool{}
		}
		infected[s.Kind][s.Vine] = true
	}
	c.Leafroll, c.RedBlotch = len(infected[replant.KindLeafroll]), len(infected[replant.KindRedBlotch])
	if c.Positions == 0 {
		return nil
	}
	var err error
	if r.Limits, err = replant.CheckLimits(c, set.Limits); err != nil {
		return fmt.Errorf("limits of block %s: %w", r.Block.Code, err)
	}
	r.Full, err = replant.CountRate(c.Gaps, c.Positions, countLevel)
	return err
}

// countLevel is the level of the interval of a full count; common practice.
const countLevel = 0.95

// gap tells whether the position is taken to be without a living vine.
func (r *Replants) gap(i int) bool {
	if v := r.Findings.Verdicts[i]; v.State != replant.Unjudged {
		return v.State.Gap()
	}
	return !r.Stand.Condition[i].Living()
}

// compare works out leaving, filling and pulling.
func (r *Replants) compare(set ReplantStandards) error {
	g := r.Stand.Ground
	area := frame.WGS84.MultiPolygonArea(r.Block.Outline) / 1e4
	if area == 0 {
		area = float64(g.Len()) * g.RowSpacingM * g.VineSpacingM / 1e4
	}
	c := replant.BlockCase{Season: r.Stand.Season, AreaHa: area, Positions: g.Len(), Remaining: max(1, r.Outlook.Remaining), Over: set.Over, KeepUp: set.KeepUp, Horizon: set.Horizon, PermittedLimit: set.Limits.Appellation}
	for i := range g.ID {
		if r.gap(i) {
			c.Gaps++
			continue
		}
		if leaf := int(r.Stand.Leaf[i]); leaf >= 1 && leaf <= youngLeaves {
			for len(c.Young) < leaf {
				c.Young = append(c.Young, 0)
			}
			c.Young[leaf-1]++
		}
	}
	if r.Outlook.Remaining == 0 {
		r.Why = "The block's remaining life is not known: it is taken as one season."
	}
	r.Case = c
	got, err := replant.Compare(c, set.Money)
	if errors.Is(err, replant.ErrInput) || errors.Is(err, replant.ErrSettings) {
		r.Why = err.Error()
		return nil
	}
	r.Comparison = got
	return err
}

// youngLeaves is up to which leaf plants are told apart in the sums.
const youngLeaves = 6

// needs is what to order: the places that are on the way to be replaced, and not
// ordered yet.
func (r *Replants) needs() {
	n := 0
	for _, p := range r.Places {
		if p.Stage == replant.ToReplace {
			n++
		}
	}
	if n > 0 {
		r.Needs = []replant.Need{{Sort: replant.Sort{Cultivar: orWord(r.Block.Variety), Clone: r.Block.Clone, Rootstock: r.Block.Rootstock}, Block: r.Block.Code, Positions: n}}
	}
}

func orWord(variety string) string {
	if variety == "" {
		return "cultivar not named"
	}
	return variety
}

// PaperReplant is the kind of paper that keeps the steps of places to be
// replaced; its key is the block's id.
const PaperReplant store.PaperKind = "replant"

type moves struct {
	Moves []replant.Move `json:"moves"`
}

// ReplantMoves gives the steps of a block's places, in the order they were made.
func ReplantMoves(ctx context.Context, st reader, block vine.ID) ([]replant.Move, error) {
	list, err := papersOf[moves](ctx, st, store.PaperQuery{Kind: PaperReplant, Key: fmt.Sprint(block)})
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return list[0].Moves, nil
}

// AddReplantMoves adds steps, all or none: none may skip a stage. The error wraps
// replant.ErrStep. A step to planted makes the vine's record say so too.
func AddReplantMoves(ctx context.Context, tx store.Tx, g *stand.Ground, add []replant.Move, by string, now time.Time) error {
	old, err := ReplantMoves(ctx, tx, g.Block)
	if err != nil {
		return err
	}
	onTheWay := map[vine.ID]bool{}
	for _, m := range old {
		onTheWay[m.Vine] = true
	}
	for i := range add {
		at, ok := g.IndexOf(add[i].Vine)
		if !ok {
			return fmt.Errorf("%w: there is no vine %d in block %s", replant.ErrStep, add[i].Vine, g.Code)
		}
		if !onTheWay[add[i].Vine] && add[i].To != replant.ToReplace {
			return fmt.Errorf("%w: vine %s is not on the list: it begins as %q", replant.ErrStep, g.Address(at), replant.ToReplace)
		}
		if add[i].By == "" {
			add[i].By = by
		}
	}
	all := append(slices.Clip(old), add...)
	if _, refused := replant.Follow(all); len(refused) > 0 {
		return errors.Join(refused...)
	}
	value, err := json.Marshal(moves{all})
	if err != nil {
		return err
	}
	return tx.SavePaper(store.Paper{Kind: PaperReplant, Key: fmt.Sprint(g.Block), Block: g.Block, Made: now, By: by, Value: value})
}
