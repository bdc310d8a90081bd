package work

import (
	"iter"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"courson/geo/vine"
	"courson/store"
)

// vines writes the vines of a block with what is known of them in the season.
func (x *exporter) vines(b store.Block) error {
	// Everything received up to now is in the file: when it is imported again,
	// cells that still say what held now have not been edited.
	at := x.job.Now().UTC().Format(time.RFC3339Nano)
	rows, err := x.st.Rows(x.ctx, b.ID)
	if err != nil {
		return err
	}
	label := labelsOf(rows)
	k, err := x.knowledge(b)
	if err != nil {
		return err
	}
	defer k.stop()
	for v, err := range x.st.Vines(x.ctx, b.ID) {
		if err != nil {
			return err
		}
		st, err := k.of(v.ID)
		if err != nil {
			return err
		}
		x.out.begin(v.ID, "")
		x.out.text("exported_at", at)
		x.out.text("address", vine.Address{Block: b.Code, Row: label[v.Row], Number: v.Number}.String())
		x.out.text("block", b.Code)
		x.out.text("row", label[v.Row])
		x.out.int("vine", int64(v.Number))
		x.textIf("vine_id", v.Tag)
		if x.job.Season != 0 {
			x.season(v, b, st, k)
		} else {
			x.intIf("planted", v.Planted)
		}
		x.n++
		if err := x.out.end(v.Point); err != nil {
			return err
		}
	}
	return nil
}

// knowledge is what is recorded and planned for a block in the season.
type knowledge struct {
	plan  map[vine.ID]store.PlanEntry
	notes map[vine.ID][]string
	layer map[vine.ID]layerPlant
	next  func() (store.VineState, error, bool)
	stop  func()
	ahead store.VineState
	more  bool
}

func (x *exporter) knowledge(b store.Block) (*knowledge, error) {
	block := b.ID
	k := &knowledge{plan: map[vine.ID]store.PlanEntry{}, stop: func() {}}
	if x.job.Season == 0 {
		return k, nil
	}
	entries, err := x.st.PlanEntries(x.ctx, store.PlanPruning, x.job.Season, block)
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		k.plan[e.Vine] = e
	}
	events, err := x.st.Events(x.ctx, store.EventQuery{Block: block})
	if err != nil {
		return nil, err
	}
	events = slices.DeleteFunc(events, func(e store.LoggedEvent) bool { return e.Season > x.job.Season })
	if k.layer, err = layersIn(x.ctx, x.st, b, events); err != nil {
		return nil, err
	}
	k.readNotes(events, x.job.Season)
	k.next, k.stop = iter.Pull2(x.st.States(x.ctx, block, x.job.Season, 0))
	return k, k.step()
}

func (k *knowledge) step() (err error) {
	k.ahead, err, k.more = k.next()
	return err
}

// of gives the state of a vine; vines are asked for in the order of the block.
func (k *knowledge) of(id vine.ID) (vine.State, error) {
	if !k.more || k.ahead.Vine != id {
		return vine.State{}, nil
	}
	st := k.ahead.State
	return st, k.step()
}

// readNotes gathers the words of the season's notes, those taken back left out.
func (k *knowledge) readNotes(events []store.LoggedEvent, season int) {
	events = slices.DeleteFunc(events, func(e store.LoggedEvent) bool { return e.Season != season })
	type about struct {
		event uuid.UUID
		vine  vine.ID
	}
	void := map[about]bool{}
	for _, e := range events {
		if v, ok := e.Body.(vine.Void); ok {
			void[about{v.Event, 0}] = void[about{v.Event, 0}] || len(e.Target.Vines) == 0
			for _, id := range e.Target.Vines {
				void[about{v.Event, id}] = true
			}
		}
	}
	k.notes = map[vine.ID][]string{}
	for _, e := range events {
		n, ok := e.Body.(vine.Note)
		if !ok || void[about{e.ID, 0}] {
			continue
		}
		for _, id := range e.Target.Vines {
			if !void[about{e.ID, id}] {
				k.notes[id] = append(k.notes[id], n.Text)
			}
		}
	}
}

// season writes what holds for a vine in the season.
func (x *exporter) season(v store.Vine, b store.Block, st vine.State, k *knowledge) {
	x.out.int("season", int64(x.job.Season))
	planted := st.Planted
	if planted == 0 {
		planted = plantedSeason(v, b)
	}
	x.intIf("leaf", vine.Leaf(planted, x.job.Season))
	if st.Condition != vine.Unseen {
		x.out.text("status", st.Condition.String())
	}
	x.textIf("cause", st.Cause)
	if !st.LookAgain.IsZero() {
		x.out.text("look_again", st.LookAgain.In(x.zone).Format(time.DateOnly))
	}
	if st.Condition == vine.Replanted {
		x.intIf("planted", st.Planted)
	} else {
		x.intIf("planted", v.Planted)
	}
	if l, ok := k.layer[v.ID]; ok && st.Condition.Living() {
		x.out.text("mother", l.mother)
		x.out.text("severed", yesNo(l.severed))
	}
	for _, q := range []vine.Quantity{vine.VisualScore, vine.PruningWeight, vine.CaneCount, vine.ShootCount, vine.CaneDiameter, vine.ShootLength, vine.TrunkGirth, vine.Yield, vine.CanopyIndex} {
		if r, ok := st.Measures[q]; ok {
			name, factor := x.measureName(q)
			x.out.float(name, rounded(r.Value*factor, 15))
			if q == vine.VisualScore || q == vine.CanopyIndex {
				x.textIf(name+"_scale", r.Scale)
			}
		}
	}
	if e, ok := k.plan[v.ID]; ok {
		x.count("nodes", e.Nodes)
		x.count("canes", e.Canes)
		x.count("spurs", e.Spurs)
	}
	x.work(st)
	if notes := k.notes[v.ID]; len(notes) > 0 {
		x.out.text("note", strings.Join(notes, "\n"))
	}
}

func (x *exporter) count(name string, n int) {
	if n >= 0 {
		x.out.int(name, int64(n))
	}
}

// work writes what was left and how far pruning is.
func (x *exporter) work(st vine.State) {
	if p := st.Pruned; p != nil {
		x.out.text("pruned_on", st.PrunedAt.In(x.zone).Format(time.DateOnly))
		x.textIf("pruned_by", st.PrunedBy)
		for i, n := range leftOf(*p) {
			x.count([]string{"left_nodes", "left_canes", "left_spurs"}[i], n)
		}
		x.textIf("left_reason", p.Reason)
	}
	if progress := st.Work[vine.Pruning]; progress != vine.NotStarted {
		x.out.text("progress", progress.String())
	}
}
