package contract

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

func appendTests() map[string]func(*testing.T, Harness) {
	return map[string]func(*testing.T, Harness){
		"nothing to store":                    appendNothing,
		"the same batch twice":                sameBatchTwice,
		"the same event twice in a call":      twiceInACall,
		"a known id stands, whatever it says": firstStands,
		"refusals keep nobody out":            refusals,
		"a void of a void":                    voidOfVoid,
		"events come back as they were":       eventsBack,
		"awkward times":                       awkwardTimes,
		"received must be set":                receivedSet,
		"inside an update":                    appendInside,
		"a long batch":                        longBatch,
	}
}

func appendNothing(t *testing.T, h Harness) {
	s := h.open(t)
	f := plant(t, s, "H3", 1, 1)
	before := picture(t, s, f)
	answers, err := s.Append(t.Context(), nil)
	require.NoError(t, err)
	assert.Empty(t, answers)
	assert.Equal(t, before, picture(t, s, f))
}

func sameBatchTwice(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 4), newDevice("d")
	batch := []vine.Event{
		d.event(2027, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, oneVine(f.vines[0][0]), weight(450)),
		d.event(2027, oneVine(f.vines[0][0]), vine.Note{Text: "split trunk"}),
	}
	assert.Equal(t, []store.Result{store.Stored, store.Stored, store.Stored}, results(t, s, batch...))
	before := picture(t, s, f)
	assert.Equal(t, []store.Result{store.Known, store.Known, store.Known}, results(t, s, batch...))
	assert.Equal(t, before, picture(t, s, f), "nothing changed, not even a revision")
	other := h.again(t, s)
	assert.Equal(t, []store.Result{store.Known, store.Known, store.Known}, results(t, other, batch...))
	assert.Equal(t, before, picture(t, other, f))
}

func twiceInACall(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 2), newDevice("d")
	a, b := d.event(2027, oneVine(f.vines[0][0]), vine.Note{Text: "a"}), d.event(2027, oneVine(f.vines[0][0]), vine.Note{Text: "b"})
	assert.Equal(t, []store.Result{store.Stored, store.Stored, store.Known, store.Known}, results(t, s, a, b, a, b))
	assert.Equal(t, []uuid.UUID{a.ID, b.ID}, idsOf(logOf(t, s, store.EventQuery{})), "in the order given")
	st, _ := stateOf(t, s, f.vines[0][0], 2027)
	assert.Equal(t, 2, st.Notes)
	bad := d.event(2027, vine.Target{Block: 4_000_000}, vine.Note{Text: "c"})
	good := bad
	good.Target = wholeBlock(f.block)
	assert.Equal(t, []store.Result{store.Refused, store.Stored, store.Known}, results(t, s, bad, good, bad),
		"what was refused is not known; what was stored is")
}

func firstStands(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 2), newDevice("d")
	first := d.event(2027, oneVine(f.vines[0][0]), seen(vine.Weak))
	send(t, s, first)
	for name, change := range map[string]func(*vine.Event){
		"another value":     func(e *vine.Event) { e.Body = seen(vine.Dead) },
		"another vine":      func(e *vine.Event) { e.Target = oneVine(f.vines[0][1]) },
		"an impossible one": func(e *vine.Event) { e.Season, e.Target = 3, vine.Target{Block: 99_999} },
	} {
		second := first
		change(&second)
		assert.Equal(t, []store.Result{store.Known}, results(t, s, second), name)
	}
	got := logOf(t, s, store.EventQuery{})
	require.Len(t, got, 1)
	assert.Equal(t, kept(first), got[0].Event)
	st, _ := stateOf(t, s, f.vines[0][0], 2027)
	assert.Equal(t, vine.Weak, st.Condition)
}

