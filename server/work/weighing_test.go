package work

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vigour"
	"courson/geo/vine"
	"courson/store"
)

func weighing(t testing.TB, st store.Store, job WeighingJob) *Weighing {
	t.Helper()
	blocks, err := BlocksOf(context.Background(), st, []string{"B1"})
	require.NoError(t, err)
	g, _, err := GroundOf(context.Background(), st, blocks[0])
	require.NoError(t, err)
	w, err := PlanWeighing(context.Background(), st, g, job)
	require.NoError(t, err)
	return w
}

func addresses(w *Weighing) (out []string) {
	for _, s := range w.Stops {
		out = append(out, s.Address)
	}
	return out
}

// (t · CV / E)² with t 2, CV 25 % and E 10 % is 25 (W. G. Cochran, Sampling
// Techniques, 1977, section 4.4, from memory); of few vines fewer do.
func TestPlanWeighing(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		w := weighing(t, st, WeighingJob{Season: 2025})
		n := float64(w.Qualified)
		require.Equal(t, 0.25, w.CV)
		require.InDelta(t, 25/(1+25/n), float64(w.Wanted), 1)
		require.Len(t, w.Stops, w.Wanted)
		require.LessOrEqual(t, w.Reached, 0.1)
		require.Equal(t, "visual score of season 2025", w.RangeFrom, "scores tell the range where nothing was weighed")
		require.Greater(t, w.Layers, 1)
		require.Equal(t, 168, w.Qualified+w.Passed.NotLiving+w.Passed.Doubtful+w.Passed.Replants+w.Passed.AtEnds+w.Passed.BesideGap)

		s := standOf(t, st, "B1", 2025)
		for _, stop := range w.Stops {
			i, ok := s.Ground.IndexOf(stop.ID)
			require.True(t, ok)
			require.True(t, s.Condition[i].Living(), stop.Address)
			require.True(t, stop.Number > 2 && stop.Number < 20, "%s stands at a row's end", stop.Address)
			require.NotEqual(t, "B1/3/17", stop.Address, "a replant")
			require.Equal(t, stop.Row+"-"+itoa(int64(stop.Number)), stop.Tag)
		}
		require.Equal(t, addresses(w), addresses(weighing(t, st, WeighingJob{Season: 2025})), "the same vines when asked again")
		require.NotEqual(t, addresses(w), addresses(weighing(t, st, WeighingJob{Season: 2025, Seed: 7})))
		require.Len(t, weighing(t, st, WeighingJob{Season: 2025, Number: 40}).Stops, 40)
	})
}

// Rows are walked up and down by turns: the base scene numbers all from one end.
func TestPlanWeighing_WalksUpAndDown(t *testing.T) {
	w := weighing(t, based(t, openGpkg), WeighingJob{Season: 2025, Number: 60})
	up, row := true, ""
	for k, s := range w.Stops {
		if s.Row != row {
			require.Less(t, row, s.Row)
			up, row = row == "" || !up, s.Row
			continue
		}
		require.Equal(t, up, s.Number > w.Stops[k-1].Number, s.Address)
	}
	require.Equal(t, "8", row)
}

func TestWalkingOrder_NumberedFromAlternateEnds(t *testing.T) {
	// Three rows of three vines, 2 m apart; the middle one is numbered from the far end.
	g := &stand.Ground{X: []float32{0, 0, 0, 2, 2, 2, 4, 4, 4}, Y: []float32{0, 1, 2, 2, 1, 0, 0, 1, 2}, Row: []int32{0, 0, 0, 1, 1, 1, 2, 2, 2},
		Rows: []stand.Row{{First: 0, Count: 3}, {First: 3, Count: 3}, {First: 6, Count: 3}}}
	require.Equal(t, []int{0, 2, 3, 4, 6, 7}, walkingOrder(g, []int{7, 6, 4, 3, 2, 0}))
	require.Empty(t, walkingOrder(g, nil))
}

