package work

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"github.com/paulmach/orb"

	"courson/geo/layout"
	"courson/geo/vine"
	"courson/store"
)

// SplitWas is what taking a split back needs.
type SplitWas struct {
	Outline orb.MultiPolygon `json:"outline"` // of the block that was split
	Cut     []CutWas         `json:"cut"`
}

// CutWas is a row as it was, and the row that its far part became.
type CutWas struct {
	Row store.Row `json:"row"`
	New vine.ID   `json:"new"`
}

// JoinWas is what taking a join back needs.
type JoinWas struct {
	Block     store.Block           `json:"block"`   // that was taken in
	Outline   orb.MultiPolygon      `json:"outline"` // of the block that stayed
	Rows      map[vine.ID]store.Row `json:"rows"`    // label, order and spacing of its rows
	Planted   []vine.ID             `json:"planted"` // vines that took their planting season from it
	Standards *store.Standards      `json:"standards,omitempty"`
}

// was keeps the ground as it is before the split.
func (s *split) was() *SplitWas {
	out := &SplitWas{Outline: s.from.Outline}
	for _, id := range slices.Sorted(maps.Keys(s.cuts)) {
		k := slices.IndexFunc(s.stored, func(r store.Row) bool { return r.ID == id })
		out.Cut = append(out.Cut, CutWas{Row: s.stored[k]})
	}
	return out
}

// wasBefore keeps the ground as it is before the join.
func (j *joining) wasBefore(tx store.Tx) (*JoinWas, error) {
	was := &JoinWas{Block: j.from, Outline: j.outlineWas, Rows: map[vine.ID]store.Row{}}
	for _, r := range j.before {
		was.Rows[r.ID] = store.Row{Label: r.Label, Ord: r.Ord, SpacingM: r.SpacingM}
	}
	for _, v := range j.planted {
		was.Planted = append(was.Planted, v.ID)
	}
	var err error
	was.Standards, err = ownStandards(j.ctx, tx, j.from.ID)
	return was, err
}

// ownStandards gives the standards that a block has of its own; nil: none.
func ownStandards(ctx context.Context, st reader, block vine.ID) (*store.Standards, error) {
	list, err := st.Standards(ctx)
	for _, s := range list {
		if s.Block == block && !saysNothing(s.Value) {
			return &s, nil
		}
	}
	return nil, err
}

// noteOther writes the change down for the block that it made too.
func (s *split) noteOther(tx store.Tx, c GroundChange, order any) error {
	note := GroundChange{What: c.What, Block: c.Other, Code: c.OtherCode, Rows: c.Rows, Vines: c.Vines, Other: c.Block, OtherCode: c.Code, Of: c.ID}
	return keepChange(s.ctx, tx, &note, order, s.by, s.now)
}

// mayJoinBack tells why a split cannot be taken back: its error wraps ErrInUse.
func mayJoinBack(ctx context.Context, st reader, c GroundChange) error {
	other, err := findBlock(ctx, st, c.Other)
	if err != nil {
		return inUse("block %s, which it made, is not there any more", c.OtherCode)
	}
	changes, err := GroundChanges(ctx, st, c.Other)
	if err != nil {
		return err
	}
	if k := inForce(changes); k < 0 || changes[k].Of != c.ID || changes[0].Ground != other.GroundRev {
		return inUse("the ground of block %s, which it made, was changed since: take that back first", other.Code)
	}
	return nil
}

// joinBack takes a split back: what is on record, planned, ordered and noted of the
// vines meanwhile comes with them.
func (c GroundChange) joinBack(ctx context.Context, tx store.Tx, b store.Block, by string, now time.Time) error {
	from, err := findBlock(ctx, tx, c.Other)
	if err != nil {
		return err
	}
	g := &regroup{ctx: ctx, st: tx, from: from, to: b, rows: map[vine.ID]*rowGoes{}, goes: map[vine.ID]bool{}, whole: true, by: by, now: now}
	cut := map[vine.ID]store.Row{}
	for _, w := range c.Split.Cut {
		cut[w.New] = w.Row
	}
	rows, err := tx.Rows(ctx, from.ID)
	if err != nil {
		return err
	}
	for i := range rows {
		r := &rows[i]
		to := &rowGoes{id: r.ID, as: r.ID, label: r.Label, all: true}
		if was, ok := cut[r.ID]; ok {
			to.as, to.label = was.ID, was.Label
		}
		g.rows[r.ID] = to
	}
	for v, err := range tx.Vines(ctx, from.ID) {
		if err != nil {
			return err
		}
		g.goes[v.ID] = true
		g.rows[v.Row].vines = append(g.rows[v.Row].vines, v)
		g.rows[v.Row].goes.add(v.Number)
	}
	if err := g.look(); err != nil {
		return err
	}
	if err := g.move(tx); err != nil {
		return err
	}
	if err := mendRows(ctx, tx, b, c.Split.Cut); err != nil {
		return err
	}
	b.Outline = c.Split.Outline
	if err := tx.SaveBlocks([]store.Block{b}); err != nil {
		return err
	}
	if err := g.write(tx); err != nil {
		return err
	}
	return tx.Drop(store.Dropped{Blocks: []vine.ID{from.ID}})
}

