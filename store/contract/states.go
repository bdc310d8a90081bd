package contract

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store"
)

func stateTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"carried forward":             carriedForward,
		"of every kind of event":      stateOfEveryKind,
		"in the order of the vines":   stateOrder,
		"new vines in a recorded row": vinesAddedLater,
		"planting year changed":       plantedChanged,
		"awkward ground":              awkwardGround,
		"any events in any batches":   anyEvents,
		"changed after a revision":    changedAfter,
	}
}

func carriedForward(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	v := f.vines[0]
	send(t, s,
		d.event(2025, oneVine(v[0]), vine.Sighting{Condition: vine.Weak, Cause: "drought"}), d.event(2025, oneVine(v[0]), weight(210)),
		d.event(2027, oneVine(v[0]), weight(350)), d.event(2028, oneVine(v[1]), seen(vine.Dead)))
	assert.Empty(t, statesOf(t, s, f.block.ID, 2024, 0), "nothing is recorded up to then")
	assert.Empty(t, statesOf(t, s, f.block.ID, 0, 0))
	for season, want := range map[int]struct {
		vines  int
		weight float64
	}{2025: {1, 210}, 2026: {1, 0}, 2027: {1, 350}, 2028: {2, 0}, 2200: {2, 0}, 9999: {2, 0}} {
		got := statesOf(t, s, f.block.ID, season, 0)
		require.Len(t, got, want.vines, "season %d", season)
		st := got[0]
		assert.Equal(t, v[0].ID, st.Vine)
		assert.Equal(t, season, st.Season)
		assert.Equal(t, vine.Weak, st.Condition)
		assert.Equal(t, "drought", st.Cause)
		assert.Equal(t, firstVineYear, st.Planted)
		assert.InDelta(t, want.weight, st.Measures[vine.PruningWeight].Value, 0, "a measure is of its season only (%d)", season)
	}
}

func stateOfEveryKind(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 7), newDevice("d")
	var sent []vine.Event
	for season := 2025; season <= 2027; season++ {
		for _, e := range everyKind(f, d) {
			e.Season = season
			sent = append(sent, e)
		}
	}
	for i := 0; i < len(sent); i += 5 {
		send(t, s, sent[i:min(i+5, len(sent))]...)
	}
	for season := 2024; season <= 2029; season++ {
		requireFold(t.Context(), t, s, f, keptAll(sent), season)
	}
}

func stateOrder(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := layField("H3", 3, 4), newDevice("d")
	f.rows[0].Ord = 10
	f.vines[1][0].Number, f.vines[1][3].Number = 4, 1
	update(t, s, f.save)
	send(t, s, d.event(2027, wholeBlock(f.block), seen(vine.Bearing)))
	after := blockNow(t, s, f.block.ID).Revision
	send(t, s, d.event(2027, someVines(f.vines[2][0], f.vines[0][1], f.vines[1][3], f.vines[1][0], f.vines[0][0], f.vines[2][3]), weight(1)))
	var want, changed []vine.ID
	for _, v := range vinesOf(t, s, f.block.ID) {
		want = append(want, v.ID)
		if st, _ := stateOf(t, s, v, 2027); len(st.Measures) > 0 {
			changed = append(changed, v.ID)
		}
	}
	order := func(after int64) (out []vine.ID) {
		for _, st := range statesOf(t, s, f.block.ID, 2027, after) {
			out = append(out, st.Vine)
		}
		return out
	}
	assert.Equal(t, want, order(0))
	assert.Len(t, changed, 6)
	assert.Equal(t, changed, order(after))
}

func vinesAddedLater(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 2), newDevice("d")
	sent := []vine.Event{
		d.event(2026, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, wholeRow(f.rows[1]), vine.Work{Operation: vine.Pruning, Progress: vine.Done}),
		d.event(2027, oneVine(f.vines[0][0]), weight(1)),
	}
	send(t, s, sent...)
	row := store.Row{Block: f.block.ID, Label: "3", Ord: 3}
	update(t, s, func(tx store.Tx) error {
		more := []store.Vine{{Block: f.block.ID, Row: f.rows[1].ID, Number: 3}}
		if err := tx.SaveVines(more); err != nil {
			return err
		}
		rows := []store.Row{row}
		if err := tx.SaveRows(rows); err != nil {
			return err
		}
		last := []store.Vine{{Block: f.block.ID, Row: rows[0].ID, Number: 1}}
		err := tx.SaveVines(last)
		f.vines[1] = append(f.vines[1], more...)
		f.rows, f.vines = append(f.rows, rows[0]), append(f.vines, last)
		return err
	})
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong)
}

