package work

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/store"
)

// Pruning is the plan of a block as it comes out of what is known.
type Pruning struct {
	Job    PruneJob
	Input  *pruning.Block
	Result *pruning.Result
	Notes  []string // what a reader of the plan should know
}

// PlanPruning decides for every vine of a block what it carries. What the
// standards or the block's record make impossible wraps ErrStandards.
func PlanPruning(ctx context.Context, st reader, job PruneJob) (*Pruning, error) {
	if err := job.Options.Check(); err != nil {
		return nil, err
	}
	in, err := job.input(ctx, st)
	if err != nil {
		return nil, err
	}
	r, err := pruning.Plan(in, job.Standards)
	if err != nil {
		if errors.Is(err, pruning.ErrStandards) || errors.Is(err, pruning.ErrSystem) || errors.Is(err, pruning.ErrBlock) {
			return nil, fmt.Errorf("%w: block %s: %w", ErrStandards, job.Block.Code, err)
		}
		return nil, fmt.Errorf("pruning plan of block %s: %w", job.Block.Code, err)
	}
	p := &Pruning{Job: job, Input: in, Result: r}
	p.note()
	return p, nil
}

// note says what the plan rests on.
func (p *Pruning) note() {
	v := p.Job.Vigour
	say := func(is bool, format string, args ...any) {
		if is {
			p.Notes = append(p.Notes, fmt.Sprintf(format, args...))
		}
	}
	c := v.Counts
	say(c[vigour.Measured]+c[vigour.Calibrated]+c[vigour.Estimated] > 0, "Prunings: %d vines weighed, %d from another measure, %d estimated, %d without a value.",
		c[vigour.Measured], c[vigour.Calibrated], c[vigour.Estimated], c[vigour.None])
	say(c[vigour.Measured] == 0 && c[vigour.None] > 0, "No vine of this block was weighed in season %d: the plan holds to last year's load, to the block's middle or to the system. Weigh some vines first.", p.Result.Season)
	none, last := 0, 0
	for i, b := range p.Result.Bound {
		if b != pruning.BoundNone && p.Result.Flags[i]&pruning.FlagNoVigour != 0 {
			none++
		}
		if p.Input.NodesLeft[i] >= 0 {
			last++
		}
	}
	say(none > 0 && c[vigour.Measured] > 0, "Of %d vines nothing is known of last year's growth.", none)
	say(last == 0, "What was left last winter is not recorded: limits against last year's load do not hold.")
	say(p.Job.Options.Drought && p.Input.Treated != nil, "Every %d. row is pruned as after any other year, for comparison.", p.Job.Options.UntreatedEvery)
}

// entryDetail is what a stored plan says of a vine beyond three numbers; the
// codes are package pruning's.
type entryDetail struct {
	In      [7]uint8        `json:"in"` // canes, nodes on the first, on each other, spurs, nodes per spur, cut back to, trunk
	Load    uint16          `json:"load"`
	Crop    float32         `json:"crop"`
	Bound   pruning.Bound   `json:"-"`
	BoundN  uint8           `json:"bound"`
	Reasons pruning.Reasons `json:"reasons"`
	Flags   pruning.Flags   `json:"flags"`
	Arm     uint8           `json:"arm"`
	Trial   pruning.Trial   `json:"trial"`
}

// Entries gives the plan as it is kept: places without a living vine are left out.
func (p *Pruning) Entries() ([]store.PlanEntry, error) {
	g, r := p.Input.Stand.Ground, p.Result
	out := make([]store.PlanEntry, 0, r.Len())
	for i, in := range r.Instructions {
		if r.Bound[i] == pruning.BoundNone {
			continue
		}
		detail, err := json.Marshal(entryDetail{In: [7]uint8{in.Canes, in.NodesPerCane, in.NodesSecond, in.Spurs, in.NodesPerSpur, in.CutBack, in.Trunk},
			Load: r.Load[i], Crop: r.Crop[i], BoundN: uint8(r.Bound[i]), Reasons: r.Reasons[i], Flags: r.Flags[i], Arm: uint8(r.Arm[i]), Trial: r.Trial[i]})
		if err != nil {
			return nil, err
		}
		out = append(out, store.PlanEntry{Vine: g.ID[i], Nodes: int(r.Nodes[i]), Canes: int(in.Canes), Spurs: int(in.Spurs), Reason: p.reason(i), Detail: detail})
	}
	return out, nil
}

