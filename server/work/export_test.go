package work

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/vine"
	"courson/store"
)

// exported writes a whole store out, as files to be imported.
func exported(t *testing.T, st store.Store, form Form, season int, us bool, now func() time.Time) []File {
	t.Helper()
	var files []File
	for _, what := range []Kind{Blocks, Rows, Vines} {
		var b bytes.Buffer
		_, err := Export(context.Background(), st, ExportJob{What: what, Form: form, Season: season, USUnits: us, Now: now}, &b)
		require.NoError(t, err)
		files = append(files, inMemory(fmt.Sprintf("%s.%s", what, form), b.String()))
	}
	return files
}

// facts writes what holds in a season, without ids, revisions and times.
func facts(t *testing.T, st store.Store, season int) string {
	t.Helper()
	ctx := context.Background()
	var b bytes.Buffer
	blocks, err := st.Blocks(ctx)
	require.NoError(t, err)
	for _, blk := range blocks {
		g, _, rows, err := LoadGround(ctx, st, blk.ID)
		require.NoError(t, err)
		fmt.Fprintln(&b, blk.Code, blk.Name, blk.Variety, blk.Planted, blk.RowSpacingM, blk.VineSpacingM, blk.NumberingEnd, blk.System)
		for _, r := range rows {
			fmt.Fprintf(&b, "%s %d %.3f %v\n", r.Label, r.Ord, r.LengthM, r.SpacingM)
		}
		k := 0
		tags := map[vine.ID]store.Vine{}
		for v, err := range st.Vines(ctx, blk.ID) {
			require.NoError(t, err)
			tags[v.ID] = v
		}
		state := map[vine.ID]vine.State{}
		for vs, err := range st.States(ctx, blk.ID, season, 0) {
			require.NoError(t, err)
			state[vs.Vine] = vs.State
		}
		plan, err := st.PlanEntries(ctx, store.PlanPruning, season, blk.ID)
		require.NoError(t, err)
		entries := map[vine.ID]store.PlanEntry{}
		for _, e := range plan {
			entries[e.Vine] = e
		}
		for ; k < g.Len(); k++ {
			id := g.ID[k]
			v, s, e := tags[id], state[id], entries[id]
			fmt.Fprintf(&b, "%s %q %.2f %d %v %q %d", g.Address(k), v.Tag, v.ChainageM, v.Planted, s.Condition, s.Cause, s.Notes)
			for _, q := range []vine.Quantity{vine.VisualScore, vine.Yield, vine.PruningWeight} {
				if m, ok := s.Measures[q]; ok {
					fmt.Fprintf(&b, " %s=%.6f", q, m.Value)
				}
			}
			if s.Pruned != nil {
				fmt.Fprintf(&b, " pruned %s %v %q", s.PrunedAt.UTC().Format(time.DateOnly), leftOf(*s.Pruned), s.Pruned.Reason)
			}
			fmt.Fprintln(&b, s.Work, e.Nodes, e.Canes, e.Spurs)
		}
	}
	return b.String()
}

func TestExport_ReadBackIsTheSame(t *testing.T) {
	for _, form := range []Form{GeoJSON, Table} {
		for _, us := range []bool{false, true} {
			t.Run(fmt.Sprint(form, " us ", us), func(t *testing.T) {
				st := openGpkg(t)
				take(t, st, ImportJob{By: "Ada"}, base()...)
				notes := inMemory("notes.csv", "vine_id,note,yield_kg,prun_g\n1-1,\"=2+3\",1.5,320\n1-2,\"-weak left arm\",2.25,\n1-3,\"says \"\"no\"\", twice\",,410.5\n")
				take(t, st, ImportJob{Season: 2025}, notes)
				files := exported(t, st, form, 2025, us, clock)

				fresh := openGpkg(t)
				report := take(t, fresh, ImportJob{}, files...)
				require.Len(t, report.Notices, countForeign(report), "only that ids are of another store: %v", report.Notices)
				require.Equal(t, facts(t, st, 2025), facts(t, fresh, 2025))
				a, b := places(t, st), places(t, fresh)
				require.Len(t, b, len(a))
				for i := range a {
					require.True(t, samePoint(a[i], b[i]), "%v %v", a[i], b[i])
				}

				before := dump(t, st)
				report = take(t, st, ImportJob{}, files...)
				require.Empty(t, report.Notices)
				require.False(t, report.Changed(), "%+v", report)
				require.Equal(t, before, dump(t, st))
			})
		}
	}
}