// mendRows gives rows that were cut their lines again, and their vines their places on
// them.
func mendRows(ctx context.Context, tx store.Tx, b store.Block, cut []CutWas) error {
	rows, err := tx.Rows(ctx, b.ID)
	if err != nil {
		return err
	}
	f, whole := blockFrame(b, rows, orb.Point{}), make([]store.Row, len(cut))
	laid := make(map[vine.ID]layout.Row, len(cut))
	for i, w := range cut {
		whole[i] = w.Row
		if laid[w.Row.ID], err = layout.NewRow(f, w.Row.Line, layout.AsDrawn); err != nil {
			return fmt.Errorf("row %s/%s as it was: %w", b.Code, w.Row.Label, err)
		}
	}
	var vines []store.Vine
	for v, err := range tx.Vines(ctx, b.ID) {
		if err != nil {
			return err
		}
		if row, ok := laid[v.Row]; ok {
			hit := row.Nearest(f.XY(v.Point))
			v.ChainageM, v.Part = hit.ChainageM, hit.Part
			vines = append(vines, v)
		}
	}
	if err := tx.SaveRows(whole); err != nil {
		return err
	}
	return tx.SaveVines(vines)
}

// splitBack takes a join back: the block that was taken in is there again, under its
// code and with an id of its own.
func (c GroundChange) splitBack(ctx context.Context, tx store.Tx, b store.Block, by string, now time.Time) error {
	blocks := []store.Block{c.Join.Block}
	blocks[0].ID = 0
	if err := tx.SaveBlocks(blocks); err != nil {
		return err
	}
	g := &regroup{ctx: ctx, st: tx, from: b, to: blocks[0], rows: map[vine.ID]*rowGoes{}, goes: map[vine.ID]bool{}, by: by, now: now}
	rows, err := tx.Rows(ctx, b.ID)
	if err != nil {
		return err
	}
	var back []store.Row
	for _, r := range rows {
		was, ok := c.Join.Rows[r.ID]
		if !ok {
			continue
		}
		r.Block, r.Label, r.Ord, r.SpacingM = g.to.ID, was.Label, was.Ord, was.SpacingM
		back = append(back, r)
		g.rows[r.ID] = &rowGoes{id: r.ID, as: r.ID, label: r.Label, all: true}
	}
	planted, err := g.takeBackVines(tx, c.Join.Planted)
	if err != nil {
		return err
	}
	if err := g.look(); err != nil {
		return err
	}
	if err := g.move(tx); err != nil {
		return err
	}
	if err := tx.SaveRows(back); err != nil {
		return err
	}
	if err := tx.SaveVines(planted); err != nil {
		return err
	}
	b.Outline = c.Join.Outline
	if err := tx.SaveBlocks([]store.Block{b}); err != nil {
		return err
	}
	if s := c.Join.Standards; s != nil {
		g.standards = []store.Standards{{Block: g.to.ID, Made: now, By: s.By, Value: s.Value}}
	} else {
		g.standards = nil
	}
	return g.write(tx)
}

// takeBackVines notes the vines of the rows that go, and gives those that lose the
// planting season of their own which the join gave them.
func (g *regroup) takeBackVines(tx store.Tx, given []vine.ID) (planted []store.Vine, err error) {
	lose := make(map[vine.ID]bool, len(given))
	for _, id := range given {
		lose[id] = true
	}
	for v, err := range tx.Vines(g.ctx, g.from.ID) {
		if err != nil {
			return nil, err
		}
		to := g.rows[v.Row]
		if to == nil {
			continue
		}
		g.goes[v.ID] = true
		to.vines = append(to.vines, v)
		to.goes.add(v.Number)
		if lose[v.ID] {
			v.Planted, v.Block = 0, g.to.ID
			planted = append(planted, v)
		}
	}
	return planted, nil
}