// reason is why, in a few words.
func (p *Pruning) reason(i int) string {
	text := p.Result.Bound[i].String()
	if more := p.Result.Reasons[i].String(); more != "" {
		text += "; " + more
	}
	if f := p.Result.Flags[i] & (pruning.FlagLookFirst | pruning.FlagRebuild | pruning.FlagBull); f != 0 {
		text += "; " + f.String()
	}
	return text
}

// Planned gives the plan as it would be read back.
func (p *Pruning) Planned() (map[vine.ID]Planned, error) {
	entries, err := p.Entries()
	if err != nil {
		return nil, err
	}
	out := make(map[vine.ID]Planned, len(entries))
	for _, e := range entries {
		if out[e.Vine], err = ReadPlanned(e); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// rulePlan begins the source of a plan that was made here.
const rulePlan = "rule "

// SavePruning keeps the plan as a new version and gives its id.
func SavePruning(tx store.Tx, p *Pruning, by string, now time.Time) (int64, error) {
	entries, err := p.Entries()
	if err != nil {
		return 0, err
	}
	standards, err := asMap(p.Job.Standards)
	if err != nil {
		return 0, err
	}
	options, err := asMap(p.Job.Options)
	if err != nil {
		return 0, err
	}
	nodes := 0
	for _, e := range entries {
		nodes += e.Nodes
	}
	counts := p.Job.Vigour.Counts
	return tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: p.Result.Season, Block: p.Job.Block.ID, Made: now, By: by,
		Source: rulePlan + string(p.Job.Standards.Rule.Kind),
		Inputs: map[string]any{"standards": standards, "options": options, "vines": len(entries), "nodes": nodes, "digest": digestOf(entries),
			"weighed": counts[vigour.Measured], "calibrated": counts[vigour.Calibrated], "estimated": counts[vigour.Estimated]}}, entries)
}

func asMap(v any) (map[string]any, error) {
	text, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	var out map[string]any
	return out, json.Unmarshal(text, &out)
}

// Planned is one vine of a stored plan.
type Planned struct {
	store.PlanEntry
	Instruction pruning.Instruction
	Flags       pruning.Flags
	Trial       pruning.Trial
	Crop        float32
}

// Text is the line that a pruner reads.
func (p Planned) Text() string {
	if p.Flags&pruning.FlagLookFirst != 0 {
		return "look first: " + p.Instruction.String()
	}
	return p.Instruction.String()
}

// ReadPlanned reads what a plan says of a vine. A plan from elsewhere gives only
// numbers: its nodes are spread over its spurs, two each, and its canes.
func ReadPlanned(e store.PlanEntry) (Planned, error) {
	p := Planned{PlanEntry: e}
	if len(e.Detail) == 0 {
		p.Instruction = spread(e)
		return p, nil
	}
	var d entryDetail
	if err := json.Unmarshal(e.Detail, &d); err != nil {
		return p, fmt.Errorf("plan of vine %d: %w", e.Vine, err)
	}
	p.Instruction = pruning.Instruction{Canes: d.In[0], NodesPerCane: d.In[1], NodesSecond: d.In[2], Spurs: d.In[3], NodesPerSpur: d.In[4], CutBack: d.In[5], Trunk: d.In[6]}
	p.Flags, p.Trial, p.Crop = d.Flags, d.Trial, d.Crop
	return p, nil
}

// usualSpur is the nodes of a renewal spur (common practice).
const usualSpur = 2