func plantedChanged(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 3), newDevice("d")
	sent := []vine.Event{
		d.event(2026, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, oneVine(f.vines[0][1]), seen(vine.Replanted)),
	}
	send(t, s, sent...)
	f.vines[0][0].Planted = 2020
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	f.block.Planted = 1999
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	f.vines[0][0].Planted = 0
	update(t, s, f.save)
	requireFold(t.Context(), t, s, f, keptAll(sent), 2028)
}

func awkwardGround(t *testing.T, h Harness) {
	s := h.open(t)
	d := newDevice("d")
	for i, shape := range [][2]int{{0, 0}, {1, 0}, {1, 1}} {
		f := layField(fmt.Sprint("B", i), shape[0], shape[1])
		f.block.Outline = nil
		update(t, s, f.save)
		sent := []vine.Event{d.event(2027, wholeBlock(f.block), seen(vine.Bearing))}
		if shape[0] > 0 {
			sent = append(sent, d.event(2027, wholeRow(f.rows[0]), vine.Note{Text: "x"}))
		}
		send(t, s, sent...)
		requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
		assert.Len(t, logOf(t, s, store.EventQuery{Block: f.block.ID}), len(sent))
	}
}

// changedAfter follows a block the way the server does: by what changed since
// the revision it has.
func changedAfter(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 4), newDevice("d")
	held := map[vine.ID]string{}
	revision := blockNow(t, s, f.block.ID).Revision
	note := d.event(2027, oneVine(f.vines[0][0]), vine.Note{Text: "x"})
	for _, e := range []vine.Event{
		d.event(2025, wholeRow(f.rows[0]), seen(vine.Bearing)), note,
		d.event(2028, oneVine(f.vines[1][3]), seen(vine.Dead)),
		d.event(2024, oneVine(f.vines[1][2]), seen(vine.Weak)),
		d.event(2027, oneVine(f.vines[0][0]), vine.Void{Event: note.ID}),
		d.event(2025, someVines(f.vines[0]...), weight(1, 2, 3, 4)),
	} {
		send(t, s, e)
		now := blockNow(t, s, f.block.ID).Revision
		for _, st := range statesOf(t, s, f.block.ID, 2027, revision) {
			assert.Greater(t, st.Changed, revision)
			assert.LessOrEqual(t, st.Changed, now)
			held[st.Vine] = plain(st.State)
		}
		assert.Empty(t, statesOf(t, s, f.block.ID, 2027, now))
		revision = now
		whole := map[vine.ID]string{}
		for _, st := range statesOf(t, s, f.block.ID, 2027, 0) {
			whole[st.Vine] = plain(st.State)
		}
		assert.Equal(t, whole, held)
	}
	send(t, s, d.event(2030, oneVine(f.vines[0][1]), vine.Note{Text: "later"}))
	got := statesOf(t, s, f.block.ID, 2027, revision)
	require.Len(t, got, 1, "any state of the vine counts, also of another season")
	assert.Equal(t, f.vines[0][1].ID, got[0].Vine)
}

// anyEvents draws events of a few devices about one block, sends them in
// batches of any size, some twice, some inside an update, and holds the states
// against the fold of all.
func anyEvents(t *testing.T, h Harness) {
	s := h.open(t)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		f := layField(fmt.Sprint("any ", n), 2, 6)
		require.NoError(rt, s.Update(t.Context(), f.save))
		events := drawEvents(rt, f)
		for rest := events; len(rest) > 0; {
			k := rapid.IntRange(1, len(rest)).Draw(rt, "batch")
			batch := rest[:k]
			rest = rest[k:]
			if rapid.Bool().Draw(rt, "again") {
				batch = append(batch[:k:k], events[:len(events)-len(rest)]...)
			}
			appended := func(to store.Log) error {
				answers, err := to.Append(t.Context(), batch)
				for _, a := range answers {
					require.NotEqual(rt, store.Refused, a.Result, a.Reason)
				}
				return err
			}
			if rapid.Bool().Draw(rt, "inside") {
				require.NoError(rt, s.Update(t.Context(), func(tx store.Tx) error { return appended(tx) }))
			} else {
				require.NoError(rt, appended(s))
			}
		}
		for season := 2025; season <= 2028; season++ {
			requireFold(t.Context(), rt, s, f, keptAll(events), season)
		}
	})
	got, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
	assert.Zero(t, got.Wrong, "the log folded anew says the same")
}

