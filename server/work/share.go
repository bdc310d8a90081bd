package work

import (
	"context"
	"fmt"
	"slices"
	"time"

	"courson/geo/crew"
	"courson/geo/stand"
	"courson/geo/vine"
	"courson/store"
)

// ShareJob says what work is to be shared out.
type ShareJob struct {
	Season     int       `json:"season"`
	Operation  string    `json:"operation"`
	Blocks     []vine.ID `json:"blocks"`
	Rule       string    `json:"rule"`
	Crews      []string  `json:"crews"`
	Day        string    `json:"day"`  // the first one
	Days       int       `json:"days"` // how many days ahead; 0: one
	Off        []string  `json:"off"`  // days that are lost: rain, a holiday
	EveryOther bool      `json:"every_other"`
	Corner     string    `json:"corner"` // "near" or "far": the end of the first row where the walk begins
}

// Rules by which the vines of orders are chosen.
const (
	RuleAll       = "all"
	RuleWeak      = "weak"
	RuleYoung     = "young"
	RuleFollowUps = "follow-ups"
	RuleSick      = "sick"
)

func ruleOf(word string) (crew.Rule, error) {
	switch word {
	case "", RuleAll:
		return crew.WholeRows, nil
	case RuleWeak:
		return crew.WeakPatches, nil
	case RuleYoung:
		return crew.YoungVines, nil
	case RuleFollowUps:
		return crew.FollowUps, nil
	case RuleSick:
		return crew.SickVines, nil
	}
	return "", fmt.Errorf("%w: rule %q: all, weak, young, follow-ups or sick", ErrOrder, word)
}

// ShareBlock is a block as it takes part.
type ShareBlock struct {
	Block   store.Block
	Stand   *stand.Stand
	Settled Settled
}

// CrewShare is what a crew gets.
type CrewShare struct {
	Name  string  `json:"name"`
	Vines int     `json:"vines"`
	Hours float64 `json:"hours"` // of one person
	Rows  int     `json:"rows"`
}

// Shared is a proposal: nothing of it is kept.
type Shared struct {
	Orders  []Order     `json:"orders"`
	Crews   []CrewShare `json:"crews"`
	LeftOut int         `json:"left_out"` // vines done already, or not for this rule
	Later   int         `json:"later"`    // rows for which the days are too few
	Notes   []string    `json:"notes"`
}

// Share shares the rows of blocks among crews by the work there is in them, day
// by day, with rows in walking order.
func Share(ctx context.Context, st reader, blocks []ShareBlock, job ShareJob) (*Shared, error) {
	s, err := newSharing(ctx, st, blocks, job)
	if err != nil {
		return nil, err
	}
	plan, err := crew.Make(s.rows, s.crews, s.days, crew.PlanOptions{Overrun: overrunMinutes})
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrOrder, err)
	}
	out := &Shared{Orders: []Order{}, Crews: []CrewShare{}, Notes: s.notes, LeftOut: s.leftOut}
	if err := s.orders(plan, out); err != nil {
		return nil, err
	}
	seen := map[vine.ID]bool{}
	for _, t := range plan.Left {
		if !seen[t.Row] {
			out.Later++
			seen[t.Row] = true
		}
	}
	return out, nil
}

// overrunMinutes is how long a crew stays to end a row; chosen by us.
const overrunMinutes = 30

// mostDays is how far ahead work is shared; chosen by us.
const mostDays = 60

type sharing struct {
	job     ShareJob
	crews   []crew.Crew
	days    []crew.Day
	rows    []crew.Block
	pieces  map[vine.ID]crew.Piece // by row
	sick    map[vine.ID]crew.Piece
	blocks  map[vine.ID]ShareBlock
	leftOut int
	notes   []string
}

func newSharing(ctx context.Context, st reader, blocks []ShareBlock, job ShareJob) (*sharing, error) {
	s := &sharing{job: job, pieces: map[vine.ID]crew.Piece{}, sick: map[vine.ID]crew.Piece{}, blocks: map[vine.ID]ShareBlock{}, notes: []string{}}
	rule, err := ruleOf(job.Rule)
	if err != nil {
		return nil, err
	}
	if s.crews, err = crewsNamed(ctx, st, job.Crews); err != nil {
		return nil, err
	}
	if s.days, err = job.calendar(); err != nil {
		return nil, err
	}
	for _, b := range blocks {
		if err := s.addBlock(ctx, st, b, rule); err != nil {
			return nil, err
		}
	}
	if len(s.pieces) == 0 {
		s.notes = append(s.notes, "There is nothing left to do by this rule.")
	}
	return s, nil
}

