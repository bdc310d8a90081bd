package work

import (
	"bytes"
	"cmp"
	"context"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// edited gives a file of the base scene with a replacement.
func edited(t *testing.T, name string, pairs ...string) File {
	t.Helper()
	text, err := os.ReadFile(baseDir + name)
	require.NoError(t, err)
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, string(text), pairs[i])
		text = bytes.Replace(text, []byte(pairs[i]), []byte(pairs[i+1]), 1)
	}
	return inMemory(name, string(text))
}

func hoursLater(n int) func() time.Time {
	return func() time.Time { return clock().Add(time.Duration(n) * time.Hour) }
}

// record appends one event of a phone.
func record(t *testing.T, st store.Store, address string, hours int, body vine.Body) {
	t.Helper()
	ctx := context.Background()
	v, err := st.FindLabel(ctx, address)
	require.NoError(t, err)
	require.Len(t, v, 1)
	at := hoursLater(hours)()
	answers, err := st.Append(ctx, []vine.Event{{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: uint64(hours), At: at, Received: at, Season: 2025,
		Target: vine.Target{Block: v[0].Block, Row: v[0].Row, Vines: []vine.ID{v[0].ID}}, Kind: body.Kind(), Body: body}})
	require.NoError(t, err)
	require.Equal(t, store.Stored, answers[0].Result, answers[0].Reason)
}

func TestImport_CorrectedTableChangesOnlyWhatDiffers(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		take(t, st, ImportJob{}, base()...)
		first, err := st.Events(ctx, store.EventQuery{})
		require.NoError(t, err)

		report := take(t, st, ImportJob{Now: hoursLater(1)}, edited(t, "vines.csv",
			"B1,1,1,1-1,ok,5,12,2,2,2025-02-04,", "B1,1,1,A1,weak,4,12,2,2,2025-02-05,pale",
			"B1,1,2,1-2,ok,4,10,1,1,2025-02-04,", "B1,1,2,1-2,ok,4,11,1,1,2025-02-04,"))
		require.Equal(t, Count{Read: 168, Changed: 1, Unchanged: 167}, report.Vines)
		require.Equal(t, 1501, report.PlanNodes)
		require.True(t, report.PlanMade)
		made := map[string]int{}
		for _, r := range report.Records {
			made[r.What] = r.Made
		}
		require.Equal(t, map[string]int{"condition bearing": 0, "condition dead": 0, "condition missing": 0, "condition replanted": 0, "condition weak": 1, "note": 1, "pruned": 1, "visual_score": 1}, made)

		s := stateOf(t, st, "B1/1/1", 2025)
		require.Equal(t, vine.Weak, s.Condition)
		require.Equal(t, 4.0, s.Measures[vine.VisualScore].Value)
		require.Equal(t, "2025-02-05", s.PrunedAt.UTC().Format(time.DateOnly))
		require.Empty(t, s.Clashes)
		found, err := st.FindLabel(ctx, "1-1")
		require.NoError(t, err)
		require.Len(t, found, 1, "the old tag is still found")
		require.Equal(t, "A1", found[0].Tag)

		all, err := st.Events(ctx, store.EventQuery{})
		require.NoError(t, err)
		require.Equal(t, first, all[:len(first)], "nothing recorded is ever changed")
		require.Len(t, all, len(first)+5, "condition, score, pruned, the day taken back, note")

		report = take(t, st, ImportJob{Now: hoursLater(2)}, edited(t, "vines.csv",
			"B1,1,1,1-1,ok,5,12,2,2,2025-02-04,", "B1,1,1,A1,weak,4,12,2,2,2025-02-05,pale",
			"B1,1,2,1-2,ok,4,10,1,1,2025-02-04,", "B1,1,2,1-2,ok,4,11,1,1,2025-02-04,"))
		require.False(t, report.Changed())
	})
}

// The table of last month, taken in again, must not override what crews
// recorded since; what is corrected in it counts.
func TestImport_AgainAfterTheCrew(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	record(t, st, "B1/1/1", 1, vine.Sighting{Condition: vine.Dead, Cause: "machine"})
	score := 2.0
	record(t, st, "B1/1/2", 2, vine.Measure{Quantity: vine.VisualScore, Unit: "score", Scale: "1-5", Value: &score})
	before := dump(t, st)
	report := take(t, st, ImportJob{Now: hoursLater(3)}, base()...)
	require.False(t, report.Changed())
	require.Equal(t, before, dump(t, st))

	take(t, st, ImportJob{Now: hoursLater(4)}, edited(t, "vines.csv", "B1,1,2,1-2,ok,4,", "B1,1,2,1-2,ok,3,"))
	require.Equal(t, vine.Dead, stateOf(t, st, "B1/1/1", 2025).Condition)
	require.Equal(t, 3.0, stateOf(t, st, "B1/1/2", 2025).Measures[vine.VisualScore].Value)
}

