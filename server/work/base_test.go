package work

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/vine"
	"courson/store"
)

// The figures of the base scene are those of its README.
func TestImport_Base(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		report := take(t, st, ImportJob{By: "Ada"}, base()...)
		require.Empty(t, report.Notices)
		require.Equal(t, 2025, report.Season)
		require.Equal(t, Count{Read: 1, Made: 1}, report.Blocks)
		require.Equal(t, Count{Read: 8, Made: 8}, report.Rows)
		require.Equal(t, Count{Read: 168, Made: 168}, report.Vines)
		require.Equal(t, 1500, report.PlanNodes)

		blocks, err := st.Blocks(ctx)
		require.NoError(t, err)
		require.Len(t, blocks, 1)
		b := blocks[0]
		require.InDelta(t, 360.0, frame.WGS84.MultiPolygonArea(b.Outline), 0.5)
		require.Equal(t, "invented red", b.Variety)
		require.Equal(t, 2021, b.Planted)
		require.Equal(t, 1.8, b.RowSpacingM)
		require.Equal(t, 1.1, b.VineSpacingM)
		require.Equal(t, "S", b.NumberingEnd)

		g, _, rows, err := LoadGround(ctx, st, b.ID)
		require.NoError(t, err)
		require.Len(t, rows, 8)
		for i, r := range rows {
			require.Equal(t, i+1, r.Ord)
			require.InDelta(t, 22.00, r.LengthM, 0.01)
			require.Equal(t, 21, g.Rows[i].Count)
		}
		require.Equal(t, 168, g.Len())

		s, err := LoadStand(ctx, st, g, 2025)
		require.NoError(t, err)
		condition := map[vine.Condition]int{}
		pruned, nodes := 0, 0
		for i := range g.Len() {
			condition[s.Condition[i]]++
			if s.Progress[i] == vine.Done {
				pruned++
			}
			if s.Nodes[i] != 255 {
				nodes += int(s.Nodes[i])
			}
		}
		require.Equal(t, map[vine.Condition]int{vine.Bearing: 162, vine.Missing: 4, vine.Dead: 1, vine.Replanted: 1}, condition)
		require.Equal(t, 83, pruned)
		require.Equal(t, 1500, nodes)

		found, err := st.FindLabel(ctx, "3-17")
		require.NoError(t, err)
		require.Len(t, found, 1)
		require.Equal(t, 17, found[0].Number)
	})
}

func TestImport_AgainChangesNothing(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := open(t)
		take(t, st, ImportJob{By: "Ada"}, base()...)
		before := dump(t, st)
		report := take(t, st, ImportJob{By: "Bo"}, base()...)
		require.False(t, report.Changed())
		require.Empty(t, report.Notices)
		require.Equal(t, Count{Read: 168, Unchanged: 168}, report.Vines)
		require.Equal(t, Count{Read: 8, Unchanged: 8}, report.Rows)
		require.Equal(t, Count{Read: 1, Unchanged: 1}, report.Blocks)
		require.Equal(t, before, dump(t, st))

		for _, f := range base() { // also one at a time
			report = take(t, st, ImportJob{Season: 2025}, f)
			require.False(t, report.Changed(), f.Name)
		}
		require.Equal(t, before, dump(t, st))
	})
}

func TestImport_DryRun(t *testing.T) {
	st := openGpkg(t)
	before := dump(t, st)
	report := take(t, st, ImportJob{DryRun: true}, base()...)
	require.True(t, report.DryRun)
	require.Equal(t, Count{Read: 168, Made: 168}, report.Vines)
	require.Equal(t, 1500, report.PlanNodes)
	require.Equal(t, before, dump(t, st))
}
