package work

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/layout/draw"
	"courson/geo/vine"
	"courson/store"
)

// SplitOrder says along which line a block becomes two.
type SplitOrder struct {
	// Line of two points or more across the block, longitude and latitude in degrees;
	// it goes straight on beyond its ends.
	Line []orb.Point `json:"line"`
	Side string      `json:"side"` // compass word of the side of the line that becomes the new block
	Code string      `json:"code"` // of the new block
	Name string      `json:"name"`
}

// split is a split being worked out.
type split struct {
	regroup
	frame   frame.Frame
	cut     draw.Cut
	left    bool // the left side becomes the new block
	stored  []store.Row
	vines   map[vine.ID][]store.Vine // by row, in order of number
	outline [2]orb.MultiPolygon      // that stays, that goes
	cuts    map[vine.ID]*cutRow
}

// cutRow is a row that becomes two.
type cutRow struct {
	stay, goes store.Row
	vines      []store.Vine // all, with the places that they have in their row then
}

// TrySplit works out a split and writes nothing. Errors wrap ErrDrawn, and
// store.ErrConflict where another block has the code.
func TrySplit(ctx context.Context, st reader, block vine.ID, o SplitOrder) (*Regrouped, error) {
	s, err := newSplit(ctx, st, block, o, "", time.Time{})
	if err != nil {
		return nil, err
	}
	if err := s.look(); err != nil {
		return nil, err
	}
	return s.tell(), nil
}

// SplitBlock makes one block two. Ids of rows and vines stay, with all that is on
// record; of a row that is cut the far part gets an id. What is planned, ordered and
// noted of vines goes with them. Errors as of TrySplit.
func SplitBlock(ctx context.Context, tx store.Tx, block vine.ID, o SplitOrder, by string, now time.Time) (*Regrouped, error) {
	s, err := newSplit(ctx, tx, block, o, by, now)
	if err != nil {
		return nil, err
	}
	was := s.was()
	if err := s.make(tx); err != nil {
		return nil, err
	}
	if err := s.look(); err != nil { // with the ids that there are now
		return nil, err
	}
	if err := s.settle(tx); err != nil {
		return nil, err
	}
	for i := range was.Cut {
		was.Cut[i].New = s.rows[was.Cut[i].Row.ID].as
	}
	out := s.tell()
	change := GroundChange{What: GroundSplit, Block: block, Code: s.from.Code, Rows: len(out.Rows), Vines: out.Vines, Other: s.to.ID, OtherCode: s.to.Code, Split: was}
	if err := keepChange(ctx, tx, &change, o, by, now); err != nil {
		return nil, err
	}
	return out, s.noteOther(tx, change, o)
}

func newSplit(ctx context.Context, st reader, block vine.ID, o SplitOrder, by string, now time.Time) (*split, error) {
	b, err := findBlock(ctx, st, block)
	if err != nil {
		return nil, err
	}
	s := &split{vines: map[vine.ID][]store.Vine{}, cuts: map[vine.ID]*cutRow{}}
	s.regroup = regroup{ctx: ctx, st: st, by: strings.TrimSpace(by), now: now, from: b, rows: map[vine.ID]*rowGoes{}, goes: map[vine.ID]bool{}}
	if s.stored, err = st.Rows(ctx, block); err != nil {
		return nil, err
	}
	for v, err := range st.Vines(ctx, block) {
		if err != nil {
			return nil, err
		}
		s.vines[v.Row] = append(s.vines[v.Row], v)
	}
	if err := s.name(o); err != nil {
		return nil, err
	}
	if err := s.draw(o); err != nil {
		return nil, err
	}
	return s, s.partRowsOfBlock()
}

// farFromBlockM is how far a line may reach beyond the block; chosen by us: what lies
// farther away was meant for another one.
const farFromBlockM = 20_000