func crewsNamed(ctx context.Context, st reader, names []string) ([]crew.Crew, error) {
	all, err := Crews(ctx, st)
	if err != nil {
		return nil, err
	}
	var out []crew.Crew
	for _, name := range names {
		k := slices.IndexFunc(all, func(c Crew) bool { return c.Name == name })
		if k < 0 {
			return nil, fmt.Errorf("%w: there is no crew %q", ErrOrder, name)
		}
		out = append(out, crew.Crew{Name: name, People: all[k].People, Hours: all[k].HoursPerDay, Skilled: all[k].Skilled})
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%w: no crew is named", ErrOrder)
	}
	return out, nil
}

func (j ShareJob) calendar() ([]crew.Day, error) {
	from, err := time.Parse(time.DateOnly, j.Day)
	if err != nil {
		return nil, fmt.Errorf("%w: day %q: write it like 2027-01-12", ErrOrder, j.Day)
	}
	n := max(1, j.Days)
	if n > mostDays {
		return nil, fmt.Errorf("%w: days: found %d, wanted at most %d", ErrOrder, n, mostDays)
	}
	days := crew.Calendar(from, n)
	for _, text := range j.Off {
		off, err := time.Parse(time.DateOnly, text)
		if err != nil {
			return nil, fmt.Errorf("%w: off %q: write it like 2027-01-12", ErrOrder, text)
		}
		days = crew.Lost(days, off, "off")
	}
	return days, nil
}

// chosen gives the work of a block, and what of it is chosen by a rule: whole or
// parts of rows, sick vines in an order of their own.
func chosen(ctx context.Context, st reader, b ShareBlock, operation string, rule crew.Rule) (*crew.Work, []crew.Order, error) {
	w, err := weigh(ctx, st, b, operation)
	if err != nil {
		return nil, nil, err
	}
	choice := crew.Choice{Rule: rule}
	if rule == crew.WeakPatches {
		for i := range b.Stand.Ground.ID {
			if p := b.Stand.PatchOf(i); p == stand.PatchWeak || p == stand.PatchLikely {
				choice.Vines = append(choice.Vines, i)
			}
		}
	}
	orders, err := w.Orders(choice)
	if err != nil {
		return nil, nil, fmt.Errorf("block %s: %w", b.Block.Code, err)
	}
	return w, orders, nil
}

// addBlock puts in the rows of a block in which there is work by the rule.
func (s *sharing) addBlock(ctx context.Context, st reader, b ShareBlock, rule crew.Rule) error {
	w, orders, err := chosen(ctx, st, b, s.job.Operation, rule)
	if err != nil {
		return err
	}
	s.blocks[b.Block.ID] = b
	minutes, skilled := map[vine.ID]float64{}, map[vine.ID]bool{}
	for _, r := range w.Rows() {
		skilled[r.ID] = r.Skilled
	}
	total := 0
	for _, o := range orders {
		for _, p := range o.Pieces {
			into := s.pieces
			if o.Sick {
				into = s.sick
			}
			into[p.Row] = join(into[p.Row], p)
			minutes[p.Row] += p.Minutes
			total += p.Vines
		}
	}
	for i := range b.Stand.Condition {
		if b.Stand.Condition[i].Living() {
			s.leftOut++
		}
	}
	s.leftOut -= total
	out := crew.Block{ID: b.Block.ID, Code: b.Block.Code}
	for _, row := range b.Stand.Ground.Rows {
		if m := minutes[row.ID]; m > 0 {
			out.Rows = append(out.Rows, crew.Row{Block: b.Block.ID, ID: row.ID, Label: row.Label, Vines: s.pieces[row.ID].Vines + s.sick[row.ID].Vines, Minutes: m, Skilled: skilled[row.ID]})
		}
	}
	if len(out.Rows) > 0 {
		s.rows = append(s.rows, out)
	}
	return nil
}

