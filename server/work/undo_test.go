package work

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// holds writes what holds in a store: ground, states, plans and surveys, without
// revisions and without the log.
func holds(t testing.TB, st store.Store) string {
	t.Helper()
	ctx := context.Background()
	var b strings.Builder
	e, err := st.Estate(ctx)
	require.NoError(t, err)
	fmt.Fprintf(&b, "%+v\n", e)
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	seasons, err := st.Seasons(ctx)
	require.NoError(t, err)
	for _, blk := range blocks {
		blk.Revision, blk.GroundRev = 0, 0
		fmt.Fprintf(&b, "%+v\n", blk)
		rows, err := st.Rows(ctx, blk.ID)
		require.NoError(t, err)
		fmt.Fprintf(&b, "%+v\n", rows)
		for v, err := range st.Vines(ctx, blk.ID) {
			require.NoError(t, err)
			fmt.Fprintf(&b, "%+v\n", v)
		}
		for _, season := range seasons {
			for s, err := range st.States(ctx, blk.ID, season, 0) {
				require.NoError(t, err)
				text, err := json.Marshal(s.State)
				require.NoError(t, err)
				if empty, err := json.Marshal(vine.State{Season: season, Planted: s.Planted}); err == nil && !bytes.Equal(text, empty) {
					fmt.Fprintf(&b, "%d %d %s\n", s.Vine, season, text)
				}
			}
			entries, err := st.PlanEntries(ctx, store.PlanPruning, season, blk.ID)
			require.NoError(t, err)
			for _, e := range entries {
				fmt.Fprintf(&b, "plan %d %+v\n", season, e)
			}
		}
		kept, err := KeptEvidence(ctx, st, blk.ID)
		require.NoError(t, err)
		fmt.Fprintf(&b, "%+v\n", kept)
	}
	return b.String()
}

// undoNow takes an import back and wants it to be done.
func undoNow(t testing.TB, st store.Store, id string, hours int) UndoReport {
	t.Helper()
	dry, err := Undo(context.Background(), st, UndoJob{ID: id, By: "Ana", DryRun: true, Now: hoursLater(hours)})
	require.NoError(t, err, "%v", dry.Built)
	r, err := Undo(context.Background(), st, UndoJob{ID: id, By: "Ana", Now: hoursLater(hours)})
	require.NoError(t, err)
	require.Equal(t, []any{dry.Blocks, dry.Rows, dry.Vines, dry.Records, dry.Restored, dry.Plans}, []any{r.Blocks, r.Rows, r.Vines, r.Records, r.Restored, r.Plans}, "a dry run says the same")
	rebuilt, err := st.Rebuild(context.Background(), false, nil)
	require.NoError(t, err)
	require.Zero(t, rebuilt.Wrong)
	return r
}

// undoRefused wants it to be refused, and nothing to be changed.
func undoRefused(t testing.TB, st store.Store, id string) string {
	t.Helper()
	before := dump(t, st)
	r, err := Undo(context.Background(), st, UndoJob{ID: id, Now: hoursLater(90)})
	require.ErrorIs(t, err, ErrUndo)
	require.True(t, r.Refused)
	require.Equal(t, before, dump(t, st))
	var text strings.Builder
	require.NoError(t, r.WriteText(&text))
	return text.String()
}

// A whole estate that was imported goes again; the log keeps what was recorded and
// that it was taken back. The same files can be taken in again.
func TestUndo_WholeEstate(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		empty := holds(t, st)
		first := take(t, st, ImportJob{By: "Bo"}, base()...)
		require.NotEmpty(t, first.ID)
		logged, err := st.Events(ctx, store.EventQuery{})
		require.NoError(t, err)
		list, err := Imports(ctx, st)
		require.NoError(t, err)
		require.Len(t, list, 1)
		require.Equal(t, []any{"Bo", 1, 8, 168, 2025}, []any{list[0].By, list[0].Blocks.Made, list[0].Rows.Made, list[0].Vines.Made, list[0].Season})
		require.Len(t, list[0].Files, 3)

		r := undoNow(t, st, first.ID, 1)
		require.Equal(t, []WentBack{{Gone: 1}, {Gone: 8}, {Gone: 168}}, []WentBack{r.Blocks, r.Rows, r.Vines})
		require.Equal(t, empty, holds(t, st))
		seasons, err := st.Seasons(ctx)
		require.NoError(t, err)
		require.Empty(t, seasons, "a season in which nothing holds is not to be chosen")
		all, err := st.Events(ctx, store.EventQuery{})
		require.NoError(t, err)
		require.Equal(t, logged, all[:len(logged)], "nothing recorded is ever changed")
		require.Len(t, all, 2*len(logged))
		for i, e := range all[len(logged):] {
			require.Equal(t, logged[i].ID, e.Body.(vine.Void).Event)
			require.Equal(t, "Ana", e.By)
		}

		before := dump(t, st)
		again, err := Undo(ctx, st, UndoJob{ID: first.ID, By: "Cy", Now: hoursLater(2)})
		require.NoError(t, err)
		require.True(t, again.Already)
		require.Equal(t, before, dump(t, st), "once more does nothing")
		require.Equal(t, "Ana", again.Import.Undone.By)

		second := take(t, st, ImportJob{Now: hoursLater(3)}, base()...)
		require.Equal(t, []Count{first.Blocks, first.Rows, first.Vines}, []Count{second.Blocks, second.Rows, second.Vines})
		require.Equal(t, first.Records, second.Records)
		require.True(t, second.PlanMade)
		list, err = Imports(ctx, st)
		require.NoError(t, err)
		require.Equal(t, []string{second.ID, first.ID}, []string{list[0].ID, list[1].ID}, "newest first")
	})
}