func TestImport_NextSeasonLeavesThisOne(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	report := take(t, st, ImportJob{Season: 2026, Now: hoursLater(1)}, inMemory("v.csv", "block,row,vine,status,vigour\nB1,1,1,weak,2\n"))
	require.Equal(t, 2026, report.Season)
	require.Equal(t, vine.Bearing, stateOf(t, st, "B1/1/1", 2025).Condition)
	require.Equal(t, 5.0, stateOf(t, st, "B1/1/1", 2025).Measures[vine.VisualScore].Value)
	require.Equal(t, vine.Weak, stateOf(t, st, "B1/1/1", 2026).Condition)
}

// A corrected row keeps ids and history; the vines move with it.
func TestImport_CorrectedRow(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		take(t, st, ImportJob{}, base()...)
		b := block0(t, st)
		rows, err := st.Rows(ctx, b.ID)
		require.NoError(t, err)
		first, err := st.FindLabel(ctx, "B1/1/1")
		require.NoError(t, err)

		// row 1 begins 0.2 m further south
		report := take(t, st, ImportJob{Now: hoursLater(1)}, edited(t, "rows.geojson", "[[11.37, 45.21], [11.370095782, 45.210186018]]", "[[11.36999913, 45.20999831], [11.37009491, 45.21018433]]"))
		require.Equal(t, Count{Read: 8, Changed: 1, Unchanged: 7}, report.Rows)
		require.Equal(t, Count{Changed: 21}, report.Vines)
		again, err := st.Rows(ctx, b.ID)
		require.NoError(t, err)
		require.Equal(t, rows[0].ID, again[0].ID)
		moved, err := st.Vine(ctx, first[0].ID)
		require.NoError(t, err)
		require.Equal(t, 1, moved.Number)
		require.NotEqual(t, first[0].Point, moved.Point)
		require.Equal(t, vine.Bearing, stateOf(t, st, "B1/1/1", 2025).Condition)
	})
}

// With our own ids in the file a row can be renamed: its history stays, and the
// old label is still found.
func TestImport_RenamedByID(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	var b bytes.Buffer
	_, err := Export(ctx, st, ExportJob{What: Rows, Form: GeoJSON, Now: clock}, &b)
	require.NoError(t, err)
	text := strings.Replace(b.String(), `"row":"8"`, `"row":"8 east"`, 1)
	report := take(t, st, ImportJob{Now: hoursLater(1)}, inMemory("rows.geojson", text))
	require.Equal(t, Count{Read: 8, Changed: 1, Unchanged: 7}, report.Rows)
	require.Zero(t, report.Vines)
	found, err := st.FindLabel(ctx, "B1/8/21")
	require.NoError(t, err)
	require.Len(t, found, 1)
	require.Equal(t, vine.Bearing, stateOf(t, st, "B1/8 east/21", 2025).Condition)
}

// A row drawn the other way, with nothing said of its end, keeps its numbering.
func TestImport_RowDrawnTheOtherWay(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	before := dump(t, st)
	report := take(t, st, ImportJob{}, inMemory("r.geojson", features(feature(`{"block":"B1","row":1}`, `{"type":"LineString","coordinates":[[11.370095782,45.210186018],[11.37,45.21]]}`))))
	require.False(t, report.Changed())
	require.Equal(t, before, dump(t, st))
}

// New rows drawn in turn from either end, with nothing said of the end, are not
// guessed at.
func TestImport_RowsDrawnInTurn(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, onDisk(baseDir+"blocks.geojson"))
	text, err := os.ReadFile(caseDir + "o44_alternating_direction.geojson")
	require.NoError(t, err)
	unsaid := inMemory("r.geojson", strings.ReplaceAll(string(text), `, "vine1_end": "S"`, ""))
	report := refuse(t, st, ImportJob{}, unsaid)
	require.Contains(t, texts(report), "2 rows drawn against the others: 2, 4")
	take(t, st, ImportJob{NumberingEnd: "south"}, unsaid)
	require.Equal(t, "S", block0(t, st).NumberingEnd)
}

