package work

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"courson/geo/replant"
	"courson/geo/vine"
	"courson/store"
)

// lookPlans parts the newest plan of a kind in every season.
func (g *regroup) lookPlans(kind store.PlanKind) (n int, err error) {
	seasons, err := g.st.Seasons(g.ctx)
	if err != nil {
		return 0, err
	}
	for _, season := range seasons {
		heads, err := g.st.PlanList(g.ctx, kind, season, g.from.ID)
		if err != nil {
			return 0, err
		}
		if len(heads) == 0 {
			continue
		}
		entries, err := g.st.PlanEntries(g.ctx, kind, season, g.from.ID)
		if err != nil {
			return 0, err
		}
		stay, goes := part(entries, func(e store.PlanEntry) bool { return g.goes[e.Vine] })
		if len(goes) == 0 {
			continue
		}
		there, err := g.planThere(kind, season)
		if err != nil {
			return 0, err
		}
		n++
		head := store.Plan{Kind: kind, Season: season, Made: g.now, By: g.by, Source: heads[0].Source, Inputs: heads[0].Inputs}
		rest, moved := head, head
		rest.Block, moved.Block = g.from.ID, g.to.ID
		moved.Source = fmt.Sprintf("%s, carried over from block %s", strings.TrimSpace(head.Source), g.from.Code)
		g.plans = append(g.plans, carriedPlan{moved, append(there, goes...)})
		if len(stay) > 0 {
			g.plans = append(g.plans, carriedPlan{rest, stay})
		}
	}
	return n, nil
}

// planThere gives what is planned already for the block that vines come into.
func (g *regroup) planThere(kind store.PlanKind, season int) ([]store.PlanEntry, error) {
	if g.to.ID == 0 {
		return nil, nil
	}
	return g.st.PlanEntries(g.ctx, kind, season, g.to.ID)
}

func (g *regroup) lookReplants() (int, error) {
	all, err := ReplantMoves(g.ctx, g.st, g.from.ID)
	if err != nil {
		return 0, err
	}
	stay, goes := part(all, func(m replant.Move) bool { return g.goes[m.Vine] })
	if len(goes) == 0 {
		return 0, nil
	}
	var there []replant.Move
	if g.to.ID != 0 {
		if there, err = ReplantMoves(g.ctx, g.st, g.to.ID); err != nil {
			return 0, err
		}
	}
	places := map[vine.ID]bool{}
	for _, m := range goes {
		places[m.Vine] = true
	}
	if err := g.paper(PaperReplant, fmt.Sprint(g.to.ID), 0, g.to.ID, g.by, moves{append(slices.Clip(there), goes...)}); err != nil {
		return 0, err
	}
	return len(places), g.paper(PaperReplant, fmt.Sprint(g.from.ID), 0, g.from.ID, g.by, moves{stay})
}

func (g *regroup) lookRenewals() (n int, err error) {
	papers, err := g.st.Papers(g.ctx, store.PaperQuery{Kind: PaperRenewal})
	if err != nil {
		return 0, err
	}
	for _, p := range papers {
		id, err := strconv.ParseInt(p.Key, 10, 64)
		if err != nil || p.Block != g.from.ID || !g.goes[id] {
			continue
		}
		p.Block = g.to.ID
		g.papers = append(g.papers, p)
		n++
	}
	return n, nil
}

// lookStandards copies what the owner set for the block, where the other has nothing of
// its own.
func (g *regroup) lookStandards() (int, error) {
	list, err := g.st.Standards(g.ctx)
	if err != nil {
		return 0, err
	}
	own := slices.IndexFunc(list, func(s store.Standards) bool { return s.Block == g.from.ID && !saysNothing(s.Value) })
	if own < 0 || g.whole {
		return 0, nil
	}
	s := list[own]
	s.Block, s.Made = g.to.ID, g.now
	g.standards = append(g.standards, s)
	return 1, nil
}

// lookZones takes zones out of use: they were made for the ground as it was.
func (g *regroup) lookZones() (int, error) {
	papers, err := g.st.Papers(g.ctx, store.PaperQuery{Kind: PaperZones})
	if err != nil {
		return 0, err
	}
	var seasons []string
	for _, p := range papers {
		if p.Block != g.from.ID && (g.to.ID == 0 || p.Block != g.to.ID) {
			continue
		}
		p.Made, p.By, p.Value = g.now, g.by, []byte("{}")
		g.papers = append(g.papers, p)
		if s := fmt.Sprint(p.Season); !slices.Contains(seasons, s) {
			seasons = append(seasons, s)
		}
	}
	if len(seasons) > 0 {
		g.words = append(g.words, fmt.Sprintf("zones and rates of %s were made for the ground as it was: make them again", strings.Join(seasons, ", ")))
	}
	return 0, nil
}