// What an import changed is as it was before: ground, states, plan and tags; then
// the import before it can be taken back too.
func TestUndo_CorrectedFiles(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		empty := holds(t, st)
		first := take(t, st, ImportJob{}, base()...)
		before := holds(t, st)
		table := edited(t, "vines.csv",
			"B1,1,1,1-1,ok,5,12,2,2,2025-02-04,", "B1,1,1,A1,weak,4,12,2,2,2025-02-05,pale",
			"B1,1,2,1-2,ok,4,10,1,1,2025-02-04,", "B1,1,2,1-2,ok,4,11,1,1,2025-02-04,")
		second := take(t, st, ImportJob{Now: hoursLater(1)}, table, edited(t, "blocks.geojson", "invented red", "invented white"))
		require.NotEqual(t, before, holds(t, st))

		text := undoRefused(t, st, first.ID)
		require.Contains(t, text, "records of block B1: were corrected since, by the import of vines.csv and 1 more: take that back first (2026-11-25 11:00)")
		require.Contains(t, text, "block B1: its rows or vines were changed or taken away since, by the import of vines.csv and 1 more")

		r := undoNow(t, st, second.ID, 2)
		require.Equal(t, []any{WentBack{Back: 1}, WentBack{}, WentBack{Back: 1}, 1}, []any{r.Blocks, r.Rows, r.Vines, r.Plans})
		require.Equal(t, 4, r.Records, "condition, score, pruned, note")
		require.Equal(t, 1, r.Restored, "the day on which it was pruned")
		require.Equal(t, before, holds(t, st))

		again := take(t, st, ImportJob{Now: hoursLater(3)}, base()...)
		require.False(t, again.Changed(), "what holds is what the first files say")
		require.Empty(t, again.ID)
		third := take(t, st, ImportJob{Now: hoursLater(4)}, table)
		require.True(t, third.PlanMade)
		require.Equal(t, 1, third.Vines.Changed)
		undoNow(t, st, third.ID, 5)
		require.Equal(t, before, holds(t, st))
		undoNow(t, st, first.ID, 6)
		require.Equal(t, empty, holds(t, st))
	})
}

