package server

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"courson/server/findings"
	"courson/server/stands"
	"courson/server/work"
	"courson/store"
)

// ogcCollection says how one collection comes from the blocks. Its features are
// those of the blocks in order of code, and within a block in the order of the
// ground.
type ogcCollection struct {
	id, title, what string
	geometry        string // kind of geometry in the schema
	textID          bool   // ids are texts; else whole numbers
	blockField      string // the field that names the block
	fields          []ogcField

	needsView     bool // its features come from the vines
	needsFindings bool // its features are findings
	needsZones    bool // its features are zones that were kept
	inBounds      bool // every feature lies within its block's bounds

	known  func(p *ogcPart) int // how many features there are, by the totals
	count  func(p *ogcPart) int // and by the view
	name   func(p *ogcPart, i int) string
	find   func(p *ogcPart, id string) (int, bool)
	within func(p *ogcPart, i int, boxes []ogcBox) bool // also where there is no geometry
	shape  func(dst []byte, p *ogcPart, i int) []byte
}

// ogcCollections gives all collections in the order they are listed.
func ogcCollections() []ogcCollection {
	return []ogcCollection{blockCollection(), rowCollection(), vineCollection(), patchCollection(), zonesCollection()}
}

// ogcCollectionOf finds the collection of the path.
func ogcCollectionOf(r *http.Request) (*ogcCollection, error) {
	id := r.PathValue("collection")
	for _, c := range ogcCollections() {
		if c.id == id {
			return &c, nil
		}
	}
	return nil, refuse(http.StatusNotFound, "collection", "there is no collection %q; there are blocks, rows, vines, patches, zones", id)
}

// ogcMargin is how far vines may stand beyond the bounds that are known of a
// block that is not loaded, in degrees: about 100 m.
const ogcMargin = 0.001

// ogcHeads gives the blocks in which features may match.
func (s *Server) ogcHeads(ctx context.Context, c *ogcCollection, q *ogcQuery) ([]*stands.Head, error) {
	all, err := s.stands.Heads(ctx)
	if err != nil {
		return nil, err
	}
	var out []*stands.Head
	for _, h := range all {
		if q.block != "" && h.Code != q.block {
			continue
		}
		if c.inBounds && q.boxes != nil && !h.Bounds.IsEmpty() && !touchesAny(h.Bounds.Pad(ogcMargin), q.boxes) {
			continue
		}
		out = append(out, h)
	}
	return out, nil
}

func touchesAny(b orb.Bound, boxes []ogcBox) bool {
	for _, box := range boxes {
		if b.Intersects(orb.Bound(box)) {
			return true
		}
	}
	return false
}

// foundOf gives what was found of a block, nil where nothing was yet.
func (s *Server) foundOf(h *stands.Head, season int) *work.Findings {
	f, _ := s.desk.Of(findings.Key{Block: h.ID, Season: season})
	return f
}

// parts gives what every block has of the features that match. Blocks are loaded
// only where that cannot be told without.
func (s *Server) parts(ctx context.Context, c *ogcCollection, q *ogcQuery, heads []*stands.Head) ([]*ogcPart, error) {
	totals, err := s.stands.AllTotals(ctx, heads, q.season)
	if err != nil {
		return nil, err
	}
	zones, err := s.zonesInUse(ctx, c, q.season)
	if err != nil {
		return nil, err
	}
	out := make([]*ogcPart, len(heads))
	for i, h := range heads {
		p := &ogcPart{season: q.season, head: h, totals: totals[i], zones: zones[h.ID]}
		out[i] = p
		p.found = s.foundOf(h, q.season)
		p.n = c.known(p)
		if q.boxes == nil && len(q.filters) == 0 {
			continue
		}
		if err := s.loadPart(ctx, c, p); err != nil {
			return nil, err
		}
		p.pick(c, q)
		p.release(c)
	}
	return out, nil
}

// errOGCMoved says that a block changed between two looks of one request.
var errOGCMoved = errors.New("a block changed meanwhile")

// loadPart gets a part's vines, where the collection needs them. Of a block that
// gained or lost features since they were counted it says so.
func (s *Server) loadPart(ctx context.Context, c *ogcCollection, p *ogcPart) error {
	if !c.needsView || p.view != nil {
		return nil
	}
	v, err := s.stands.Stand(ctx, p.head.ID, p.season)
	if err != nil {
		return err
	}
	p.view = v
	if f := p.found; f != nil && f.Found != v.Stand.Found {
		p.found = nil // found on other ground, or not shown yet
	}
	if c.count(p) != p.n {
		return errOGCMoved
	}
	return nil
}

// release lets go of what is needed to find features and not to count them, so
// that a look at a whole estate holds one block at a time.
func (p *ogcPart) release(c *ogcCollection) {
	if c.needsView {
		p.view, p.rows, p.place = nil, nil, nil
	}
}

// pick notes the features that match.
func (p *ogcPart) pick(c *ogcCollection, q *ogcQuery) {
	p.some, p.hits = true, []int32{}
	for i := range p.n {
		if p.keeps(c, q, i) {
			p.hits = append(p.hits, int32(i))
		}
	}
}

func (p *ogcPart) keeps(c *ogcCollection, q *ogcQuery, i int) bool {
	for _, f := range q.filters {
		if !f.keeps(p, i) {
			return false
		}
	}
	return q.boxes == nil || c.within(p, i, q.boxes)
}

