package work

import (
	"fmt"
	"slices"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// takeBackRecords takes the import's records back, and makes those anew that it
// had corrected.
func (u *undo) takeBackRecords() error {
	for _, b := range u.blocks {
		if err := u.takeBackIn(b); err != nil {
			return fmt.Errorf("block %s: %w", b.Code, err)
		}
	}
	return nil
}

func (u *undo) takeBackIn(b *undoBlock) error {
	t := u.taken.Trace
	var voids []vine.Event
	corrected := map[uuid.UUID][]vine.Target{} // what it had taken back, for which vines
	void := map[uuid.UUID][]vine.Target{}
	for _, e := range b.events {
		if v, ok := e.Body.(vine.Void); ok {
			void[v.Event] = append(void[v.Event], e.Target)
		}
	}
	own := map[uuid.UUID]bool{}
	for _, e := range b.events {
		own[e.ID] = t.own(e.Cursor)
	}
	for _, e := range b.events {
		if !own[e.ID] {
			continue
		}
		if v, ok := e.Body.(vine.Void); ok {
			if !own[v.Event] {
				corrected[v.Event] = append(corrected[v.Event], e.Target)
			}
			continue
		}
		if !slices.ContainsFunc(void[e.ID], func(o vine.Target) bool { return sameVines(o, e.Target) }) {
			voids = append(voids, u.event(e.Event, e.Target, vine.Void{Event: e.ID, Reason: "the import of " + u.taken.names() + " was taken back"}))
			u.report.Records += vinesIn(e.Target)
		}
	}
	if err := u.append(voids); err != nil {
		return err
	}
	if len(corrected) == 0 {
		return nil
	}
	return u.restore(b, corrected)
}

func sameVines(a, b vine.Target) bool {
	return a.Block == b.Block && (len(a.Vines) == 0 && (a.Row == 0 || a.Row == b.Row) || slices.Equal(a.Vines, b.Vines))
}

// vinesIn counts the vines of a target, 1 for a whole row or block.
func vinesIn(t vine.Target) int { return max(1, len(t.Vines)) }

// event makes a record in the name of the device of another one, so that later
// imports see it.
func (u *undo) event(of vine.Event, target vine.Target, body vine.Body) vine.Event {
	u.seq++
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: of.Device, Seq: u.seq, At: u.now, When: u.now, Received: u.now, By: u.job.By,
		Season: of.Season, Target: target, Kind: body.Kind(), Body: body}
}

// atOnce is how many records go into the log together.
const atOnce = 2000

func (u *undo) append(events []vine.Event) error {
	for part := range slices.Chunk(events, atOnce) {
		answers, err := u.tx.Append(u.ctx, part)
		if err != nil {
			return err
		}
		for _, a := range answers {
			if a.Result == store.Refused {
				return fmt.Errorf("a record was not accepted: %s", a.Reason)
			}
		}
	}
	return nil
}

// restore makes records anew that the import had corrected: as they were, of the
// day and by whom they were made. An earlier import to which they belong hears
// of it.
func (u *undo) restore(b *undoBlock, corrected map[uuid.UUID][]vine.Target) error {
	events, err := u.tx.Events(u.ctx, store.EventQuery{Block: b.ID})
	if err != nil {
		return err
	}
	for i := range u.all {
		if u.all[i].Trace != nil {
			if err := u.restoreOf(b, &u.all[i], events, corrected); err != nil {
				return err
			}
		}
	}
	return u.restoreOf(b, nil, events, corrected)
}

// restoreOf does so for those of one import; nil: for all that are left.
func (u *undo) restoreOf(b *undoBlock, of *Taken, events []store.LoggedEvent, corrected map[uuid.UUID][]vine.Target) error {
	var anew []vine.Event
	for _, e := range events {
		targets := corrected[e.ID]
		if len(targets) == 0 || of != nil && !of.Trace.own(e.Cursor) {
			continue
		}
		delete(corrected, e.ID)
		for _, t := range targets {
			body, ok := partOf(e.Event, t)
			if !ok {
				continue
			}
			again := u.event(e.Event, t, body)
			again.At, again.When, again.By = e.At, e.When, e.By
			anew = append(anew, again)
			u.report.Restored += vinesIn(t)
		}
	}
	if len(anew) == 0 {
		return nil
	}
	from, err := u.tx.Mark()
	if err == nil {
		err = u.append(anew)
	}
	if err != nil || of == nil || of.ID == u.taken.ID {
		return err
	}
	to, err := u.tx.Mark()
	if err != nil {
		return err
	}
	of.Trace.Restored = append(of.Trace.Restored, [2]int64{from.Cursor + 1, to.Cursor})
	return saveTaken(u.tx, *of)
}

// partOf gives what a record says of the vines of a target, which it covers.
func partOf(e vine.Event, t vine.Target) (vine.Body, bool) {
	m, ok := e.Body.(vine.Measure)
	if !ok || len(m.Values) == 0 {
		return e.Body, true
	}
	part := vine.Measure{Quantity: m.Quantity, Unit: m.Unit, Scale: m.Scale, Classes: m.Classes}
	ids := t.Vines
	if len(ids) == 0 {
		ids = e.Target.Vines
	}
	for _, id := range ids {
		i := slices.Index(e.Target.Vines, id)
		if i < 0 {
			return nil, false
		}
		part.Values = append(part.Values, m.Values[i])
		if len(m.Counts) > 0 {
			part.Counts = append(part.Counts, m.Counts[i])
		}
	}
	return part, true
}

