package work

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"courson/geo/pruning"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// After compares a winter's work with its plan.
type After struct {
	All     pruning.Departure
	Rows    []pruning.Departure
	Pruners []pruning.Departure
	// Budburst is the count of shoots in spring against the nodes left, where
	// shoots were counted; nil: nobody counted.
	Budburst *pruning.Budburst
	// Treated compares the wood that treated and untreated vines grew in the season
	// after, kg/m; nil with Why where it cannot be told.
	Treated *pruning.Difference
	Why     string
}

// CompareLeft compares what was left in a season with its plan. next is the
// season after, nil where it has no records.
func CompareLeft(ctx context.Context, st reader, s *stand.Stand, plan map[vine.ID]Planned, next *Measured) (*After, error) {
	g := s.Ground
	n := g.Len()
	planned, left, shoots := none16(n), none16(n), none16(n)
	rows, pruners := make([]string, n), make([]string, n)
	for i, id := range g.ID {
		rows[i] = g.Rows[g.Row[i]].Label
		if p, ok := plan[id]; ok && s.Condition[i].Living() {
			planned[i] = int16(p.Nodes)
		}
	}
	for vs, err := range st.States(ctx, g.Block, s.Season, 0) {
		if err != nil {
			return nil, fmt.Errorf("what was left in block %s, season %d: %w", g.Code, s.Season, err)
		}
		i, ok := g.IndexOf(vs.Vine)
		if !ok || vs.Work[vine.Pruning] != vine.Done {
			continue
		}
		pruners[i] = vs.PrunedBy
		if r, ok := vs.Measures[vine.ShootCount]; ok {
			shoots[i] = int16(r.Value)
		}
		if was := leftOn(vs.State, plan[vs.Vine].PlanEntry); was.Nodes >= 0 {
			left[i] = int16(was.Nodes)
		}
	}
	out := &After{}
	byRow, err := pruning.CompareLeft(planned, left, rows)
	if err != nil {
		return nil, err
	}
	byPruner, err := pruning.CompareLeft(planned, left, pruners)
	if err != nil {
		return nil, err
	}
	out.All, out.Rows, out.Pruners = byRow[0], inRowOrder(g, byRow[1:]), byPruner[1:]
	if err := out.countBudburst(shoots, left); err != nil {
		return nil, err
	}
	if next == nil {
		out.Why = "Nothing is recorded of the season after."
		return out, nil
	}
	out.compareTreated(*next, plan)
	return out, nil
}

// inRowOrder puts rows in the order of the block.
func inRowOrder(g *stand.Ground, list []pruning.Departure) []pruning.Departure {
	at := make(map[string]pruning.Departure, len(list))
	for _, d := range list {
		at[d.Key] = d
	}
	out := make([]pruning.Departure, 0, len(list))
	for _, row := range g.Rows {
		if d, ok := at[row.Label]; ok && d.Vines > 0 {
			out = append(out, d)
			delete(at, row.Label)
		}
	}
	return out
}

// countBudburst holds the shoots counted in spring against the nodes left.
func (a *After) countBudburst(shoots, left []int16) error {
	b, err := pruning.CountBudburst(shoots, left)
	if err != nil || b.Vines == 0 {
		return err
	}
	a.Budburst = &b
	return nil
}

// compareTreated compares the wood of the year after.
func (a *After) compareTreated(next Measured, plan map[vine.ID]Planned) {
	g := next.Stand.Ground
	sides, values, any := make([]pruning.Trial, g.Len()), make([]float64, g.Len()), false
	for i, id := range g.ID {
		values[i] = math.NaN()
		sides[i] = plan[id].Trial
		any = any || sides[i] == pruning.TrialUntreated
		if w := next.Stand.WeightG[i]; w >= 0 && g.Occupied[i] > 0 {
			values[i] = float64(w) / 1000 / float64(g.Occupied[i])
		}
	}
	if !any {
		a.Why = "No row was left untreated for comparison."
		return
	}
	d, err := pruning.CompareTreated(values, sides, 0)
	if err != nil {
		a.Why = err.Error()
		return
	}
	a.Treated = &d
}