func refusals(t *testing.T, h Harness) {
	s := h.open(t)
	f, other, d := plant(t, s, "H3", 2, 3), plant(t, s, "H4", 1, 1), newDevice("d")
	a := f.vines[0][0]
	good := func() vine.Event { return d.event(2027, oneVine(a), vine.Note{Text: "good"}) }
	bad := map[string]vine.Event{}
	add := func(name string, target vine.Target, body vine.Body, change func(*vine.Event)) {
		e := d.event(2027, target, body)
		if change != nil {
			change(&e)
		}
		bad[name] = e
	}
	note := vine.Note{Text: "x"}
	add("no such block", vine.Target{Block: 4_000_000}, note, nil)
	add("a row for a block", vine.Target{Block: f.rows[0].ID}, note, nil)
	add("no such row", vine.Target{Block: f.block.ID, Row: 4_000_000}, note, nil)
	add("a row of another block", vine.Target{Block: f.block.ID, Row: other.rows[0].ID}, note, nil)
	add("no such vine", vine.Target{Block: f.block.ID, Vines: []vine.ID{4_000_000}}, note, nil)
	add("one such vine too few", vine.Target{Block: f.block.ID, Vines: []vine.ID{a.ID, 4_000_000}}, note, nil)
	add("a vine of another block", vine.Target{Block: f.block.ID, Vines: []vine.ID{other.vines[0][0].ID}}, note, nil)
	add("a vine of another row", vine.Target{Block: f.block.ID, Row: f.rows[1].ID, Vines: []vine.ID{a.ID}}, note, nil)
	add("a vine named twice", vine.Target{Block: f.block.ID, Vines: []vine.ID{a.ID, a.ID}}, weight(1, 2), nil)
	add("a season out of reach", oneVine(a), note, func(e *vine.Event) { e.Season = 27 })
	add("no device", oneVine(a), note, func(e *vine.Event) { e.Device = "" })
	add("no id", oneVine(a), note, func(e *vine.Event) { e.ID = uuid.Nil })
	add("no time there", oneVine(a), note, func(e *vine.Event) { e.At = time.Time{} })
	add("a year out of reach", oneVine(a), note, func(e *vine.Event) { e.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) })
	add("a zero character", oneVine(a), vine.Note{Text: "a\x00b"}, nil)
	add("a device that is not text", oneVine(a), note, func(e *vine.Event) { e.Device = "\xff" })
	add("another kind than its value", oneVine(a), note, func(e *vine.Event) { e.Kind = vine.KindWork })
	add("no value", oneVine(a), note, func(e *vine.Event) { e.Body = nil })
	add("too many values", oneVine(a), weight(1, 2), nil)
	add("an impossible weight", oneVine(a), weight(-1), nil)
	add("an empty note", oneVine(a), vine.Note{}, nil)
	add("a void that names nothing", oneVine(a), vine.Void{}, nil)
	var batch []vine.Event
	var want []store.Result
	for _, name := range sorted(bad) {
		batch = append(batch, bad[name], good())
		want = append(want, store.Refused, store.Stored)
	}
	answers, err := s.Append(t.Context(), batch)
	require.NoError(t, err)
	for i, a := range answers {
		assert.Equal(t, want[i], a.Result, "%d: %s", i, a.Reason)
		assert.Equal(t, batch[i].ID, a.ID)
		assert.Equal(t, want[i] == store.Refused, a.Reason != "")
	}
	assert.Len(t, logOf(t, s, store.EventQuery{}), len(bad))
	before := picture(t, s, f)
	for _, name := range sorted(bad) {
		assert.Equal(t, []store.Result{store.Refused}, results(t, s, bad[name]), "alone: %s", name)
	}
	assert.Equal(t, before, picture(t, s, f), "refusals change nothing, not even a revision")
}

