package vine

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestEvent_JSON(t *testing.T) {
	nodes := 12
	look := january("20 00:00")
	for _, c := range []struct {
		name string
		body Body
		want string
	}{
		{"condition", Sighting{Condition: Doubtful, Cause: "no budburst", LookAgain: &look}, `{"condition":"doubtful","cause":"no budburst","look_again":"2027-01-20T00:00:00Z"}`},
		{"replanted", Sighting{Condition: Replanted, Planted: 2026, Rootstock: "SO4", Clone: "115", Batch: "b"}, `{"condition":"replanted","planted":2026,"rootstock":"SO4","clone":"115","batch":"b"}`},
		{"measure", Measure{Quantity: VisualScore, Unit: "score", Scale: "1-5", Values: []float64{3}}, `{"quantity":"visual_score","unit":"score","scale":"1-5","values":[3]}`},
		{"canes by classes", Measure{Quantity: CaneCount, Unit: "canes", Values: []float64{7}, Classes: []string{"6-8 mm", "over 8 mm"}, Counts: [][]int{{4, 3}}},
			`{"quantity":"cane_count","unit":"canes","values":[7],"classes":["6-8 mm","over 8 mm"],"counts":[[4,3]]}`},
		{"pruned", Pruned{Nodes: &nodes, Arms: []Arm{{Name: "left", Canes: []Cane{{Nodes: 10, LengthMM: 900}}, Spurs: []Spur{{Nodes: 2, FirstBudFaces: "above"}}, LargeCuts: []Cut{{Face: "upper", DiameterMM: 25}}, ClimbMM: -3}}, Reason: "thin"},
			`{"nodes":12,"arms":[{"name":"left","canes":[{"nodes":10,"length_mm":900}],"spurs":[{"nodes":2,"first_bud_faces":"above"}],"large_cuts":[{"face":"upper","diameter_mm":25}],"climb_mm":-3}],"reason":"thin"}`},
		{"pruned as instructed", Pruned{}, `{}`},
		{"work", Work{"tying", ToRedo}, `{"operation":"tying","progress":"to_redo"}`},
		{"note", Note{"hail"}, `{"text":"hail"}`},
		{"void", Void{Event: uuid.UUID{15: 9}, Reason: "slip"}, `{"event":"00000000-0000-0000-0000-000000000009","reason":"slip"}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := rec(7, "ana", "12 09:00", 2027, c.body)
			e.By = "Ana"
			require.NoError(t, e.Check())
			text, err := json.Marshal(e)
			require.NoError(t, err)
			want := `{"id":"00000000-0000-7000-8000-000000000007","device":"ana","seq":7,"at":"2027-01-12T09:00:00Z","when":"2027-01-12T09:00:00Z","received":"2027-01-12T09:00:00Z",` +
				`"by":"Ana","season":2027,"block":3,"row":12,"vines":[41],"kind":"` + string(e.Kind) + `","value":` + c.want + `}`
			require.JSONEq(t, want, string(text))
			var back Event
			require.NoError(t, json.Unmarshal(text, &back))
			require.Equal(t, e, back)
		})
	}
}

func TestEvent_JSONProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, e := range anyEvents(t) {
			text, err := json.Marshal(e)
			require.NoError(t, err)
			var back Event
			require.NoError(t, json.Unmarshal(text, &back))
			require.Equal(t, e, back)
		}
	})
}

func TestEvent_UnmarshalRefuses(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"not JSON", `{`, "unexpected end"},
		{"unknown kind", `{"kind":"wish","value":{}}`, `kind "wish" is not known`},
		{"unknown field of a value", `{"kind":"note","value":{"text":"a","colour":"red"}}`, "colour"},
		{"unknown condition", `{"kind":"condition","value":{"condition":"happy"}}`, `"happy" is not a condition`},
		{"unknown progress", `{"kind":"work","value":{"operation":"tying","progress":"almost"}}`, `progress "almost"`},
		{"a word for a number", `{"kind":"measure","value":{"quantity":"yield","unit":"g","value":"much"}}`, "measure event"},
		{"two values in one", `{"kind":"note","value":{"text":"a"}{"text":"b"}}`, "invalid"},
		{"not an id", `{"id":"7","kind":"note","value":{"text":"a"}}`, "UUID"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var e Event
			err := json.Unmarshal([]byte(c.text), &e)
			require.Error(t, err)
			require.Contains(t, err.Error(), c.says)
		})
	}
}

func TestEvent_Check(t *testing.T) {
	good := rec(1, "ana", "12 09:00", 2027, Note{"a"})
	n := func(n int) *int { return &n }
	canes := func(v float64, classes []string, counts ...[]int) Measure {
		return Measure{Quantity: CaneCount, Unit: "canes", Values: []float64{v}, Classes: classes, Counts: counts}
	}
	measure := func(q Quantity, unit string, v float64) Measure { return Measure{Quantity: q, Unit: unit, Value: &v} }
	for _, c := range []struct {
		name   string
		change func(e *Event)
		says   string
	}{
		{"no id", func(e *Event) { e.ID = uuid.Nil }, "id is missing"},
		{"no device", func(e *Event) { e.Device = "" }, "device is missing"},
		{"no time", func(e *Event) { e.At = State{}.SeenAt }, "at (the time there) is missing"},
		{"season out of reach", func(e *Event) { e.Season = 27 }, "season 27"},
		{"no block", func(e *Event) { e.Target.Block = 0 }, "block is missing"},
		{"no value", func(e *Event) { e.Body = nil }, "does not fit kind"},
		{"kind of another value", func(e *Event) { e.Kind = KindWork }, "does not fit kind"},
		{"empty note", func(e *Event) { e.Body = Note{} }, "a note has"},
		{"endless note", func(e *Event) { e.Body = Note{strings.Repeat("a", 4001)} }, "a note has"},
		{"no operation", func(e *Event) { e.Body = Work{} }, "operation"},
		{"void of nothing", func(e *Event) { e.Body = Void{} }, "names the event"},
		{"unseen as a sighting", func(e *Event) { e.Body = Sighting{} }, "condition is missing"},
		{"planted without replanted", func(e *Event) { e.Body = Sighting{Condition: Dead, Planted: 2020} }, "planted goes with"},
		{"planted out of reach", func(e *Event) { e.Body = Sighting{Condition: Replanted, Planted: 20} }, "planted 20"},
		{"a layer of itself", func(e *Event) { e.Body = Sighting{Condition: Replanted, Mother: e.Target.Vines[0]} }, "layer of itself"},
		{"a layer with a rootstock", func(e *Event) { e.Body = Sighting{Condition: Replanted, Mother: 999, Rootstock: "SO4"} }, "own roots"},
		{"a layer without replanted", func(e *Event) { e.Body = Sighting{Condition: Young, Mother: 999} }, "mother goes with"},
		{"a whole row of layers", func(e *Event) { e.Target.Vines, e.Body = nil, Sighting{Condition: Replanted, Mother: 999} }, "needs its vine listed"},
		{"no such mother", func(e *Event) { e.Body = Sighting{Condition: Replanted, Mother: -1} }, "not a vine"},
		{"a dead vine that is cut off", func(e *Event) { e.Body = Sighting{Condition: Dead, Severed: true} }, "living vine"},
		{"unknown quantity", func(e *Event) { e.Body = measure("mood", "g", 1) }, "not known"},
		{"foreign unit", func(e *Event) { e.Body = measure(PruningWeight, "lb", 1) }, "kept in g"},
		{"negative weight", func(e *Event) { e.Body = measure(PruningWeight, "g", -1) }, "impossible"},
		{"no number", func(e *Event) { e.Body = measure(PruningWeight, "g", math.NaN()) }, "impossible"},
		{"neither value nor values", func(e *Event) { e.Body = Measure{Quantity: Yield, Unit: "g"} }, "either"},
		{"two values for one vine", func(e *Event) { e.Body = Measure{Quantity: Yield, Unit: "g", Values: []float64{1, 2}} }, "2 values for 1 vines"},
		{"classes of a weight", func(e *Event) {
			e.Body = Measure{Quantity: Yield, Unit: "g", Values: []float64{1}, Classes: []string{"a"}, Counts: [][]int{{1}}}
		}, "not counted by classes"},
		{"counts without classes", func(e *Event) { e.Body = canes(3, nil, []int{3}) }, "0 classes"},
		{"classes without counts", func(e *Event) { e.Body = canes(3, []string{"6-8 mm"}) }, "counts of 0 vines"},
		{"a count too few", func(e *Event) { e.Body = canes(3, []string{"6-8 mm", "8-10 mm"}, []int{3}) }, "1 counts for 2 classes"},
		{"counts that do not add up", func(e *Event) { e.Body = canes(3, []string{"6-8 mm", "8-10 mm"}, []int{1, 1}) }, "add up to 2, not 3"},
		{"a count below nought", func(e *Event) { e.Body = canes(0, []string{"6-8 mm", "8-10 mm"}, []int{-1, 1}) }, "-1 is impossible"},
		{"one value by classes", func(e *Event) {
			m := measure(CaneCount, "canes", 3)
			m.Classes, m.Counts = []string{"6-8 mm"}, [][]int{{3}}
			e.Body = m
		}, "one for each vine"},
		{"negative nodes", func(e *Event) { e.Body = Pruned{Nodes: n(-1)} }, "-1 nodes"},
		{"a hundred canes", func(e *Event) { e.Body = Pruned{Canes: n(100)} }, "100 canes"},
		{"a cane of minus one", func(e *Event) { e.Body = Pruned{Arms: []Arm{{Canes: []Cane{{Nodes: -1}}}}} }, "a cane"},
		{"a spur of 21", func(e *Event) { e.Body = Pruned{Arms: []Arm{{Spurs: []Spur{{Nodes: 21}}}}} }, "a spur"},
		{"a bud that faces away", func(e *Event) { e.Body = Pruned{Arms: []Arm{{Spurs: []Spur{{Nodes: 2, FirstBudFaces: "away"}}}}} }, "faces"},
		{"a cut without a face", func(e *Event) { e.Body = Pruned{Arms: []Arm{{LargeCuts: []Cut{{}}}}} }, "large cut"},
		{"a head that rose three metres", func(e *Event) { e.Body = Pruned{Arms: []Arm{{ClimbMM: 3000}}} }, "climb"},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := good
			c.change(&e)
			if e.Body != nil && e.Kind == good.Kind {
				e.Kind = e.Body.Kind()
			}
			err := e.Check()
			require.ErrorIs(t, err, ErrBadEvent)
			require.Contains(t, err.Error(), c.says)
		})
	}
	require.NoError(t, good.Check())
}

func TestPruned_NodesLeft(t *testing.T) {
	n := func(n int) *int { return &n }
	arm := Arm{Canes: []Cane{{Nodes: 8}, {Nodes: 6}}, Spurs: []Spur{{Nodes: 2}}}
	for _, c := range []struct {
		name string
		p    Pruned
		want int
		ok   bool
	}{
		{"as instructed", Pruned{}, -1, false},
		{"stated", Pruned{Nodes: n(12)}, 12, true},
		{"cut back to nothing", Pruned{Nodes: n(0)}, 0, true},
		{"two arms", Pruned{Arms: []Arm{arm, arm}}, 32, true},
		{"stated beside arms", Pruned{Nodes: n(30), Arms: []Arm{arm, arm}}, 30, true},
		{"only canes", Pruned{Canes: n(2)}, -1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := c.p.NodesLeft()
			require.Equal(t, c.ok, ok)
			require.Equal(t, c.want, got)
		})
	}
	nodes, canes, spurs, ok := Pruned{Canes: n(1), Arms: []Arm{arm}}.Totals()
	require.Equal(t, []any{16, 1, 1, true}, []any{nodes, canes, spurs, ok}, "what is stated goes before the sums of the arms")
}

func TestAddress(t *testing.T) {
	for _, text := range []string{"H3/12/41", "Old Block/7a/1"} {
		a, err := ParseAddress(text)
		require.NoError(t, err)
		require.Equal(t, text, a.String())
	}
	for _, text := range []string{"", "H3", "H3/12", "H3/12/41/2", "/12/41", "H3//41", "H3/12/0", "H3/12/-1", "H3/12/x"} {
		_, err := ParseAddress(text)
		require.ErrorIs(t, err, ErrAddress, text)
	}
}

func TestTarget_Covers(t *testing.T) {
	for _, c := range []struct {
		name   string
		target Target
		want   bool
	}{
		{"its block", Target{Block: 3}, true},
		{"another block", Target{Block: 4}, false},
		{"its row", Target{Block: 3, Row: 12}, true},
		{"another row", Target{Block: 3, Row: 13}, false},
		{"named", Target{Block: 3, Row: 12, Vines: []ID{40, 41}}, true},
		{"named without its row", Target{Block: 3, Vines: []ID{41}}, true},
		{"not named in its row", Target{Block: 3, Row: 12, Vines: []ID{40}}, false},
		{"named in another block", Target{Block: 4, Vines: []ID{41}}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			require.Equal(t, c.want, c.target.Covers(vine41))
			_, ok := c.target.position(vine41, time.Time{})
			require.Equal(t, c.want, ok)
		})
	}
}

// FuzzEvent reads anything as an event: no panic, and what Check accepts comes
// back the same after being written.
func FuzzEvent(f *testing.F) {
	for _, e := range []Event{rec(1, "ana", "12 09:00", 2027, saw(Dead)), rec(2, "bo", "12 09:00", 2027, weighed(300)), rec(3, "bo", "12 09:00", 2027, left(12)),
		rec(4, "bo", "12 09:00", 2027, did("tying", Done)), rec(5, "bo", "12 09:00", 2027, Note{"a"}), rec(6, "bo", "12 09:00", 2027, Void{Event: uuid.UUID{1}})} {
		text, err := json.Marshal(e)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add([]byte(`{"kind":"pruned"}`))
	f.Add([]byte(`{"kind":"measure","value":{"values":[1e400]}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var e Event
		if json.Unmarshal(text, &e) != nil || e.Check() != nil {
			return
		}
		first, err := json.Marshal(e)
		if err != nil {
			t.Fatalf("accepted but not written: %v", err)
		}
		var back Event
		if err := json.Unmarshal(first, &back); err != nil {
			t.Fatalf("written but not read: %v\n%s", err, first)
		}
		second, err := json.Marshal(back)
		if err != nil || string(first) != string(second) {
			t.Fatalf("changed on the way: %v\n%s\n%s", err, first, second)
		}
		p := Place{ID: 1, Block: e.Target.Block, Row: e.Target.Row}
		if len(e.Target.Vines) > 0 {
			p.ID = e.Target.Vines[0]
		}
		if len(Fold(p, []Event{e, back}).States) != 1 {
			t.Fatalf("one event gave not one season: %s", first)
		}
	})
}