// A sheet is filled in, imported, and asked for again in the next winter.
func TestPlanWeighing_Again(t *testing.T) {
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		st := based(t, open)
		first := weighing(t, st, WeighingJob{Season: 2025, Number: 24})
		var sheet strings.Builder
		require.NoError(t, WriteWeighing(&sheet, Table, false, []*Weighing{first}))
		lines, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(sheet.String(), "\ufeff"))).ReadAll()
		require.NoError(t, err)
		require.Len(t, lines, 25)
		weight, canes := slices.Index(lines[0], "pruning_weight_g"), slices.Index(lines[0], "cane_count")
		for k, l := range lines[1:] {
			l[weight], l[canes] = itoa(int64(300+10*k)), "10"
		}
		var filled strings.Builder
		require.NoError(t, csv.NewWriter(&filled).WriteAll(lines))
		report := take(t, st, ImportJob{As: Measures}, inMemory("weighed.csv", filled.String()))
		require.Empty(t, report.Notices, "every column of our own sheet is understood")
		require.Equal(t, []Records{{What: "cane_count", Made: 24}, {What: "pruning_weight", Made: 24}}, report.Records)

		next := weighing(t, st, WeighingJob{Season: 2026, Number: 24, Again: true})
		require.Equal(t, addresses(first), addresses(next))
		require.Equal(t, 2025, next.Again)
		require.Equal(t, 24, next.Kept)
		require.Equal(t, "weighed in 2025", next.Stops[0].Why)
		require.Equal(t, "vigour of season 2025", next.RangeFrom)
		require.Equal(t, "24 vines weighed for season 2025", next.CVFrom)

		gone := next.Stops[3]
		take(t, st, ImportJob{As: Measures, Season: 2026}, inMemory("gone.csv", "address,status\n"+gone.Address+",missing\n"))
		after := weighing(t, st, WeighingJob{Season: 2026, Number: 24, Again: true})
		require.Len(t, after.Stops, 24)
		require.NotContains(t, addresses(after), gone.Address)
		require.GreaterOrEqual(t, after.Lost, 1)
		require.Contains(t, strings.Join(after.Notes, " "), "others stand in for them")

		anew := weighing(t, st, WeighingJob{Season: 2025, Number: 24, Again: true})
		require.Zero(t, anew.Again)
		require.Contains(t, strings.Join(anew.Notes, " "), "No vine was weighed in the seasons before")
	})
}

func TestPlanWeighing_Refused(t *testing.T) {
	st := openGpkg(t)
	files := base()
	take(t, st, ImportJob{Season: 2025}, files[1], files[2])
	blocks, err := st.Blocks(context.Background())
	require.NoError(t, err)
	g, _, err := GroundOf(context.Background(), st, blocks[0])
	require.NoError(t, err)
	_, err = PlanWeighing(context.Background(), st, g, WeighingJob{Season: 2025, Number: -1})
	require.ErrorIs(t, err, vigour.ErrBadOption)
	var all []string
	for i := range g.ID {
		all = append(all, g.Address(i).String()+",dead")
	}
	take(t, st, ImportJob{As: Measures, Season: 2025}, inMemory("dead.csv", "address,status\n"+strings.Join(all, "\n")+"\n"))
	_, err = PlanWeighing(context.Background(), st, g, WeighingJob{Season: 2025})
	require.ErrorIs(t, err, vigour.ErrNoVines)
	require.ErrorContains(t, err, "168 have no living vine")
	_, err = BlocksOf(context.Background(), st, []string{"B9"})
	require.ErrorIs(t, err, store.ErrNotFound)
}

func TestWriteWeighing_GeoJSON(t *testing.T) {
	w := weighing(t, based(t, openGpkg), WeighingJob{Season: 2025, Number: 5})
	var text strings.Builder
	require.NoError(t, WriteWeighing(&text, GeoJSON, false, []*Weighing{w}))
	var read struct {
		Features []struct {
			Geometry   struct{ Coordinates [2]float64 }
			Properties struct {
				ID      vine.ID `json:"courson_id"`
				Walk    int
				Address string
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(text.String()), &read))
	require.Len(t, read.Features, 5)
	for k, f := range read.Features {
		require.Equal(t, k+1, f.Properties.Walk)
		require.Equal(t, w.Stops[k].Address, f.Properties.Address)
		require.InDelta(t, w.Stops[k].Lon, f.Geometry.Coordinates[0], 1e-7)
	}
}
