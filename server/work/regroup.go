package work

import (
	"context"
	"fmt"
	"slices"
	"time"

	"courson/geo/vine"
	"courson/store"
)

// regroup puts rows and vines of one block into another one, with all that is planned,
// ordered and noted of them. Records need nothing: they name vines.
type regroup struct {
	ctx      context.Context
	st       reader
	from, to store.Block // to.ID 0: not made yet
	rows     map[vine.ID]*rowGoes
	goes     map[vine.ID]bool // vines
	whole    bool             // the old block ends
	by       string
	now      time.Time

	papers    []store.Paper
	plans     []carriedPlan
	standards []store.Standards
	carry     []CarriedOver
	words     []string
}

// rowGoes is what becomes of a row of the old block.
type rowGoes struct {
	id, as     vine.ID // the row, and the one in which the vines that go stand then; 0: not made yet
	label      string  // of that
	all        bool    // all its vines go
	stay, goes numbers // numbers of the vines that stay and that go
	vines      []store.Vine
	// Where the row is cut once: the two vines on either side of the cut, in order of
	// number; both 0 where it is cut more often.
	last, first vine.ID
}

// numbers are the lowest and the highest number of some vines of a row; zero: none.
type numbers [2]int

func (s *numbers) add(n int) {
	if s[0] == 0 || n < s[0] {
		s[0] = n
	}
	s[1] = max(s[1], n)
}

type carriedPlan struct {
	plan    store.Plan
	entries []store.PlanEntry
}

// look gathers what goes with the vines. It reads the ground as it is before anything
// moves.
func (g *regroup) look() error {
	for _, part := range []struct {
		what string
		look func() (int, error)
	}{
		{"orders", g.lookOrders}, {"lists", g.lookLists}, {"plans", func() (int, error) { return g.lookPlans(store.PlanPruning) }},
		{"overrides", func() (int, error) { return g.lookPlans(PlanOverride) }}, {"replants", g.lookReplants},
		{"renewals", g.lookRenewals}, {"surveys", g.lookSurveys}, {"standards", g.lookStandards}, {"zones", g.lookZones},
	} {
		n, err := part.look()
		if err != nil {
			return fmt.Errorf("what is with block %s: %s: %w", g.from.Code, part.what, err)
		}
		if n > 0 {
			g.carry = append(g.carry, CarriedOver{part.what, n})
		}
	}
	return nil
}

// write keeps it, after the vines moved.
func (g *regroup) write(tx store.Tx) error {
	for _, p := range g.plans {
		if _, err := tx.SavePlan(p.plan, p.entries); err != nil {
			return err
		}
	}
	for _, s := range g.standards {
		if err := tx.SaveStandards(s); err != nil {
			return err
		}
	}
	for _, p := range g.papers {
		if err := tx.SavePaper(p); err != nil {
			return err
		}
	}
	return nil
}

// move puts the rows and vines into the other block; rows that are cut have theirs
// there already.
func (g *regroup) move(tx store.Tx) error {
	var whole []vine.ID
	for _, r := range g.inOrder() {
		if r.all && r.as == r.id {
			whole = append(whole, r.id)
			continue
		}
		var vines []vine.ID
		for _, v := range r.vines {
			vines = append(vines, v.ID)
		}
		if err := tx.MoveVines(vines, r.as, g.now); err != nil {
			return err
		}
	}
	return tx.MoveRows(whole, g.to.ID, g.now)
}

func (g *regroup) inOrder() []*rowGoes {
	out := make([]*rowGoes, 0, len(g.rows))
	for _, r := range g.rows {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b *rowGoes) int { return int(a.id - b.id) })
	return out
}

// part sorts a list into what stays and what goes.
func part[T any](list []T, goes func(T) bool) (stay, out []T) {
	for _, x := range list {
		if goes(x) {
			out = append(out, x)
		} else {
			stay = append(stay, x)
		}
	}
	return stay, out
}