func voidOfVoid(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 2), newDevice("d")
	v := f.vines[0][0]
	note := d.event(2027, oneVine(v), vine.Note{Text: "x"})
	void := d.event(2027, oneVine(v), vine.Void{Event: note.ID})
	early := d.event(2027, oneVine(v), vine.Void{Event: uuid.Must(uuid.NewV7()), Reason: "sent before what it takes back"})
	assert.Equal(t, []store.Result{store.Stored, store.Stored, store.Stored}, results(t, s, note, void, early))
	assert.Equal(t, []store.Result{store.Refused}, results(t, s, d.event(2027, oneVine(v), vine.Void{Event: void.ID})))
	again := d.event(2027, oneVine(v), vine.Void{Event: note.ID})
	inBatch := d.event(2027, oneVine(v), vine.Void{Event: again.ID})
	assert.Equal(t, []store.Result{store.Stored, store.Refused}, results(t, s, again, inBatch))
	self := d.event(2027, oneVine(v), vine.Void{})
	self.Body = vine.Void{Event: self.ID}
	assert.Equal(t, []store.Result{store.Refused}, results(t, s, self))
	st, ok := stateOf(t, s, v, 2027)
	assert.True(t, ok, "what was taken back still counts as recorded")
	assert.Zero(t, st.Notes)
}

// everyKind is one event of each kind, with as much in it as fits.
func everyKind(f *field, d *device) []vine.Event {
	number := func(n int) *int { return &n }
	day := time.Date(2027, 6, 1, 0, 0, 0, 0, time.FixedZone("", 7200))
	v := f.vines[0]
	huge := strings.Repeat("é", 2000)
	return []vine.Event{
		d.event(2027, wholeBlock(f.block), seen(vine.Bearing)),
		d.event(2027, oneVine(v[0]), vine.Sighting{Condition: vine.Doubtful, Cause: "frost «-3 °C»", LookAgain: &day}),
		d.event(2027, oneVine(v[1]), vine.Sighting{Condition: vine.Replanted, Planted: 2026, Rootstock: "SO4", Clone: "880", Batch: "P/17"}),
		d.event(2027, someVines(f.vines[1]...), weight(weights(len(f.vines[1]))...)),
		d.event(2027, wholeRow(f.rows[0]), vine.Measure{Quantity: vine.VisualScore, Unit: "score", Scale: "1-5", Value: weight(3).Value}),
		d.event(2027, someVines(v[2], f.vines[1][0]), vine.Pruned{Nodes: number(12), Canes: number(1), Spurs: number(0), Reason: "one cane split", Arms: []vine.Arm{
			{Name: "left", Canes: []vine.Cane{{Nodes: 10, LengthMM: 950}}, Spurs: []vine.Spur{{Nodes: 2, FirstBudFaces: "below"}}},
			{Name: "head", LargeCuts: []vine.Cut{{Face: "upper", DiameterMM: 31.5}}, ClimbMM: -2.25},
		}}),
		d.event(2027, oneVine(v[3]), vine.Pruned{}),
		d.event(2027, wholeRow(f.rows[1]), vine.Work{Operation: "tying", Progress: vine.Started}),
		d.event(2027, wholeRow(f.rows[1]), vine.Work{Operation: vine.Pruning, Progress: vine.NotStarted}),
		d.event(2027, oneVine(v[0]), vine.Note{Text: huge}),
		d.event(2027, oneVine(v[0]), vine.Note{Text: "a \\u0000 that is text, \"quotes\", <tags> & 🍇\n"}),
	}
}

func weights(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 100.1 * float64(i+1) / 3
	}
	return out
}

func eventsBack(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 7), newDevice("phone of «Zoë»")
	sent := everyKind(f, d)
	sent[0].Seq = 1 << 52
	send(t, s, sent...)
	sent = append(sent, d.event(2027, wholeBlock(f.block), vine.Void{Event: sent[0].ID, Reason: "wrong block"}))
	send(t, s, sent[len(sent)-1])
	for i, got := range logOf(t, h.again(t, s), store.EventQuery{}) {
		want := kept(sent[i])
		if m, ok := want.Body.(vine.Sighting); ok && m.LookAgain != nil {
			assert.True(t, m.LookAgain.Equal(*got.Body.(vine.Sighting).LookAgain))
			got.Body, want.Body = nil, nil
		}
		assert.Equal(t, want, got.Event)
		if i > 0 {
			assert.Greater(t, got.Cursor, int64(0))
		}
	}
	for season := 2026; season <= 2028; season++ {
		requireFold(t.Context(), t, s, f, keptAll(sent), season)
	}
}