// takeBackPlans lets the plan of before hold again where the import's is the
// newest.
func (u *undo) takeBackPlans() error {
	for _, p := range u.taken.Trace.Plans {
		if u.madeBlock(p.Block) {
			continue // it goes with its block
		}
		heads, err := u.tx.PlanList(u.ctx, store.PlanPruning, p.Season, p.Block)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(heads, func(h store.Plan) bool { return h.ID == p.ID })
		if at != 0 {
			u.report.Notes = append(u.report.Notes, fmt.Sprintf("a pruning plan for %d was made since and stays", p.Season))
			continue
		}
		next := store.Plan{Kind: store.PlanPruning, Season: p.Season, Block: p.Block, Made: u.now, By: u.job.By, Source: undonePlan + u.taken.names(), Inputs: map[string]any{"vines": 0, "nodes": 0}}
		var entries []store.PlanEntry
		if len(heads) > 1 {
			var old store.Plan
			if old, entries, err = u.tx.PlanVersion(u.ctx, heads[1].ID); err != nil {
				return err
			}
			next.Inputs = old.Inputs
			entries = slices.DeleteFunc(entries, func(e store.PlanEntry) bool { return u.taken.Trace.made(e.Vine) })
		}
		if _, err := u.tx.SavePlan(next, entries); err != nil {
			return err
		}
		u.report.Plans++
	}
	return nil
}

func (u *undo) madeBlock(id vine.ID) bool {
	return slices.ContainsFunc(u.blocks, func(b *undoBlock) bool { return b.ID == id && b.Made })
}

// takeBackKept takes surveys off their blocks, and puts those back whose places
// they took.
func (u *undo) takeBackKept() error {
	for _, k := range u.taken.Trace.Kept {
		list, err := KeptEvidence(u.ctx, u.tx, k.Block)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(list, func(o Kept) bool { return o.ID == k.ID })
		if k.Instead != nil {
			list[at] = *k.Instead
		} else {
			list = slices.Delete(list, at, at+1)
		}
		p := store.Paper{Kind: PaperEvidence, Key: fmt.Sprint(k.Block), Block: k.Block, Made: u.now, By: u.job.By, Value: []byte("{}")} // none left
		if len(list) == 0 {
			err = u.tx.SavePaper(p)
		} else {
			err = savePaper(u.tx, p, keptList{list})
		}
		if err != nil {
			return err
		}
		u.report.Surveys++
	}
	return nil
}

// takeBackImage takes the image off the layers of the map. One whose place it took
// is not put back: only its values are.
func (u *undo) takeBackImage() error {
	if u.taken.Trace.Image == "" {
		return nil
	}
	k, err := KeptImageOf(u.ctx, u.tx, u.taken.Trace.Image)
	if isNotFound(err) {
		return nil // somebody took it off before
	}
	if err != nil {
		return err
	}
	u.report.Notes = append(u.report.Notes, "the image is taken off the layers of the map")
	return k.Remove(u.tx, u.job.By, u.now)
}

// takeBackGround lets what was made go, and what was changed be as it was: the
// last change first.
func (u *undo) takeBackGround() error {
	for _, b := range u.blocks {
		switch {
		case b.Made:
			u.drop.Blocks = append(u.drop.Blocks, b.ID)
			u.report.Rows.Gone += len(b.rows)
		default:
			u.drop.Rows, u.drop.Vines = append(u.drop.Rows, b.made.Rows...), append(u.drop.Vines, b.made.Vines...)
			u.report.Rows.Gone += len(b.made.Rows)
		}
		for id := range b.firm {
			if u.taken.Trace.made(id) {
				u.report.Vines.Gone++
			}
		}
	}
	u.report.Blocks.Gone = len(u.drop.Blocks)
	if err := u.tx.Drop(u.drop); err != nil {
		return err
	}
	blocks, rows, vines := map[vine.ID]bool{}, map[vine.ID]bool{}, map[vine.ID]bool{}
	for _, part := range slices.Backward(u.before) {
		if err := u.tx.SaveBlocks(asBefore(part.Blocks, func(b store.Block) { blocks[b.ID] = true })); err != nil {
			return err
		}
		if err := u.tx.SaveRows(asBefore(part.Rows, func(r store.Row) { rows[r.ID] = true })); err != nil {
			return err
		}
		if err := u.tx.SaveVines(asBefore(part.Vines, func(v store.Vine) { vines[v.ID] = true })); err != nil {
			return err
		}
	}
	u.report.Blocks.Back, u.report.Rows.Back, u.report.Vines.Back = len(blocks), len(rows), len(vines)
	return nil
}

// asBefore gives things as they stood first: of one that was changed twice, the
// earlier form.
func asBefore[T any](list []changedThing[T], tell func(T)) (out []T) {
	seen := map[vine.ID]bool{}
	for _, c := range list {
		tell(c.Was)
		if id := idOf(c.Was); !seen[id] {
			seen[id] = true
			out = append(out, c.Was)
		}
	}
	return out
}

func idOf(thing any) vine.ID {
	switch t := thing.(type) {
	case store.Block:
		return t.ID
	case store.Row:
		return t.ID
	case store.Vine:
		return t.ID
	}
	return 0
}
