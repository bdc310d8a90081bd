package stand

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

func readCSV(t *testing.T, path string) (lines [][]string, column map[string]int) {
	t.Helper()
	f, err := os.Open(path)
	require.NoError(t, err)
	defer f.Close()
	lines, err = csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	column = map[string]int{}
	for i, name := range lines[0] {
		column[name] = i
	}
	return lines[1:], column
}

func whole(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

// The base scene's README says: 168 places, 162 ok, 4 missing, 1 dead, 1
// replant, 83 pruned, 1500 prescribed buds. Its lines become events, these a
// life, and the lives a stand.
func TestTotals_BaseScene(t *testing.T) {
	lines, col := readCSV(t, "../../testdata/base/vines.csv")
	words := map[string]vine.Condition{"ok": vine.Bearing, "missing": vine.Missing, "dead": vine.Dead, "replant": vine.Replanted}
	b := NewBuilder(Ground{Block: 1, Code: "B1", VineSpacingM: 1.1})
	var places []vine.Place
	var events []vine.Event
	say := func(id vine.ID, body vine.Body) {
		events = append(events, vine.Event{ID: uuid.UUID{1, 14: byte(len(events) >> 8), 15: byte(len(events))}, Device: "import:vines.csv", Seq: uint64(len(events)),
			At: time.Date(2025, 2, 28, 0, 0, 0, 0, time.UTC), Season: 2025, Target: vine.Target{Block: 1, Vines: []vine.ID{id}}, Kind: body.Kind(), Body: body})
	}
	var planned []int
	label := ""
	for i, l := range lines {
		if l[col["row"]] != label {
			label = l[col["row"]]
			b.Row(vine.ID(1000+whole(t, label)), label, 0)
		}
		id, n := vine.ID(i+1), whole(t, l[col["vine"]])
		b.Vine(Position{ID: id, Number: n, ChainageM: 1.1 * float64(n), Lon: 11.37, Lat: 45.21})
		places = append(places, vine.Place{ID: id, Row: vine.ID(1000 + whole(t, label)), Block: 1})
		condition, ok := words[l[col["status"]]]
		require.True(t, ok, l[col["status"]])
		say(id, vine.Sighting{Condition: condition})
		if l[col["vigour"]] != "" {
			v := float64(whole(t, l[col["vigour"]]))
			say(id, vine.Measure{Quantity: vine.VisualScore, Unit: "score", Scale: "1-5", Value: &v})
		}
		if l[col["pruned_on"]] != "" {
			say(id, vine.Pruned{})
		}
		planned = append(planned, -1)
		if l[col["buds"]] != "" {
			planned[i] = whole(t, l[col["buds"]])
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	s := NewStand(g, 2025, 1)
	vine.FoldMany(places, events, func(i int, life vine.Life) { s.Set(i, life.In(2025, places[i]), 1) })
	for i, n := range planned {
		s.SetPlan(i, n, 1)
	}

	got := TotalsOf(s)
	require.Equal(t, 168, got.Vines)
	require.Equal(t, ByCondition{vine.Bearing: 162, vine.Missing: 4, vine.Dead: 1, vine.Replanted: 1}, got.Condition)
	require.Equal(t, 5, got.Gaps)
	require.Equal(t, 163, got.ToPrune)
	require.Equal(t, 83, got.Done())
	require.Equal(t, 80, got.ToDo())
	require.Equal(t, 1500, got.NodesPlanned)
	rows := RowTotals(s)
	require.Len(t, rows, 8)
	gaps := []int{}
	for _, r := range rows {
		require.Equal(t, 21, r.Vines)
		gaps = append(gaps, r.Gaps)
	}
	require.Equal(t, []int{0, 1, 0, 0, 2, 1, 1, 0}, gaps, "missing 2-5, 5-11, 5-12, 7-3, dead 6-10")
}

// A. G. Strickland, A vine uniformity trial, Journal of Agriculture, Victoria,
// 30, 1932, 584-593 (as in R agridat 1.27): 125 vines, mean 5.944 lb, coefficient
// of variation 43.5 %.
func TestTotals_Strickland(t *testing.T) {
	lines, col := readCSV(t, "../../testdata/strickland/strickland-1932-vine-yield.csv")
	const gPerLb = 453.59237
	b := NewBuilder(Ground{Block: 1})
	yields := map[vine.ID]float64{}
	label := ""
	for i, l := range lines {
		if l[col["col"]] != label {
			label = l[col["col"]]
			b.Row(vine.ID(1000+i), label, 8*0.3048)
		}
		n := whole(t, l[col["row"]])
		b.Vine(Position{ID: vine.ID(i + 1), Number: n, ChainageM: float64(n) * 8 * 0.3048})
		if y, err := strconv.ParseFloat(l[col["yield"]], 64); err == nil {
			yields[vine.ID(i+1)] = y * gPerLb
		}
	}
	g, err := b.Ground()
	require.NoError(t, err)
	s := NewStand(g, 1930, 1)
	for id, y := range yields {
		i, ok := g.IndexOf(id)
		require.True(t, ok)
		s.Set(i, vine.State{Measures: map[vine.Quantity]vine.Reading{vine.Yield: read(y)}}, 1)
	}
	got := TotalsOf(s)
	require.Equal(t, 155, got.Vines)
	require.Equal(t, 125, got.Yielded)
	require.InDelta(t, 5.944, *got.YieldMeanG/gPerLb, 0.0005)
	require.InDelta(t, 0.435, *got.YieldCV, 0.0005)
	require.Nil(t, got.WeightMeanG)
}

func TestTotals_JSON(t *testing.T) {
	s := NewStand(smallPlot.ground(t), 2027, 9)
	n := 10
	s.SetPlan(0, 12, 1)
	s.Set(0, vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: read(500)}, Pruned: &vine.Pruned{Nodes: &n},
		Work: map[string]vine.Progress{vine.Pruning: vine.Done}}, 1)
	s.Set(1, vine.State{Condition: vine.Missing}, 1)
	s.Set(2, vine.State{Condition: vine.Weak, Work: map[string]vine.Progress{vine.Pruning: vine.Skipped}, Clashes: []vine.Clash{{}}}, 1)
	got := TotalsOf(s)
	text, err := json.Marshal(got)
	require.NoError(t, err)
	require.JSONEq(t, `{"vines":15,"condition":{"unseen":12,"bearing":1,"young":0,"weak":1,"diseased":0,"dead":0,"missing":1,"replanted":0,"doubtful":0},
		"vigour":[14,0,0,1,0,0],"progress":{"not_started":12,"started":0,"done":1,"to_redo":0,"skipped":1},
		"load":[13,0,0,1,0,0,0],"follow_ups":[14,0,0,0],"to_prune":14,"gaps":1,
		"weight_mean_g":500,"weighed":1,"yielded":0,"nodes_planned":12,"nodes_left":10,"clashes":1}`, string(text))
	var back Totals
	require.NoError(t, json.Unmarshal(text, &back))
	require.Equal(t, got, back)
	require.Equal(t, 12, got.ToDo())
	require.Error(t, json.Unmarshal([]byte(`{"condition":{"happy":1}}`), &back))
}

// Rows add up to the block.
func TestTotals_RowsAddUp(t *testing.T) {
	g := smallPlot.ground(t)
	rapid.Check(t, func(t *rapid.T) {
		s := anyStand(t, g)
		var sum Totals
		for _, r := range RowTotals(s) {
			sum.Vines += r.Vines
			sum.Gaps += r.Gaps
			sum.ToPrune += r.ToPrune
			sum.NodesPlanned += r.NodesPlanned
			sum.NodesLeft += r.NodesLeft
			sum.Weighed += r.Weighed
			sum.Yielded += r.Yielded
			sum.Clashes += r.Clashes
			for k, n := range r.Condition {
				sum.Condition[k] += n
			}
			for k, n := range r.Vigour {
				sum.Vigour[k] += n
			}
			living := [3]int{}
			for k, n := range r.Progress {
				sum.Progress[k] += n
				living[0] += n
			}
			for k, n := range r.Load {
				sum.Load[k] += n
				living[1] += n
			}
			for k, n := range r.FollowUps {
				sum.FollowUps[k] += n
				living[2] += n
			}
			if want := [3]int{r.ToPrune, r.ToPrune, r.ToPrune}; living != want {
				t.Fatalf("progress, load and jobs of %v vines, %d living", living, r.ToPrune)
			}
		}
		block := TotalsOf(s)
		block.WeightMeanG, block.YieldMeanG, block.YieldCV = nil, nil, nil
		require.Equal(t, block, sum)
	})
}

// TestTotals_PlanAndJobs: only living vines carry nodes or have a job.
func TestTotals_PlanAndJobs(t *testing.T) {
	g := smallPlot.ground(t)
	s := NewStand(g, 2027, 1)
	living, dead := 0, 1
	s.Condition[living], s.Condition[dead] = vine.Bearing, vine.Dead
	for i := range s.Nodes {
		s.Nodes[i] = None
	}
	s.Follow = make([]vine.FollowUp, s.Ground.Len())
	s.Nodes[living], s.Nodes[dead] = 12, 12
	s.Follow[living], s.Follow[dead] = vine.FollowBothPush, vine.FollowNone
	got := TotalsOf(s)
	class := LoadClass(12)
	require.Equal(t, 1, got.Load[class])
	require.Equal(t, got.ToPrune-1, got.Load[0])
	require.Equal(t, [4]int{got.ToPrune - 1, 0, 1, 0}, got.FollowUps)
}