// Rows and vines that an import adds to a block go, those that it moves go back.
func TestUndo_RowsMovedAndAdded(t *testing.T) {
	st := openGpkg(t)
	rows := func(length, label string) string {
		return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"block":"B1","row":"` + label + `","vine_spacing_m":1.1},
				"geometry":{"type":"LineString","coordinates":[[11.3701,45.21],[11.3701,` + length + `]]}}]}`
	}
	take(t, st, ImportJob{}, onDisk(baseDir+"blocks.geojson"), inMemory("rows.geojson", rows("45.2101", "1")))
	before := holds(t, st)
	longer := take(t, st, ImportJob{Now: hoursLater(1)}, inMemory("longer.geojson", rows("45.21012", "1")))
	require.Equal(t, 1, longer.Rows.Changed)
	require.Positive(t, longer.Vines.Made)
	next := take(t, st, ImportJob{Now: hoursLater(2)}, inMemory("next.geojson", strings.ReplaceAll(rows("45.2101", "2"), "11.3701", "11.37012")))
	require.Equal(t, 1, next.Rows.Made)
	both := holds(t, st)

	record(t, st, "B1/2/3", 3, vine.Sighting{Condition: vine.Dead})
	text := undoRefused(t, st, next.ID)
	require.Contains(t, text, "vine B1/2/3: was recorded since: dead (2026-11-25 13:00)")
	r := undoNow(t, st, longer.ID, 4)
	require.Equal(t, WentBack{Back: 1}, r.Rows)
	require.Equal(t, longer.Vines.Made, r.Vines.Gone)
	require.NotEqual(t, both, holds(t, st))

	// The crew takes its record back: then nothing stands on the row any more.
	events, err := st.Events(context.Background(), store.EventQuery{Device: "phone"})
	require.NoError(t, err)
	record(t, st, "B1/2/3", 5, vine.Void{Event: events[0].ID})
	undoNow(t, st, next.ID, 6)
	require.Equal(t, before, holds(t, st))
}

// A sheet of measures can be taken back although crews worked on since: records
// stand by themselves. What was set or ordered for new ground keeps it.
func TestUndo_MeasuresAndPapers(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	ground := take(t, st, ImportJob{}, base()...)
	before := holds(t, st)
	sheet := inMemory("weights.csv", "block,row,vine,pruning_weight_g\nB1,1,1,420\nB1,1,2,380\n")
	weights := take(t, st, ImportJob{As: Measures, Season: 2025, Now: hoursLater(1)}, sheet)
	require.Contains(t, undoRefused(t, st, ground.ID), "pruning weight, by the import of weights.csv")
	record(t, st, "B1/1/1", 2, vine.Note{Text: "broken stake"})
	r := undoNow(t, st, weights.ID, 3)
	require.Equal(t, 2, r.Records)
	require.Empty(t, stateOf(t, st, "B1/1/1", 2025).Measures[vine.PruningWeight])
	require.Equal(t, 1, stateOf(t, st, "B1/1/1", 2025).Notes)
	require.NotEqual(t, before, holds(t, st))
	again := take(t, st, ImportJob{As: Measures, Season: 2025, Now: hoursLater(4)}, sheet)
	require.Equal(t, 2, again.Records[0].Made, "the same sheet again")

	block := block0(t, st)
	require.NoError(t, st.Update(ctx, func(tx store.Tx) error {
		if err := tx.SaveStandards(store.Standards{Block: block.ID, Made: hoursLater(5)(), By: "Ada", Value: []byte(`{"a":1}`)}); err != nil {
			return err
		}
		_, err := tx.SavePlan(store.Plan{Kind: store.PlanPruning, Season: 2025, Block: block.ID, Made: hoursLater(5)(), By: "Ada"}, nil)
		if err == nil {
			err = savePaper(tx, store.Paper{Kind: PaperOrder, Key: "1", Block: block.ID, Made: hoursLater(5)(), By: "Ada"}, Order{ID: "1"})
		}
		return err
	}))
	text := undoRefused(t, st, ground.ID)
	for _, want := range []string{"a pruning plan was made since, for 2025", "its standards were set since", "an order was given since", "note", "pruning weight"} {
		require.Contains(t, text, want)
	}
	_, err := Undo(ctx, st, UndoJob{ID: "nothing", Now: clock})
	require.ErrorIs(t, err, store.ErrNotFound)
}

// A survey that is taken back leaves its block, and the one whose place it took
// holds again.
func TestUndo_Survey(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	g := groundOf(t, st)
	before := holds(t, st)
	stood := func(gap int) File {
		return inMemory("winter.csv", trunks(g, func(i int) bool { return i != gap }, 0, 0, 0.01, "fixed,0.02"))
	}
	first := take(t, st, surveyJob(), stood(5))
	one := holds(t, st)
	second := take(t, st, surveyJob(), stood(9))
	require.Equal(t, 167, second.Points.Replaced)
	require.Contains(t, undoRefused(t, st, first.ID), "the survey: another took its place since, by the import of winter.csv")
	undoNow(t, st, second.ID, 1)
	require.Equal(t, one, holds(t, st))
	undoNow(t, st, first.ID, 2)
	require.Equal(t, before, holds(t, st))
	require.Equal(t, 167, take(t, st, surveyJob(), stood(5)).Points.Made)
	list, err := KeptEvidence(ctx, st, g.Block)
	require.NoError(t, err)
	require.Len(t, list, 1)
}

// An image brings values and a layer of the map in one import; both go with it.
func TestUndo_Image(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	before := holds(t, st)
	image := onDisk("../../testdata/raster/o50a_nodata_declared.tif")
	job := ImportJob{As: Raster, Date: clock(), Units: map[string]string{"canopy_index": "NDVI"}, Image: ImageAnswers{Sensor: "S-2"}}
	r := take(t, st, job, image)
	require.Equal(t, []Records{{What: "canopy_index", Made: 162}}, r.Records)
	layers, err := KeptImages(ctx, st)
	require.NoError(t, err)
	require.Len(t, layers, 1)
	require.Equal(t, []any{"NDVI", "S-2", r.Season}, []any{layers[0].Index, layers[0].Sensor, layers[0].Season})
	require.False(t, func() bool { again := take(t, st, job, image); return again.Changed() }(), "the same image again")
	undoNow(t, st, r.ID, 1)
	require.Equal(t, before, holds(t, st))
	layers, err = KeptImages(ctx, st)
	require.NoError(t, err)
	require.Empty(t, layers)
	job.Image.NoLayer = true
	take(t, st, job, image)
	layers, err = KeptImages(ctx, st)
	require.NoError(t, err)
	require.Empty(t, layers)
}