// FollowUp is a job at shoot thinning that a winter's wood asks for.
type FollowUp struct {
	ID      vine.ID `json:"id"`
	Address string  `json:"address"`
	Job     string  `json:"job"`
	Text    string  `json:"text"`
	Done    bool    `json:"done"`
}

// FollowUps lists the jobs in walking order: those of spurs as they were left,
// and those that the plan's cuts ask for.
func FollowUps(s *stand.Stand, plan map[vine.ID]Planned) []FollowUp {
	out := []FollowUp{}
	for i, id := range s.Ground.ID {
		if !s.Condition[i].Living() {
			continue
		}
		add := func(job, text string, done bool) {
			out = append(out, FollowUp{id, s.Ground.Address(i).String(), job, text, done})
		}
		switch s.FollowOf(i) {
		case vine.FollowRubOff:
			add("rub_off", "Rub off the first shoot and those of the base; keep the second and third.", false)
		case vine.FollowBothPush:
			add("both_push", "See that the node and the base bud both pushed.", false)
		case vine.FollowDone:
			add("done", "Thinned.", true)
		}
		switch in := plan[id].Instruction; {
		case s.Progress[i] != vine.Done:
		case in.CutBack > 0:
			add("keep_two_shoots", "Keep the two best shoots, tie up the straighter one, rub off the rest.", false)
		case in.Trunk > 0:
			add("rub_trunk", fmt.Sprintf("Keep the top %d shoots of the new trunk, rub off those below.", in.Trunk), false)
		}
	}
	return out
}

// WriteFollowUps writes the list as a table.
func WriteFollowUps(w io.Writer, season int, list []FollowUp) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"vine", "courson_id", "season", "job", "what_to_do", "done"}); err != nil {
		return err
	}
	for _, f := range list {
		if err := out.Write([]string{f.Address, strconv.FormatInt(f.ID, 10), strconv.Itoa(season), f.Job, f.Text, strconv.FormatBool(f.Done)}); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// Changed is a vine for which two versions of a plan say different things.
type Changed struct {
	ID      vine.ID `json:"vine"`
	Address string  `json:"address"`
	Now     string  `json:"now"`
	With    string  `json:"with"`
}

// Comparison is two versions of a block's plan side by side.
type Comparison struct {
	Vines, Changed      int
	NodesNow, NodesWith int
	More, Fewer         int // vines that get more, fewer nodes now
	List                []Changed
}

// mostChanged is how many vines a comparison lists.
const mostChanged = 500

// ComparePlans compares two versions vine by vine, in walking order.
func ComparePlans(g *stand.Ground, now, with map[vine.ID]Planned) Comparison {
	out := Comparison{List: []Changed{}}
	for i, id := range g.ID {
		a, inA := now[id]
		b, inB := with[id]
		if !inA && !inB {
			continue
		}
		out.Vines++
		nodesA, nodesB := max(0, a.Nodes), max(0, b.Nodes)
		out.NodesNow, out.NodesWith = out.NodesNow+nodesA, out.NodesWith+nodesB
		switch {
		case nodesA > nodesB:
			out.More++
		case nodesA < nodesB:
			out.Fewer++
		}
		if a.Instruction == b.Instruction && inA == inB {
			continue
		}
		out.Changed++
		if len(out.List) < mostChanged {
			out.List = append(out.List, Changed{id, g.Address(i).String(), a.Text(), b.Text()})
		}
	}
	return out
}

// errNoPlan tells that a block has no pruning plan in a season.
var errNoPlan = errors.New("there is no pruning plan")

// ErrNoPlan names block and season.
func ErrNoPlan(code string, season int) error {
	return fmt.Errorf("block %s, season %d: %w: %w", code, season, errNoPlan, store.ErrNotFound)
}
