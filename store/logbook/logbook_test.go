package logbook_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
	"courson/store"
	"courson/store/logbook"
)

var morning = time.Date(2027, 1, 12, 8, 30, 0, 123_456_789, time.FixedZone("", 3600))

func made(body vine.Body, t vine.Target) vine.Event {
	return vine.Event{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: 7, At: morning, Received: morning, By: "Ada",
		Season: 2027, Target: t, Kind: body.Kind(), Body: body}
}

// ground is block 1 with rows 2 and 3 and vines 4 (row 2), 5 (row 2), 6 (row 3);
// block 9 with row 8 and vine 7.
func ground() logbook.Found {
	return logbook.Found{
		Events: map[uuid.UUID]vine.Kind{},
		Blocks: map[vine.ID]bool{1: true, 9: true},
		Rows:   map[vine.ID]vine.ID{2: 1, 3: 1, 8: 9},
		Vines: map[vine.ID]vine.Place{
			4: {ID: 4, Row: 2, Block: 1}, 5: {ID: 5, Row: 2, Block: 1}, 6: {ID: 6, Row: 3, Block: 1}, 7: {ID: 7, Row: 8, Block: 9}},
	}
}

func TestScreen_Targets(t *testing.T) {
	note := vine.Note{Text: "x"}
	for _, c := range []struct {
		name   string
		target vine.Target
		reason string // "" for stored
	}{
		{"whole block", vine.Target{Block: 1}, ""},
		{"whole row", vine.Target{Block: 1, Row: 2}, ""},
		{"vines of a row", vine.Target{Block: 1, Row: 2, Vines: []vine.ID{4, 5}}, ""},
		{"vines of a block", vine.Target{Block: 1, Vines: []vine.ID{6, 4}}, ""},
		{"no block", vine.Target{}, "block is missing"},
		{"unknown block", vine.Target{Block: 5}, "there is no block 5"},
		{"unknown row", vine.Target{Block: 1, Row: 77}, "there is no row 77 in block 1"},
		{"row of another block", vine.Target{Block: 1, Row: 8}, "there is no row 8 in block 1"},
		{"unknown vine", vine.Target{Block: 1, Vines: []vine.ID{4, 99}}, "there is no vine 99 in block 1"},
		{"vine of another block", vine.Target{Block: 1, Vines: []vine.ID{7}}, "there is no vine 7 in block 1"},
		{"vine of another row", vine.Target{Block: 1, Row: 2, Vines: []vine.ID{6}}, "vine 6 does not stand in row 2"},
		{"vine named twice", vine.Target{Block: 1, Vines: []vine.ID{4, 5, 4}}, "vine 4 is named twice"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := made(note, c.target)
			accepted, answers := logbook.Screen([]vine.Event{e}, ground())
			want := store.Answer{ID: e.ID, Result: store.Stored}
			if c.reason != "" {
				want.Result, want.Reason = store.Refused, c.reason
			}
			assert.Equal(t, []store.Answer{want}, answers)
			assert.Len(t, accepted, map[bool]int{true: 1, false: 0}[c.reason == ""])
		})
	}
}

func TestScreen_Values(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name string
		body vine.Body
		edit func(*vine.Event)
	}{
		{"zero character in a note", vine.Note{Text: "a\x00b"}, nil},
		{"zero character in the device", vine.Note{Text: "x"}, func(e *vine.Event) { e.Device = "a\x00" }},
		{"by is not UTF-8", vine.Note{Text: "x"}, func(e *vine.Event) { e.By = "\xff" }},
		{"not a number", vine.Measure{Quantity: vine.Yield, Unit: "g", Value: &nan}, nil},
		{"not a number on an arm", vine.Pruned{Arms: []vine.Arm{{Name: "left", ClimbMM: nan}}}, nil},
		{"no id", vine.Note{Text: "x"}, func(e *vine.Event) { e.ID = uuid.Nil }},
		{"a season of nobody", vine.Note{Text: "x"}, func(e *vine.Event) { e.Season = 27 }},
		{"kind and value differ", vine.Note{Text: "x"}, func(e *vine.Event) { e.Kind = vine.KindWork }},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := made(c.body, vine.Target{Block: 1})
			if c.edit != nil {
				c.edit(&e)
			}
			good := made(vine.Note{Text: `a backslash and zeros: \u0000`}, vine.Target{Block: 1})
			accepted, answers := logbook.Screen([]vine.Event{e, good}, ground())
			assert.Equal(t, store.Refused, answers[0].Result)
			assert.NotEmpty(t, answers[0].Reason)
			assert.NotContains(t, answers[0].Reason, "bad event", "people read the reason")
			assert.Equal(t, store.Stored, answers[1].Result, "one refusal keeps nobody out: %s", answers[1].Reason)
			assert.Len(t, accepted, 1)
		})
	}
}