// draw lays the line on the ground.
func (s *split) draw(o SplitOrder) (err error) {
	s.frame = blockFrame(s.from, s.stored, orb.Point{})
	if len(o.Line) > mostCorners {
		return drawnError("line", "%d points: at most %d", len(o.Line), mostCorners)
	}
	for i, p := range o.Line {
		if err := frame.CheckLonLat(p); err != nil || math.Abs(p[0]) > 180 {
			return drawnError("line", "point %d: %g, %g is no longitude and latitude in degrees", i+1, p[0], p[1])
		}
		if d := frame.WGS84.Distance(s.frame.Origin(), p); d > farFromBlockM {
			return drawnError("line", "point %d lies %.0f km from the block", i+1, d/1000)
		}
	}
	ground := s.frame.MultiPolygon(s.from.Outline)
	if s.cut, err = draw.NewCut(s.frame.Line(o.Line), s.reach(ground)); err != nil {
		return drawnError("line", "%v", err)
	}
	if s.left, err = s.cut.Side(s.frame, o.Side, s.reach(ground)); err != nil {
		return drawnError("side", "side %q: %v: name the side of the line that becomes the new block", o.Side, err)
	}
	stay, goes, err := s.cut.Ground(ground)
	if err != nil {
		return drawnError("line", "%v", err)
	}
	if s.left {
		stay, goes = goes, stay
	}
	for k, part := range [2]frame.MultiPolygon{stay, goes} {
		if area := squareMetres(part); len(s.from.Outline) > 0 && area < draw.LeastAreaM2 {
			return drawnError("line", "it leaves %.1f m² on one side: a block has at least %.0f m²", area, draw.LeastAreaM2)
		}
		s.outline[k] = degreesOf(s.frame, part)
	}
	s.to.Outline = s.outline[1]
	return nil
}

// reach is the ground that the line must cross: the outline, or all rows where the
// block has none.
func (s *split) reach(ground frame.MultiPolygon) frame.MultiPolygon {
	if len(ground) > 0 {
		return ground
	}
	var bound orb.Bound
	for i, r := range s.stored {
		if b := r.Line.Bound(); i == 0 {
			bound = b
		} else {
			bound = bound.Union(b)
		}
	}
	return s.frame.MultiPolygon(orb.MultiPolygon{bound.ToPolygon()})
}

func squareMetres(ground frame.MultiPolygon) (m2 float64) {
	for _, pg := range ground {
		m2 += pg.Area()
	}
	return m2
}

// degreesOf gives ground in degrees, every ring closed.
func degreesOf(f frame.Frame, ground frame.MultiPolygon) (out orb.MultiPolygon) {
	for _, pg := range ground {
		var rings orb.Polygon
		for _, r := range pg {
			ring := orb.Ring(f.LineString(frame.Line(r)))
			if n := len(ring); n > 0 && ring[0] != ring[n-1] {
				ring = append(ring, ring[0])
			}
			rings = append(rings, ring)
		}
		out = append(out, rings)
	}
	return out
}

// name checks the code of the new block and takes the rest from the old one.
func (s *split) name(o SplitOrder) error {
	code, name := strings.TrimSpace(o.Code), strings.TrimSpace(o.Name)
	if code == "" || len(code) > mostCode || strings.Contains(code, "/") {
		return drawnError("code", "code %q: 1 to %d bytes without a slash, such as H4", code, mostCode)
	}
	blocks, err := s.st.Blocks(s.ctx)
	if err != nil {
		return err
	}
	for _, b := range blocks {
		if strings.EqualFold(b.Code, code) {
			return fmt.Errorf("there is a block %s already: give the new one another code: %w", b.Code, store.ErrConflict)
		}
	}
	s.to = s.from
	s.to.ID, s.to.Code, s.to.Name = 0, code, name
	return nil
}

// partRowsOfBlock finds which rows go, and which are cut.
func (s *split) partRowsOfBlock() error {
	for _, r := range s.stored {
		to, err := s.partRow(r)
		if err != nil {
			return err
		}
		if to == nil {
			continue
		}
		s.rows[r.ID] = to
		for _, v := range to.vines {
			s.goes[v.ID] = true
		}
	}
	if len(s.rows) == len(s.stored) && len(s.stored) > 0 && len(s.cuts) == 0 {
		return drawnError("line", "all rows lie on the side that becomes the new block: draw the line between rows, or across them")
	}
	if len(s.rows) == 0 && len(s.stored) > 0 {
		return drawnError("line", "no row lies on the side that becomes the new block: draw the line between rows, or across them")
	}
	return nil
}