// ogcPage is a page of features.
type ogcPage struct {
	parts       []*ogcPart
	total       int
	first, past int // ranks among all that match
}

// page finds the features of one page.
func (s *Server) page(ctx context.Context, c *ogcCollection, q *ogcQuery, heads []*stands.Head) (pg ogcPage, err error) {
	if pg.parts, err = s.parts(ctx, c, q, heads); err != nil {
		return pg, err
	}
	for _, p := range pg.parts {
		pg.total += p.matches()
	}
	at, err := s.rank(ctx, c, q.from, pg.parts)
	if err != nil {
		return pg, err
	}
	if q.from != nil && q.from.before {
		pg.first, pg.past = max(0, at-q.limit), at
	} else {
		pg.first, pg.past = at, min(pg.total, at+q.limit)
	}
	first := 0
	for _, p := range pg.parts { // the vines that are written
		past := first + p.matches()
		if first < pg.past && past > pg.first {
			if err := s.loadPart(ctx, c, p); err != nil {
				return pg, err
			}
		}
		first = past
	}
	return pg, nil
}

// rank is how many features come before the place of a cursor.
func (s *Server) rank(ctx context.Context, c *ogcCollection, from *ogcCursor, parts []*ogcPart) (int, error) {
	if from == nil {
		return 0, nil
	}
	before := 0
	for _, p := range parts {
		if p.head.ID != from.block {
			before += p.matches()
			continue
		}
		if err := s.loadPart(ctx, c, p); err != nil {
			return 0, err
		}
		i, ok := c.find(p, from.id)
		if !ok {
			return 0, badCursor(from.name())
		}
		k, itself := p.rank(i)
		if itself && !from.before {
			k++
		}
		return before + k, nil
	}
	return 0, badCursor(from.name())
}

// each calls f for the features of the page, in order.
func (pg *ogcPage) each(f func(p *ogcPart, i int)) {
	first := 0
	for _, p := range pg.parts {
		n := p.matches()
		for k := max(0, pg.first-first); k < min(n, pg.past-first); k++ {
			f(p, p.at(k))
		}
		first += n
	}
}

// cursorAt names the feature of a rank.
func (pg *ogcPage) cursorAt(c *ogcCollection, rank int) (text string) {
	one := ogcPage{parts: pg.parts, first: rank, past: rank + 1}
	one.each(func(p *ogcPart, i int) { text = cursorText(p.head.ID, c.name(p, i)) })
	return text
}

// allFound refuses while findings of a block are still to come. Blocks of which
// they failed are named, and left out.
func (s *Server) allFound(heads []*stands.Head, season int) (without []string, err error) {
	for _, h := range heads {
		f, status := s.desk.Of(findings.Key{Block: h.ID, Season: season})
		switch {
		case f != nil:
		case status.State == findings.Failed || status.State == findings.Cancelled:
			without = append(without, h.Code)
		default:
			return nil, refuse(http.StatusServiceUnavailable, "", "block %s of season %d is not worked out yet (%s); try again in a moment", h.Code, season, status.State)
		}
	}
	return without, nil
}

// findOGC finds one feature: the part with its block, and its index.
func (s *Server) findOGC(ctx context.Context, c *ogcCollection, season int, id string) (*ogcPart, int, error) {
	heads, err := s.headsFor(ctx, c, id)
	if err != nil {
		return nil, 0, err
	}
	if c.needsFindings {
		if _, err := s.allFound(heads, season); err != nil {
			return nil, 0, err
		}
	}
	zones, err := s.zonesInUse(ctx, c, season)
	if err != nil {
		return nil, 0, err
	}
	for _, h := range heads {
		totals, err := s.stands.Totals(ctx, h.ID, season)
		if err != nil {
			return nil, 0, err
		}
		p := &ogcPart{season: season, head: h, totals: totals, found: s.foundOf(h, season), zones: zones[h.ID]}
		p.n = c.known(p)
		if err := s.loadPart(ctx, c, p); err != nil && !errors.Is(err, errOGCMoved) {
			return nil, 0, err
		}
		if i, ok := c.find(p, id); ok {
			return p, i, nil
		}
	}
	return nil, 0, refuse(http.StatusNotFound, "id", "there is no feature %q among %s", id, c.id)
}

// headsFor gives the blocks in which a feature may lie.
func (s *Server) headsFor(ctx context.Context, c *ogcCollection, id string) ([]*stands.Head, error) {
	all, err := s.stands.Heads(ctx)
	if err != nil {
		return nil, err
	}
	n, numErr := strconv.ParseInt(id, 10, 64)
	var own func(h *stands.Head) bool
	switch {
	case c.textID: // a patch's id begins with the code of its block
		own = func(h *stands.Head) bool { return strings.HasPrefix(id, h.Code+"-") }
	case numErr != nil || n <= 0:
		return nil, nil
	case c.id == "blocks":
		own = func(h *stands.Head) bool { return h.ID == n }
	case c.id == "vines":
		v, err := s.cfg.Store.Vine(ctx, n)
		if errors.Is(err, store.ErrNotFound) {
			return nil, nil
		} else if err != nil {
			return nil, err
		}
		own = func(h *stands.Head) bool { return h.ID == v.Block }
	default:
		return all, nil
	}
	return slices.DeleteFunc(slices.Clone(all), func(h *stands.Head) bool { return !own(h) }), nil
}