func TestScreen_KnownAndVoids(t *testing.T) {
	at := vine.Target{Block: 1, Vines: []vine.ID{4}}
	old, oldVoid := uuid.New(), uuid.New()
	found := ground()
	found.Events[old], found.Events[oldVoid] = vine.KindNote, vine.KindVoid
	known := made(vine.Note{Text: ""}, vine.Target{Block: 77}) // wrong in every way, but known
	known.ID = old
	first := made(vine.Note{Text: "x"}, at)
	twin := first
	twin.Body = vine.Note{Text: "another text"}
	refused := made(vine.Note{Text: ""}, at)
	void := made(vine.Void{Event: first.ID}, at)
	self := made(vine.Void{Event: uuid.New()}, at)
	self.Body = vine.Void{Event: self.ID}
	events := []vine.Event{
		known, first, twin, refused, refused,
		void, made(vine.Void{Event: void.ID}, at), made(vine.Void{Event: oldVoid}, at), self,
		made(vine.Void{Event: uuid.New()}, at), // its event may be on its way
	}
	accepted, answers := logbook.Screen(events, found)
	var got []store.Result
	for i, a := range answers {
		assert.Equal(t, events[i].ID, a.ID)
		got = append(got, a.Result)
	}
	const s, k, r = store.Stored, store.Known, store.Refused
	assert.Equal(t, []store.Result{k, s, k, r, r, s, r, r, r, s}, got)
	require.Len(t, accepted, 3)
	assert.JSONEq(t, `{"text":"x"}`, string(accepted[0].Value), "the first record stands")
}

func TestScreen_Settles(t *testing.T) {
	day := morning.Add(time.Hour)
	e := made(vine.Sighting{Condition: vine.Doubtful, LookAgain: &day}, vine.Target{Block: 1, Vines: []vine.ID{4}})
	accepted, _ := logbook.Screen([]vine.Event{e}, ground())
	require.Len(t, accepted, 1)
	a := accepted[0]
	want := time.Date(2027, 1, 12, 7, 30, 0, 123_456_000, time.UTC)
	assert.Equal(t, want, a.At)
	assert.Equal(t, want, a.When, "when is at, where nobody put it right")
	assert.Equal(t, want.Add(time.Hour), *a.Body.(vine.Sighting).LookAgain)
	assert.Equal(t, day, morning.Add(time.Hour), "what was given is not changed")
	body, err := vine.DecodeBody(a.Kind, a.Value)
	require.NoError(t, err)
	assert.Equal(t, a.Body, body, "the value written is the value kept")
}

func TestWants(t *testing.T) {
	voided := uuid.New()
	a := made(vine.Note{Text: "x"}, vine.Target{Block: 9, Vines: []vine.ID{7, 5}})
	b := made(vine.Void{Event: voided}, vine.Target{Block: 1, Row: 3})
	got := logbook.Wants([]vine.Event{a, b, a})
	assert.Equal(t, logbook.Needs{Events: []uuid.UUID{a.ID, b.ID, voided}, Blocks: []vine.ID{1, 9}, Rows: []vine.ID{3}, Vines: []vine.ID{5, 7}}, got)
}

