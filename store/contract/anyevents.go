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