// places gives where all vines stand.
func places(t *testing.T, st store.Store) (out []orb.Point) {
	t.Helper()
	blocks, err := st.Blocks(context.Background())
	require.NoError(t, err)
	for _, b := range blocks {
		for v, err := range st.Vines(context.Background(), b.ID) {
			require.NoError(t, err)
			out = append(out, v.Point)
		}
	}
	return out
}

func countForeign(r Report) int {
	n := 0
	for _, x := range r.Notices {
		if x.Field == "courson_id" {
			n++
		}
	}
	return n
}

// An old export taken in again must not undo what crews recorded since; a cell
// that was edited in it counts.
func TestExport_EditedAndImportedAgain(t *testing.T) {
	ctx := context.Background()
	st := openGpkg(t)
	take(t, st, ImportJob{}, base()...)
	later := func() time.Time { return clock().Add(time.Hour) }
	files := exported(t, st, Table, 2025, false, later)

	v, err := st.FindLabel(ctx, "B1/1/1")
	require.NoError(t, err)
	at := clock().Add(2 * time.Hour)
	answers, err := st.Append(ctx, []vine.Event{{ID: uuid.Must(uuid.NewV7()), Device: "phone", Seq: 1, At: at, Received: at, Season: 2025,
		Target: vine.Target{Block: v[0].Block, Row: v[0].Row, Vines: []vine.ID{v[0].ID}}, Kind: vine.KindCondition, Body: vine.Sighting{Condition: vine.Dead}}})
	require.NoError(t, err)
	require.Equal(t, store.Stored, answers[0].Result)

	latest := func() time.Time { return clock().Add(3 * time.Hour) }
	report := take(t, st, ImportJob{Now: latest}, files...)
	require.False(t, report.Changed(), "%+v", report)
	require.Equal(t, vine.Dead, stateOf(t, st, "B1/1/1", 2025).Condition)

	r, err := files[2].Open()
	require.NoError(t, err)
	text, err := io.ReadAll(r)
	require.NoError(t, err)
	edited := bytes.Replace(text, []byte(",1-2,"), []byte(",1-2-old,"), 1)
	lines := bytes.Split(edited, []byte("\r\n"))
	lines[3] = bytes.Replace(lines[3], []byte("bearing"), []byte("weak"), 1) // vine 1-3
	report = take(t, st, ImportJob{Now: latest}, inMemory("vines.csv", string(bytes.Join(lines, []byte("\r\n")))))
	require.Equal(t, 1, report.Vines.Changed)
	require.Equal(t, vine.Weak, stateOf(t, st, "B1/1/3", 2025).Condition)
	require.Equal(t, vine.Dead, stateOf(t, st, "B1/1/1", 2025).Condition, "the crew's word stands")
	found, err := st.FindLabel(ctx, "1-2")
	require.NoError(t, err)
	require.Len(t, found, 1, "the old tag is still found")
}

// stateOf gives the state of a vine by its address.
func stateOf(t *testing.T, st store.Store, address string, season int) vine.State {
	t.Helper()
	ctx := context.Background()
	v, err := st.FindLabel(ctx, address)
	require.NoError(t, err)
	require.Len(t, v, 1, address)
	for vs, err := range st.States(ctx, v[0].Block, season, 0) {
		require.NoError(t, err)
		if vs.Vine == v[0].ID {
			return vs.State
		}
	}
	return vine.State{}
}