func spread(e store.PlanEntry) pruning.Instruction {
	nodes, canes, spurs := max(0, e.Nodes), max(0, e.Canes), max(0, e.Spurs)
	if nodes == 0 {
		return pruning.Instruction{}
	}
	if canes == 0 && spurs == 0 {
		return pruning.Instruction{CutBack: uint8(min(nodes, 255))}
	}
	in := pruning.Instruction{Canes: uint8(min(canes, 255)), Spurs: uint8(min(spurs, 255))}
	if canes == 0 {
		in.NodesPerSpur = uint8(max(1, nodes/spurs))
		return in
	}
	if spurs > 0 {
		in.NodesPerSpur = usualSpur
	}
	rest := max(canes, nodes-usualSpur*spurs)
	in.NodesPerCane = uint8(min(255, (rest+canes-1)/canes))
	if canes > 1 {
		in.NodesSecond = uint8(min(255, (rest-int(in.NodesPerCane))/(canes-1)))
	}
	return in
}

// ReadPlan gives the newest pruning plan of a block and season by vine, and its
// head; nil where there is none.
func ReadPlan(ctx context.Context, st reader, block vine.ID, season int) (*store.Plan, map[vine.ID]Planned, error) {
	heads, err := st.PlanList(ctx, store.PlanPruning, season, block)
	if err != nil || len(heads) == 0 {
		return nil, nil, err
	}
	return ReadVersion(ctx, st, heads[0].ID)
}

// ReadVersion gives one version of a pruning plan.
func ReadVersion(ctx context.Context, st reader, id int64) (*store.Plan, map[vine.ID]Planned, error) {
	head, entries, err := st.PlanVersion(ctx, id)
	if err != nil {
		return nil, nil, err
	}
	out := make(map[vine.ID]Planned, len(entries))
	for _, e := range entries {
		if out[e.Vine], err = ReadPlanned(e); err != nil {
			return nil, nil, err
		}
	}
	return &head, out, nil
}

// Same tells whether a stored plan says what this one says.
func (p *Pruning) Same(stored map[vine.ID]Planned) (bool, error) {
	entries, err := p.Entries()
	if err != nil || len(entries) != len(stored) {
		return false, err
	}
	for _, e := range entries {
		was, ok := stored[e.Vine]
		now, err := ReadPlanned(e)
		if err != nil {
			return false, err
		}
		if !ok || was.Instruction != now.Instruction || was.Flags != now.Flags {
			return false, nil
		}
	}
	return true, nil
}

// OptionsOf gives the options that a stored plan was made with.
func OptionsOf(p store.Plan) (o PruneOptions, err error) {
	text, err := json.Marshal(p.Inputs["options"])
	if err == nil {
		err = json.Unmarshal(text, &o)
	}
	if err != nil {
		err = fmt.Errorf("options of plan %d: %w", p.ID, err)
	}
	return o, err
}

// CountPlan counts what a stored plan says, wherever it is from; yield and hours
// are not worked out.
func CountPlan(s *stand.Stand, plan map[vine.ID]Planned) pruning.Sum {
	out := pruning.Sum{Positions: s.Ground.Len(), ByBound: map[pruning.Bound]int{}, ByFlag: map[string]int{}, ByReason: map[string]int{}, WithinCaps: true}
	kinds := map[pruning.Instruction]int{}
	for i, id := range s.Ground.ID {
		if !s.Condition[i].Living() {
			continue
		}
		out.Living++
		p, ok := plan[id]
		if !ok {
			continue
		}
		nodes, canes := max(0, p.Nodes), max(0, p.Canes)
		kinds[p.Instruction]++
		out.NodesInAll += nodes
		raise(&out.Nodes, nodes)
		raise(&out.Canes, canes)
	}
	for in, n := range kinds {
		out.Instructions = append(out.Instructions, pruning.InstructionCount{Instruction: in, Text: in.String(), Vines: n})
	}
	slices.SortFunc(out.Instructions, func(a, b pruning.InstructionCount) int {
		return cmp.Or(cmp.Compare(b.Vines, a.Vines), cmp.Compare(a.Text, b.Text))
	})
	if g := s.Ground; g.RowSpacingM > 0 && g.VineSpacingM > 0 {
		out.AreaHa = float64(g.Len()) * g.RowSpacingM * g.VineSpacingM / 1e4
		out.NodesPerHa = float64(out.NodesInAll) / out.AreaHa
	}
	return out
}

// raise counts one more in a histogram.
func raise(h *[]int, k int) {
	for len(*h) <= k {
		*h = append(*h, 0)
	}
	(*h)[k]++
}
