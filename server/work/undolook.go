package work

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// undoBlock is one block that the import touches, as it stands now.
type undoBlock struct {
	TakenGround
	now    store.Block
	rows   map[vine.ID]store.Row
	made   store.Dropped       // of a block that stays
	firm   map[vine.ID]string  // vines that it made or moved, by address now
	inRows map[vine.ID]bool    // their rows
	events []store.LoggedEvent // of the block, since
}

// look finds out how a block stands, and what was built on what the import did to
// it.
func (u *undo) look(g TakenGround) (*undoBlock, error) {
	b := &undoBlock{TakenGround: g, rows: map[vine.ID]store.Row{}, firm: map[vine.ID]string{}, inRows: map[vine.ID]bool{}}
	blocks, err := u.tx.Blocks(u.ctx)
	if err != nil {
		return nil, err
	}
	at := slices.IndexFunc(blocks, func(o store.Block) bool { return o.ID == g.ID })
	if at < 0 {
		u.built("block "+g.Code, "is gone since", "", u.taken.Made)
		return b, nil
	}
	b.now = blocks[at]
	b.Code = b.now.Code
	if err := u.lookAtGround(b); err != nil {
		return nil, err
	}
	if b.events, err = u.tx.Events(u.ctx, store.EventQuery{Block: g.ID, After: u.taken.Trace.From.Cursor}); err != nil {
		return nil, err
	}
	u.lookAtRecords(b)
	if b.Made || len(b.firm) > 0 {
		err = u.lookAtPlans(b)
	}
	return b, err
}

// lookAtGround holds the ground against what the import made of it.
func (u *undo) lookAtGround(b *undoBlock) error {
	t := u.taken.Trace
	sum, changed := uint64(0), map[vine.ID]bool{}
	wanted, moved := u.wanted(b.ID)
	hold := func(id vine.ID, now uint64, what string) {
		if t.made(id) {
			sum += now
		} else if print, ok := wanted[id]; ok {
			delete(wanted, id)
			if print != now {
				changed[id] = true
				name, by, at := u.laterOn(b.ID)
				u.built(what, "was changed again since"+name, by, at)
			}
		}
	}
	hold(b.ID, printOf(blockPrint(b.now)), "block "+b.Code)
	rows, err := u.tx.Rows(u.ctx, b.ID)
	if err != nil {
		return err
	}
	for _, r := range rows {
		b.rows[r.ID] = r
		hold(r.ID, printOf(rowPrint(r)), "row "+b.Code+"/"+r.Label)
		switch {
		case !b.Made && t.made(r.ID):
			b.made.Rows = append(b.made.Rows, r.ID)
		case b.Made && r.ID > t.To.ID:
			name, by, at := u.laterOn(b.ID)
			u.built("row "+b.Code+"/"+r.Label, "was added since"+name, by, at)
		}
	}
	for v, err := range u.tx.Vines(u.ctx, b.ID) {
		if err != nil {
			return err
		}
		address := vine.Address{Block: b.Code, Row: b.rows[v.Row].Label, Number: v.Number}.String()
		hold(v.ID, vinePrint(v), "vine "+address)
		switch {
		case t.made(v.ID) || moved[v.ID]:
			b.firm[v.ID], b.inRows[v.Row] = address, true
			if t.made(v.ID) && !t.made(v.Row) {
				b.made.Vines = append(b.made.Vines, v.ID)
			}
		case v.ID > t.To.ID && t.made(v.Row):
			name, by, at := u.laterOn(b.ID)
			u.built("vine "+address, "was added since"+name, by, at)
		}
	}
	if sum != b.Sum || len(wanted) > 0 {
		name, by, at := u.laterOn(b.ID)
		u.built("block "+b.Code, "its rows or vines were changed or taken away since"+name, by, at)
	}
	return nil
}

// wanted gives the prints of what the import changed in a block, as it left it,
// and the vines that it moved or renumbered.
func (u *undo) wanted(block vine.ID) (prints map[vine.ID]uint64, moved map[vine.ID]bool) {
	prints, moved = map[vine.ID]uint64{}, map[vine.ID]bool{}
	for i := range u.before {
		for _, c := range u.before[i].Blocks {
			if c.Was.ID == block {
				prints[block] = c.Now
			}
		}
		for _, c := range u.before[i].Rows {
			if c.Was.Block == block {
				prints[c.Was.ID] = c.Now
			}
		}
		for _, c := range u.before[i].Vines {
			if c.Was.Block == block {
				prints[c.Was.ID], moved[c.Was.ID] = c.Now, true
			}
		}
	}
	return prints, moved
}