// partRow tells what becomes of a row; nil where it stays.
func (s *split) partRow(r store.Row) (*rowGoes, error) {
	to := &rowGoes{id: r.ID, as: r.ID, label: r.Label}
	vines, turns := s.vines[r.ID], 0
	for i, v := range vines {
		goes := s.cut.Left(s.frame.XY(v.Point)) == s.left
		if goes {
			to.goes.add(v.Number)
			to.vines = append(to.vines, v)
		} else {
			to.stay.add(v.Number)
		}
		if i > 0 && goes != (s.cut.Left(s.frame.XY(vines[i-1].Point)) == s.left) {
			turns++
			to.last, to.first = vines[i-1].ID, v.ID
		}
	}
	if turns > 1 {
		to.last, to.first = 0, 0
	}
	if len(vines) == 0 {
		to.all = s.cut.Left(s.frame.XY(r.Line.Bound().Center())) == s.left
	} else {
		to.all = len(to.vines) == len(vines)
	}
	if !to.all && len(to.vines) == 0 {
		return nil, nil
	}
	if !to.all {
		return to, s.cutRow(r, to)
	}
	return to, nil
}

// cutRow makes the two rows that come out of one.
func (s *split) cutRow(r store.Row, to *rowGoes) error {
	row, err := layout.NewRow(s.frame, r.Line, layout.AsDrawn)
	if err != nil {
		return drawnError("line", "row %s/%s: %v", s.from.Code, r.Label, err)
	}
	stay, goes := s.cut.Lines(row.Parts)
	if s.left {
		stay, goes = goes, stay
	}
	c := &cutRow{stay: r, goes: r}
	c.goes.ID = 0
	for _, half := range []struct {
		row   *store.Row
		lines []frame.Line
		goes  bool
	}{{&c.stay, stay, false}, {&c.goes, goes, true}} {
		laid, err := layout.NewRow(s.frame, linesOf(s.frame, half.lines), layout.AsDrawn)
		if err != nil {
			return drawnError("line", "row %s cannot be cut there (%v): draw the line a little farther along the row, or off it", r.Label, err)
		}
		half.row.Line, half.row.LengthM = laid.Lines(), laid.LengthM()
		for _, v := range s.vines[r.ID] {
			if to.holds(v.ID) == half.goes {
				hit := laid.Nearest(s.frame.XY(v.Point))
				v.ChainageM, v.Part = hit.ChainageM, hit.Part
				c.vines = append(c.vines, v)
			}
		}
	}
	s.cuts[r.ID] = c
	return nil
}

func linesOf(f frame.Frame, lines []frame.Line) (out orb.MultiLineString) {
	for _, l := range lines {
		out = append(out, f.LineString(l))
	}
	return out
}

// make gives the new block and the new rows their ids.
func (s *split) make(tx store.Tx) error {
	blocks := []store.Block{s.to}
	if err := tx.SaveBlocks(blocks); err != nil {
		return err
	}
	s.to = blocks[0]
	for id, c := range s.cuts {
		rows := []store.Row{c.goes}
		rows[0].Block = s.to.ID
		if err := tx.SaveRows(rows); err != nil {
			return err
		}
		c.goes, s.rows[id].as = rows[0], rows[0].ID
	}
	return nil
}

// settle moves what goes and writes the ground as it is then.
func (s *split) settle(tx store.Tx) error {
	if err := s.move(tx); err != nil {
		return err
	}
	for id, c := range s.cuts {
		for i, v := range c.vines {
			if s.goes[v.ID] {
				c.vines[i].Row, c.vines[i].Block = s.rows[id].as, s.to.ID
			}
		}
		if err := tx.SaveRows([]store.Row{c.stay}); err != nil {
			return err
		}
		if err := tx.SaveVines(c.vines); err != nil {
			return err
		}
	}
	b, err := findBlock(s.ctx, tx, s.from.ID)
	if err != nil {
		return err
	}
	b.Outline = s.outline[0]
	if err := tx.SaveBlocks([]store.Block{b}); err != nil {
		return err
	}
	return s.write(tx)
}