// join makes one run of two in a row: whoever walks it sees which vines are meant.
func join(a, b crew.Piece) crew.Piece {
	if a.Row == 0 {
		return b
	}
	return crew.Piece{Row: a.Row, Label: a.Label, From: min(a.From, b.From), To: max(a.To, b.To), Vines: a.Vines + b.Vines, Minutes: a.Minutes + b.Minutes}
}

// weigh gives the work of an operation in a block.
func weigh(ctx context.Context, st reader, b ShareBlock, operation string) (*crew.Work, error) {
	table, err := crew.NewTable(b.Settled.OperationList(), nil)
	if err != nil {
		return nil, err
	}
	op, ok := table.Operation(operation)
	if !ok {
		return nil, fmt.Errorf("%w: operation %q is not on the list", ErrOrder, operation)
	}
	progress, err := ProgressOf(ctx, st, b.Stand, operation)
	if err != nil {
		return nil, err
	}
	job := crew.Job{Stand: b.Stand, System: systemOf(b.Settled), Table: table, Operation: operation, Progress: progress}
	if op.After != "" {
		if job.Before, err = ProgressOf(ctx, st, b.Stand, op.After); err != nil {
			return nil, err
		}
	}
	return crew.Weigh(job)
}

// orders makes an order for every crew, day and block of a plan, sick vines in
// one of their own.
func (s *sharing) orders(plan crew.Plan, out *Shared) error {
	totals := map[string]*CrewShare{}
	for _, c := range s.crews {
		out.Crews = append(out.Crews, CrewShare{Name: c.Name})
	}
	for i := range out.Crews {
		totals[out.Crews[i].Name] = &out.Crews[i]
	}
	given := map[vine.ID]bool{}
	for _, list := range plan.Lists {
		byBlock, order := map[vine.ID][]vine.ID{}, []vine.ID{}
		for _, t := range list.Tasks {
			totals[list.Crew].Hours += t.Minutes / 60
			if given[t.Row] {
				continue // goes on from the day before: the same order
			}
			given[t.Row] = true
			if byBlock[t.Block] == nil {
				order = append(order, t.Block)
			}
			byBlock[t.Block] = append(byBlock[t.Block], t.Row)
			totals[list.Crew].Rows++
			totals[list.Crew].Vines += s.pieces[t.Row].Vines + s.sick[t.Row].Vines
		}
		for _, block := range order {
			for _, sick := range []bool{false, true} {
				o, err := s.order(list, block, byBlock[block], sick)
				if err != nil {
					return err
				}
				if len(o.Rows) > 0 {
					out.Orders = append(out.Orders, o)
				}
			}
		}
	}
	return nil
}

func (s *sharing) order(list crew.DayList, block vine.ID, rows []vine.ID, sick bool) (Order, error) {
	b := s.blocks[block]
	o := Order{Season: s.job.Season, Operation: s.job.Operation, Block: block, Code: b.Block.Code, Crew: list.Crew,
		Day: list.Date.Format(time.DateOnly), Sick: sick, State: OrderOpen, Rows: []OrderRow{}}
	from := s.pieces
	if sick {
		from = s.sick
	}
	lines, err := crew.Lines(b.Stand.Ground)
	if err != nil {
		return o, fmt.Errorf("block %s: %w", b.Block.Code, err)
	}
	lines = slices.DeleteFunc(lines, func(l crew.Line) bool { _, has := from[l.Row]; return !has || !slices.Contains(rows, l.Row) })
	corner, way := crew.Corner{}, crew.EveryRow
	if s.job.Corner == "far" {
		corner.End = crew.FromFar
	}
	if s.job.EveryOther {
		way = crew.EveryOtherRow
	}
	walk, err := crew.UpAndDown(lines, corner, way)
	if err != nil {
		return o, fmt.Errorf("block %s: %w", b.Block.Code, err)
	}
	for _, leg := range walk {
		start := "near"
		if leg.From == crew.FromFar {
			start = "far"
		}
		p := from[leg.Row]
		o.Rows = append(o.Rows, OrderRow{Row: leg.Row, Label: leg.Label, From: p.From, To: p.To, Start: start})
	}
	return o, nil
}