func drawEvents(t *rapid.T, f *field) []vine.Event {
	devices := []*device{newDevice("a"), newDevice("b"), newDevice(vine.ImportPrefix + "c")}
	var events []vine.Event
	voids := map[uuid.UUID]bool{}
	for range rapid.IntRange(1, 14).Draw(t, "events") {
		target := drawTarget(t, f)
		e := rapid.SampledFrom(devices).Draw(t, "device").event(rapid.IntRange(2025, 2027).Draw(t, "season"), target, drawBody(t, len(target.Vines)))
		if len(events) > 0 && rapid.IntRange(0, 4).Draw(t, "void") == 0 {
			if of := rapid.SampledFrom(events).Draw(t, "of"); !voids[of.ID] {
				e.Kind, e.Body = vine.KindVoid, vine.Void{Event: of.ID}
				voids[e.ID] = true
			}
		}
		slip := rapid.SampledFrom([]time.Duration{0, -30 * time.Minute, time.Hour, 1234567 * time.Nanosecond}).Draw(t, "slip")
		e.At = e.At.Add(slip)
		if rapid.Bool().Draw(t, "put right") {
			e.When = e.At.Add(-slip)
		}
		e.Received = e.Received.Add(slip)
		events = append(events, e)
	}
	return events
}

func drawTarget(t *rapid.T, f *field) vine.Target {
	switch rapid.IntRange(0, 5).Draw(t, "target") {
	case 0:
		return wholeBlock(f.block)
	case 1:
		return wholeRow(rapid.SampledFrom(f.rows).Draw(t, "row"))
	case 2:
		line := rapid.SampledFrom(f.vines).Draw(t, "row")
		target := someVines(rapid.Permutation(line).Draw(t, "vines")[:rapid.IntRange(1, len(line)).Draw(t, "of them")]...)
		target.Row = line[0].Row
		return target
	}
	all := rapid.Permutation(f.all()).Draw(t, "vines")
	return someVines(all[:rapid.IntRange(1, 9).Draw(t, "of them")]...)
}

func drawBody(t *rapid.T, vines int) vine.Body {
	number := func(name string) *int { n := rapid.IntRange(0, 20).Draw(t, name); return &n }
	switch rapid.IntRange(0, 5).Draw(t, "kind") {
	case 0, 1:
		c := vine.Condition(rapid.IntRange(1, 8).Draw(t, "condition"))
		s := vine.Sighting{Condition: c, Cause: rapid.SampledFrom([]string{"", "frost", "esca"}).Draw(t, "cause")}
		if c == vine.Replanted && rapid.Bool().Draw(t, "said") {
			s.Planted = 2024
		}
		return s
	case 2:
		q := rapid.SampledFrom([]vine.Quantity{vine.PruningWeight, vine.VisualScore, vine.ShootLength, vine.Yield}).Draw(t, "quantity")
		m := vine.Measure{Quantity: q, Unit: q.Unit(), Scale: rapid.SampledFrom([]string{"", "1-5"}).Draw(t, "scale")}
		if vines > 1 && rapid.Bool().Draw(t, "one each") {
			for i := range vines {
				m.Values = append(m.Values, float64(i)*10.1/3)
			}
			return m
		}
		v := float64(*number("value")) / 7
		m.Value = &v
		return m
	case 3:
		p := vine.Pruned{Reason: rapid.SampledFrom([]string{"", "split"}).Draw(t, "reason")}
		if rapid.Bool().Draw(t, "nodes") {
			p.Nodes = number("nodes")
		}
		if rapid.Bool().Draw(t, "canes") {
			p.Canes = number("canes")
		}
		if rapid.Bool().Draw(t, "arms") {
			p.Arms = []vine.Arm{{Name: "left", Canes: []vine.Cane{{Nodes: 8}}}}
		}
		return p
	case 4:
		op := rapid.SampledFrom([]string{vine.Pruning, "tying"}).Draw(t, "operation")
		return vine.Work{Operation: op, Progress: vine.Progress(rapid.IntRange(0, 4).Draw(t, "progress"))}
	}
	return vine.Note{Text: "seen"}
}