func keptAll(events []vine.Event) []vine.Event {
	out := make([]vine.Event, len(events))
	for i, e := range events {
		out[i] = kept(e)
	}
	return out
}

func awkwardTimes(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 1), newDevice("d")
	zone := time.FixedZone("east of everything", 14*3600)
	var sent []vine.Event
	for _, at := range []time.Time{
		time.Date(1969, 7, 20, 20, 17, 40, 999_999_999, time.UTC),
		time.Date(1903, 1, 1, 0, 0, 0, 1000, zone),
		time.Date(2027, 1, 12, 10, 0, 0, 123_456_789, zone),
		time.Date(9999, 12, 31, 12, 0, 0, 0, time.UTC),
		time.Date(2, 1, 1, 0, 0, 0, 0, time.UTC),
	} {
		e := d.event(2027, oneVine(f.vines[0][0]), weight(float64(at.Year())))
		e.At, e.Received = at, at.Add(time.Second)
		sent = append(sent, e)
	}
	sent[2].When = time.Date(2027, 1, 12, 9, 58, 0, 1, zone)
	send(t, s, sent...)
	got := logOf(t, s, store.EventQuery{})
	require.Len(t, got, len(sent))
	for i, e := range got {
		assert.Equal(t, kept(sent[i]), e.Event, "UTC, to the microsecond, When set")
		assert.Equal(t, time.UTC, e.At.Location())
	}
	requireFold(t.Context(), t, s, f, keptAll(sent), 2027)
	_, err := s.Rebuild(t.Context(), false, nil)
	require.NoError(t, err)
}

func receivedSet(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 1, 1), newDevice("d")
	good, bad := d.event(2027, wholeBlock(f.block), vine.Note{Text: "x"}), d.event(2027, wholeBlock(f.block), vine.Note{Text: "y"})
	bad.Received = time.Time{}
	_, err := s.Append(t.Context(), []vine.Event{good, bad})
	require.Error(t, err)
	assert.Empty(t, logOf(t, s, store.EventQuery{}), "on an error nothing is stored")
}

func appendInside(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 2, 3), newDevice("d")
	kept, gone := d.event(2027, wholeBlock(f.block), seen(vine.Bearing)), d.event(2027, wholeBlock(f.block), seen(vine.Dead))
	update(t, s, func(tx store.Tx) error {
		send(t, tx, kept)
		assert.Equal(t, []store.Result{store.Refused, store.Known},
			results(t, tx, d.event(2027, vine.Target{Block: 4_000_000}, seen(vine.Dead)), kept))
		return nil
	})
	mine := errors.New("mine")
	require.ErrorIs(t, s.Update(t.Context(), func(tx store.Tx) error {
		send(t, tx, gone)
		return mine
	}), mine)
	assert.Equal(t, []uuid.UUID{kept.ID}, idsOf(logOf(t, s, store.EventQuery{})))
	st, _ := stateOf(t, s, f.vines[1][1], 2027)
	assert.Equal(t, vine.Bearing, st.Condition)
}

func longBatch(t *testing.T, h Harness) {
	s := h.open(t)
	f, d := plant(t, s, "H3", 3, 40), newDevice("d")
	var batch []vine.Event
	for i, v := range f.all() {
		batch = append(batch, d.event(2027, oneVine(v), weight(float64(100+i))), d.event(2027, oneVine(v), vine.Note{Text: fmt.Sprint(i)}))
	}
	batch = append(batch, d.event(2026, someVines(f.all()...), weight(weights(120)...)))
	send(t, s, batch...)
	requireFold(t.Context(), t, s, f, keptAll(batch), 2026)
	requireFold(t.Context(), t, s, f, keptAll(batch), 2027)
	assert.Len(t, logOf(t, s, store.EventQuery{}), len(batch))
}
