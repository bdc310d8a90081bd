package stands

import (
	"container/list"
	"context"
	"fmt"

	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
	"courson/store"
)

// entry is a stand that is held. Only its place in the order of use changes.
type entry struct {
	key    key
	site   *site
	stand  *stand.Stand
	plan   int64 // id of the pruning plan shown; 0 none
	since  int64 // revision from which Stand.Changed tells of every change
	totals Totals
	draw   tile.BlockView
	bytes  int64

	areas tile.Areas // found in it
	place *list.Element
}

// Totals sums up a block in one season, with what does not depend on it.
type Totals struct {
	stand.Totals
	Revision int64 // of the block, shown by the sums
	AreaM2   float64
	RowM     float64 // planted row in all
	Rows     int
}

// whole is what stays of a stand that was let go.
type whole struct {
	totals Totals
	ground int64          // ground revision
	found  string         // stamp of the findings shown
	far    tile.BlockView // shape and totals; only where drawable
	drawn  bool           // far can be drawn
}

func (e *entry) whole() *whole {
	w := &whole{totals: e.totals, ground: e.site.ground.Revision, found: e.stand.Stamp()}
	w.far, w.drawn = e.draw.Far()
	return w
}

func (w *whole) shows(h *Head) bool {
	return w.totals.Revision >= h.Revision && w.ground >= h.GroundRev
}

// View is a block in one season as it was when asked for. It never changes.
type View struct {
	Head                   // with the revision that the stand shows
	Rows    []store.Row    // in the order of Stand.Ground.Rows
	Stand   *stand.Stand   // shared: read only
	Totals  Totals         // of Stand
	Drawing tile.BlockView // Stand, ready to be drawn
	Planned bool           // there is a pruning plan
	Since   int64          // Stand.Changed tells of every change after this revision; before it, look at all
}

// shows tells whether the entry shows all that its head knows of.
func (e *entry) shows(h *Head) bool {
	return e.stand.Revision >= h.Revision && e.site.ground.Revision >= h.GroundRev
}

func (e *entry) view(h *Head) *View {
	v := &View{Head: *h, Rows: e.site.rows, Stand: e.stand, Totals: e.totals, Drawing: e.draw,
		Planned: e.plan != 0, Since: e.since}
	v.Revision, v.GroundRev = e.stand.Revision, e.site.ground.Revision
	return v
}

// load reads a stand, or brings the one that is held up to date.
func (c *Cache) load(ctx context.Context, k key) (*entry, error) {
	h, err := c.Head(ctx, k.block)
	if err != nil {
		return nil, err
	}
	s, err := c.site(ctx, h)
	if err != nil {
		return nil, err
	}
	old, ok := c.held(k)
	if ok && old.shows(h) && c.fresh(old) {
		return old, nil
	}
	e := &entry{key: k, site: s}
	switch {
	case ok && old.shows(h): // only what was found is new
		e.stand, e.plan, e.since = old.stand, old.plan, old.since
	case ok && old.site == s:
		err = c.fold(ctx, e, old, h)
	default:
		err = c.fill(ctx, e, h)
	}
	if err != nil {
		return nil, err
	}
	if err := c.join(e); err != nil {
		return nil, err
	}
	if e.draw, err = tile.NewView(e.stand, s.index, s.outline, h.Name, h.Variety); err != nil {
		return nil, err
	}
	e.draw = e.draw.WithAreas(e.areas)
	e.totals = Totals{Totals: stand.TotalsOf(e.stand), Revision: e.stand.Revision,
		AreaM2: s.areaM2, RowM: s.rowM, Rows: len(s.rows)}
	e.bytes = e.stand.Bytes()
	c.keep(e)
	return e, nil
}

// fill reads a whole stand. The head was read before, so the stand shows at
// least its revision.
func (c *Cache) fill(ctx context.Context, e *entry, h *Head) error {
	g := e.site.ground
	s := stand.NewStand(g, e.key.season, h.Revision)
	var err error
	if s.Rule, err = c.rule(ctx, h); err != nil {
		return err
	}
	plan, id, err := c.planned(ctx, e)
	if err != nil {
		return err
	}
	for _, p := range plan {
		s.SetPlan(p.Vine, p.Nodes, 0)
	}
	for st, err := range c.store.States(ctx, e.key.block, e.key.season, 0) {
		if err != nil {
			return fmt.Errorf("states: %w", err)
		}
		if i, ok := g.IndexOf(st.Vine); ok {
			s.Set(i, st.State, st.Changed)
			s.Revision = max(s.Revision, st.Changed)
		}
	}
	e.stand, e.plan, e.since = s, id, g.Revision
	if id != 0 { // when the plan came cannot be told from the vines
		e.since = s.Revision
	}
	c.count(func(s *Stats) { s.Loads++ })
	return nil
}

// fold makes the stand anew with the vines that changed since the old one.
func (c *Cache) fold(ctx context.Context, e, old *entry, h *Head) error {
	revision := h.Revision
	var changes []stand.Change
	for st, err := range c.store.States(ctx, e.key.block, e.key.season, old.stand.Revision) {
		if err != nil {
			return fmt.Errorf("states after revision %d: %w", old.stand.Revision, err)
		}
		if i, ok := e.site.ground.IndexOf(st.Vine); ok {
			changes = append(changes, stand.Change{Vine: i, State: st.State, Changed: st.Changed})
			revision = max(revision, st.Changed)
		}
	}
	e.stand, e.plan, e.since = old.stand.With(revision, changes), old.plan, old.since
	plans, err := c.store.PlanList(ctx, store.PlanPruning, e.key.season, e.key.block)
	if err != nil {
		return fmt.Errorf("plans: %w", err)
	}
	if len(plans) > 0 && plans[0].ID != old.plan {
		plan, id, err := c.planned(ctx, e)
		if err != nil {
			return err
		}
		e.stand, e.plan = e.stand.WithPlan(revision, plan), id
	}
	c.count(func(s *Stats) { s.Folds++ })
	return nil
}

// planned reads the newest pruning plan; id 0 where there is none. The list is
// read first: a plan that comes in between is taken up at the next look.
func (c *Cache) planned(ctx context.Context, e *entry) (plan []stand.PlanNodes, id int64, err error) {
	plans, err := c.store.PlanList(ctx, store.PlanPruning, e.key.season, e.key.block)
	if err != nil {
		return nil, 0, fmt.Errorf("plans: %w", err)
	}
	if len(plans) == 0 {
		return nil, 0, nil
	}
	entries, err := c.store.PlanEntries(ctx, store.PlanPruning, e.key.season, e.key.block)
	if err != nil {
		return nil, 0, fmt.Errorf("pruning plan: %w", err)
	}
	for _, p := range entries {
		if i, ok := e.site.ground.IndexOf(p.Vine); ok {
			plan = append(plan, stand.PlanNodes{Vine: i, Nodes: p.Nodes})
		}
	}
	return plan, plans[0].ID, nil
}

// rule is how measures become classes of vigour in a block.
func (c *Cache) rule(ctx context.Context, h *Head) (stand.Rule, error) {
	set, err := c.heads(ctx)
	if err != nil {
		return stand.Rule{}, err
	}
	return set.book.Rule(set.estate, h.Block)
}

func (c *Cache) count(f func(*Stats)) {
	c.mu.Lock()
	defer c.mu.Unlock()
	f(&c.stats)
}

// Find gives the place of a vine among the columns.
func (v *View) Find(id vine.ID) (int, bool) { return v.Stand.Ground.IndexOf(id) }