func TestTouch(t *testing.T) {
	var events []logbook.Accepted
	for _, target := range []vine.Target{{Block: 1, Vines: []vine.ID{6, 4}}, {Block: 1, Row: 2, Vines: []vine.ID{4}}, {Block: 1, Row: 3}, {Block: 9}} {
		events = append(events, logbook.Accepted{Event: vine.Event{Target: target}})
	}
	assert.Equal(t, map[vine.ID]logbook.Touched{1: {Rows: []vine.ID{3}, Vines: []vine.ID{4, 6}}, 9: {All: true}}, logbook.Touch(events, logbook.Found{}))
}

func TestCheckJSON(t *testing.T) {
	for text, ok := range map[string]bool{`"a"`: true, `"\u0000"`: false, `"\\u0000"`: true, `"\\\u0000"`: false, `"\u00001"`: false, `"\u0001"`: true} {
		assert.Equal(t, ok, logbook.CheckJSON("x", []byte(text)) == nil, text)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.String().Draw(t, "text")
		out, err := json.Marshal(s)
		require.NoError(t, err)
		require.Equal(t, logbook.CheckText("x", s) == nil, logbook.CheckJSON("x", out) == nil)
	})
}

func TestChecks(t *testing.T) {
	here := orb.Point{5, 45}
	for name, err := range map[string]error{
		"no code":            logbook.CheckBlock(store.Block{}),
		"blank code":         logbook.CheckBlock(store.Block{Code: "  "}),
		"zero in the name":   logbook.CheckBlock(store.Block{Code: "A", Name: "\x00"}),
		"endless spacing":    logbook.CheckBlock(store.Block{Code: "A", RowSpacingM: math.Inf(1)}),
		"outline off world":  logbook.CheckBlock(store.Block{Code: "A", Outline: orb.MultiPolygon{{{{181, 0}}}}}),
		"no label":           logbook.CheckRow(store.Row{}),
		"line off world":     logbook.CheckRow(store.Row{Label: "1", Line: orb.MultiLineString{{{0, 91}}}}),
		"row of no length":   logbook.CheckRow(store.Row{Label: "1", LengthM: math.NaN()}),
		"vine number 0":      logbook.CheckVine(store.Vine{Point: here}),
		"vine number huge":   logbook.CheckVine(store.Vine{Number: math.MaxInt32 + 1, Point: here}),
		"vine nowhere":       logbook.CheckVine(store.Vine{Number: 1, Point: orb.Point{math.NaN(), 45}}),
		"vine tag":           logbook.CheckVine(store.Vine{Number: 1, Point: here, Tag: "\xff"}),
		"plan without kind":  logbook.CheckPlan(store.Plan{Season: 2027}, nil),
		"plan of no season":  logbook.CheckPlan(store.Plan{Kind: store.PlanPruning}, nil),
		"plan names a twice": logbook.CheckPlan(store.Plan{Kind: store.PlanPruning, Season: 2027}, []store.PlanEntry{{Vine: 4}, {Vine: 4}}),
	} {
		assert.Error(t, err, name)
	}
	assert.NoError(t, logbook.CheckBlock(store.Block{Code: "H3"}))
	assert.NoError(t, logbook.CheckRow(store.Row{Label: "7a", LengthM: 80}))
	assert.NoError(t, logbook.CheckVine(store.Vine{Number: 41, Point: here, Tag: "H3-12-41"}))
	assert.NoError(t, logbook.CheckPlan(store.Plan{Kind: store.PlanPruning, Season: 2027}, []store.PlanEntry{{Vine: 4}, {Vine: 5}}))
}

func TestLabels(t *testing.T) {
	b, r, n, ok := logbook.SplitAddress(" h3/12A/41 ")
	assert.Equal(t, []any{"h3", "12a", 41, true}, []any{b, r, n, ok})
	_, _, _, ok = logbook.SplitAddress("H3-12-41")
	assert.False(t, ok)
	assert.Equal(t, []string{"H3/12/41", "old tag"}, logbook.OldVineLabels("H3", "12", 41, true, "old tag", "new"))
	assert.Empty(t, logbook.OldVineLabels("H3", "12", 41, false, "", "new"))
	assert.Equal(t, logbook.Key("Çerisier "), logbook.Key("çERISIER"))
}