// lookAtRecords looks for records that others made of ground that the import made
// or moved, and for imports that corrected its records.
func (u *undo) lookAtRecords(b *undoBlock) {
	t := u.taken.Trace
	own, void := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	for _, e := range b.events {
		if t.own(e.Cursor) {
			own[e.ID] = true
		}
		if v, ok := e.Body.(vine.Void); ok {
			void[v.Event] = true
		}
	}
	for _, e := range b.events {
		v, voids := e.Body.(vine.Void)
		switch {
		case own[e.ID] || void[e.ID]:
		case voids && own[v.Event]:
			if by := u.importAt(e.Cursor); by != nil {
				u.built("records of block "+b.Code, "were corrected since, by the import of "+by.names()+": take that back first", by.By, by.Made)
			}
		case !voids && b.covers(e.Target):
			u.built(b.targetName(e.Target), "was recorded since: "+u.recordName(e), e.By, e.When)
		}
	}
}

// importAt gives the later import that made the record, nil if none did.
func (u *undo) importAt(cursor int64) *Taken {
	for i := range u.later {
		if u.later[i].Trace.own(cursor) {
			return &u.later[i]
		}
	}
	return nil
}

// recordName says what a record is.
func (u *undo) recordName(e store.LoggedEvent) string {
	text := string(e.Kind)
	switch v := e.Body.(type) {
	case vine.Measure:
		text = strings.ReplaceAll(string(v.Quantity), "_", " ")
	case vine.Sighting:
		text = v.Condition.String()
	case vine.Work:
		text = v.Operation + " " + v.Progress.String()
	}
	if by := u.importAt(e.Cursor); by != nil {
		text += ", by the import of " + by.names()
	}
	return text
}

// covers tells whether a record is about anything that the import made or moved.
func (b *undoBlock) covers(t vine.Target) bool {
	switch {
	case b.Made:
		return true
	case len(t.Vines) > 0:
		return slices.ContainsFunc(t.Vines, func(id vine.ID) bool { _, ok := b.firm[id]; return ok })
	case t.Row != 0:
		return b.inRows[t.Row] || slices.Contains(b.made.Rows, t.Row)
	}
	return len(b.firm) > 0
}

// targetName names what a record is about.
func (b *undoBlock) targetName(t vine.Target) string {
	switch {
	case len(t.Vines) == 1:
		return "vine " + b.firm[t.Vines[0]]
	case t.Row != 0 && len(t.Vines) > 0:
		return fmt.Sprintf("%d vines of row %s/%s", len(t.Vines), b.Code, b.rows[t.Row].Label)
	case t.Row != 0:
		return "row " + b.Code + "/" + b.rows[t.Row].Label
	}
	return "block " + b.Code
}

// lookAtPlans looks for what was planned, set and ordered since for ground that
// the import made or moved.
func (u *undo) lookAtPlans(b *undoBlock) error {
	name := "block " + b.Code
	seasons, err := u.tx.Seasons(u.ctx)
	if err != nil {
		return err
	}
	for _, season := range seasons {
		for kind, what := range map[store.PlanKind]string{store.PlanPruning: "a pruning plan was made", PlanOverride: "vines were given loads of their own"} {
			heads, err := u.tx.PlanList(u.ctx, kind, season, b.ID)
			if err != nil {
				return err
			}
			for _, h := range heads {
				if !h.Made.Before(u.taken.Made) && !u.ownPlan(h) {
					u.built(name, fmt.Sprintf("%s since, for %d", what, season), h.By, h.Made)
				}
			}
		}
	}
	if b.Made {
		list, err := u.tx.Standards(u.ctx)
		if err != nil {
			return err
		}
		for _, s := range list {
			if s.Block == b.ID {
				u.built(name, "its standards were set since", s.By, s.Made)
			}
		}
	}
	for kind, what := range restingPapers() {
		papers, err := u.tx.Papers(u.ctx, store.PaperQuery{Kind: kind})
		if err != nil {
			return err
		}
		for _, p := range papers {
			if p.Block == b.ID && !p.Made.Before(u.taken.Made) {
				u.built(name, what+" since", p.By, p.Made)
			}
		}
	}
	return nil
}

// ownPlan tells whether a plan is the import's, or came and went with another
// import that was taken back.
func (u *undo) ownPlan(h store.Plan) bool {
	if strings.HasPrefix(h.Source, undonePlan) {
		return true
	}
	return slices.ContainsFunc(u.all, func(t Taken) bool {
		return (t.ID == u.taken.ID || t.Undone != nil) && t.Trace != nil && slices.ContainsFunc(t.Trace.Plans, func(p takenPlan) bool { return p.ID == h.ID })
	})
}

// lookAtKept looks whether the surveys that it brought still stand.
func (u *undo) lookAtKept() error {
	for _, k := range u.taken.Trace.Kept {
		list, err := KeptEvidence(u.ctx, u.tx, k.Block)
		if err != nil {
			return err
		}
		if !slices.ContainsFunc(list, func(o Kept) bool { return o.ID == k.ID }) {
			name, by, at := "", "", u.taken.Made
			for _, t := range u.later {
				for _, o := range t.Trace.Kept {
					if o.Block == k.Block {
						name, by, at = ", by the import of "+t.names(), t.By, t.Made
					}
				}
			}
			u.built("the survey", "another took its place since"+name, by, at)
		}
	}
	return nil
}