func TestImport_RowCutByARoad(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, onDisk(baseDir+"blocks.geojson"))
	report := take(t, st, ImportJob{}, onDisk(caseDir+"o09_row_gap_road.geojson"))
	require.Empty(t, report.Notices)
	require.Equal(t, 18, report.Vines.Made)
	g, _, rows, err := LoadGround(context.Background(), st, block0(t, st).ID)
	require.NoError(t, err)
	require.InDelta(t, 17.6, rows[0].LengthM, 0.01)
	require.Equal(t, int32(18), g.Number[17])
}

// Vines as points, without rows or outline, make both.
func TestImport_PointsAlone(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		file := inMemory("big.geojson", string(vinePoints(3, 40)))
		report := take(t, st, ImportJob{Season: 2027}, file)
		require.Equal(t, Count{Made: 1}, report.Blocks)
		require.Equal(t, Count{Made: 3}, report.Rows)
		require.Equal(t, Count{Read: 120, Made: 120}, report.Vines)
		g, b, rows, err := LoadGround(context.Background(), st, block0(t, st).ID)
		require.NoError(t, err)
		require.Equal(t, "BIG", b.Code)
		require.Equal(t, 120, g.Len())
		require.Len(t, rows[0].Line[0], 2, "a straight row has two positions")
		before := dump(t, st)
		report = take(t, st, ImportJob{Season: 2027, Now: hoursLater(1)}, file)
		require.False(t, report.Changed(), "%+v", report)
		require.Equal(t, before, dump(t, st))
	})
}

// Everything an import does in a dry run it does for good without.
func TestImport_ReportAsText(t *testing.T) {
	st := openGpkg(t)
	report := take(t, st, ImportJob{}, base()...)
	var b bytes.Buffer
	require.NoError(t, report.WriteText(&b))
	for _, part := range []string{"vines.csv: table, 168 lines read", "blocks  1 made, 0 changed", "vines   168 made", "condition missing: 4 vines recorded, 0 unchanged (season 2025)", "pruning plan: 1500 nodes on 163 vines, made", "row B1/8 made", "stored in"} {
		require.Contains(t, b.String(), part)
	}
	report = take(t, st, ImportJob{}, base()...)
	b.Reset()
	require.NoError(t, report.WriteText(&b))
	require.Contains(t, b.String(), "nothing to change: all of this is stored already")
	for _, nothing := range []File{inMemory("v.csv", "block,row,vine,status\n"), inMemory("b.geojson", features())} {
		report = take(t, st, ImportJob{Season: 2025}, nothing)
		b.Reset()
		require.NoError(t, report.WriteText(&b))
		require.Contains(t, b.String(), "nothing to take in: no file holds anything")
		require.NotContains(t, b.String(), "stored already")
	}
}

func TestImport_ConditionsInTheLanguagesOfCrews(t *testing.T) {
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	report := take(t, st, ImportJob{Season: 2025}, inMemory("v.csv", "parcelle;rang;cep;état\nB1;1;1;mort\nB1;1;2;Muerta\nB1;1;3;morta\nB1;1;4;Débil\nB1;1;5;falta\n"))
	require.Equal(t, []Records{{What: "condition missing", Made: 1}, {What: "condition weak", Made: 1}, {What: "condition dead", Made: 3}}, sortedByMade(report.Records))
}

func sortedByMade(all []Records) []Records {
	return slices.SortedFunc(slices.Values(all), func(a, b Records) int {
		return cmp.Or(cmp.Compare(a.Made, b.Made), strings.Compare(a.What, b.What))
	})
}

// Ids of another store mean nothing here: blocks, rows and vines are found by
// what they are called.
func TestImport_IDsOfAnotherStore(t *testing.T) {
	a := openGpkg(t)
	take(t, a, ImportJob{}, base()...)
	files := exported(t, a, GeoJSON, 2025, false, clock)

	b := openGpkg(t)
	other := strings.NewReplacer("11.99", "11.39", "12.00", "11.40")
	text, err := os.ReadFile(caseDir + "o48_utm_zone_border.geojson")
	require.NoError(t, err)
	take(t, b, ImportJob{}, inMemory("e1.geojson", other.Replace(string(text)))) // takes the first ids
	take(t, b, ImportJob{}, base()...)
	before := dump(t, b)
	report := take(t, b, ImportJob{Now: hoursLater(1)}, files...)
	require.False(t, report.Changed(), "%+v", report)
	require.Equal(t, before, dump(t, b))
	all := ""
	for _, n := range report.Notices {
		all += n.String()
	}
	require.Contains(t, all, "ids that this store never gave")
}
