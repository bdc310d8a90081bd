package work

import (
	"context"
	"errors"
	"fmt"
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
	Layers     []string        // what is to be told of layered vines
	Kept       []Kept          // surveys and detections up to the season
	Settled    replant.Settled // what was listed, dug and planted, place by place
	Today      replant.Day     // on which it was worked out
	planted    map[vine.ID]replant.Day
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
	out := &Replants{Block: b.Block, Stand: s, Today: replant.DayOf(job.Today, job.Zone)}
	evidence, histories, sick, err := evidenceOf(ctx, st, b, job.Zone)
	if err != nil {
		return nil, err
	}
	if out.Kept, err = keptUpTo(ctx, st, b.Block.ID, s.Season); err != nil {
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
	out.Layers = replant.LayerNotes(histories, s.Season, out.nameOf)
	if err := out.count(set, sick); err != nil {
		return nil, err
	}
	places, refused := replant.Follow(job.Moves)
	if len(refused) > 0 {
		return nil, fmt.Errorf("steps of block %s: %w", b.Block.Code, errors.Join(refused...))
	}
	out.Places = places
	out.planted = out.plantedOn(evidence)
	out.Settled = out.settle()
	out.needs()
	return out, out.compare(set)
}

// nameOf tells a vine by its address, one that is not of the block by its number.
func (r *Replants) nameOf(id vine.ID) string {
	g := r.Stand.Ground
	if i, ok := g.IndexOf(id); ok {
		return g.Address(i).String()
	}
	return fmt.Sprintf("vine %d", id)
}

// lossYears is how many seasons the table of losses goes back; chosen by us.
const lossYears = 8

// eachTarget calls do for the vines that an event is about, with their place in the
// list that it names.
func eachTarget(g *stand.Ground, t vine.Target, do func(i, k int)) {
	if len(t.Vines) > 0 {
		for k, id := range t.Vines {
			if i, ok := g.IndexOf(id); ok {
				do(i, k)
			}
		}
		return
	}
	for _, row := range g.Rows {
		if t.Row != 0 && t.Row != row.ID {
			continue
		}
		for i := row.First; i < row.First+row.Count; i++ {
			do(i, 0)
		}
	}
}

// count holds the block against its limits.
func (r *Replants) count(set ReplantStandards, sick []replant.Sickness) error {
	c := replant.Counts{Day: r.Today, Positions: r.Stand.Ground.Len()}
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
	c := replant.BlockCase{Season: r.Stand.Season, AreaHa: area, Positions: g.Len(), Remaining: max(1, r.Outlook.Remaining), Over: set.Over, KeepUp: set.KeepUp, Horizon: set.Horizon, PermittedHlHa: set.Limits.PermittedHlHa, PermittedLimit: set.Limits.Appellation}
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
