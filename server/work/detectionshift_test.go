package work

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/replant"
	"courson/geo/stand"
)

// suspicions writes detections of some places, moved by east and north.
func suspicions(g *stand.Ground, at func(i int) bool, east, north float64, more func(i int) string) string {
	f := frame.New(orb.Point(g.Origin))
	var b strings.Builder
	b.WriteString("lat,lon,score,block,row,vine\n")
	for i := range g.Len() {
		if at(i) {
			p := f.Inverse(float64(g.X[i])+east, float64(g.Y[i])+north)
			fmt.Fprintf(&b, "%.10f,%.10f,0.8,%s\n", p[1], p[0], more(i))
		}
	}
	return b.String()
}

// Images that lie a row or a vine beside the ground would suspect living vines: the
// shift of the whole file is told and asked about, as for a survey, and never
// applied unasked. The places of the block are those of TestSurvey_Shift.
func TestDetections_Shift(t *testing.T) {
	none := func(int) string { return ",," }
	rowE, rowN := 1.8*math.Cos(20*math.Pi/180), -1.8*math.Sin(20*math.Pi/180)
	for _, c := range []struct {
		name        string
		at          func(i int) bool
		more        func(g *stand.Ground) func(i int) string
		east, north float64
		shifted     bool
	}{
		{"a score for every place, one row", func(int) bool { return true }, nil, rowE, rowN, true},
		{"a score for every place, none", func(int) bool { return true }, nil, 0.05, 0.05, false},
		{"a third of the places, one row", func(i int) bool { return i%3 == 0 }, nil, rowE, rowN, true},
		{"a third of the places, none", func(i int) bool { return i%3 == 0 }, nil, 0, 0, false},
		{"a few places: nothing can be told", func(i int) bool { return i%25 == 0 }, nil, rowE, rowN, false},
		{"some places named", func(i int) bool { return i%5 == 0 }, func(g *stand.Ground) func(i int) string {
			return func(i int) string {
				if i%10 != 0 {
					return ",,"
				}
				return strings.ReplaceAll(g.Address(i).String(), "/", ",")
			}
		}, rowE, rowN, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := openGpkg(t)
			take(t, st, ImportJob{}, base()...)
			g, more := groundOf(t, st), none
			if c.more != nil {
				more = c.more(g)
			}
			file := inMemory("flight.csv", suspicions(g, c.at, c.east, c.north, more))
			job := detectionJob("2026-11-21")
			if !c.shifted {
				require.Nil(t, take(t, st, job, file).Points.Shift)
				return
			}
			report := refuse(t, st, job, file)
			require.Contains(t, texts(report), "shifted")
			require.InDelta(t, c.east, report.Points.Shift.EastM, 0.02)
			require.InDelta(t, c.north, report.Points.Shift.NorthM, 0.02)
			require.False(t, report.Points.Shift.TakenOff)
			job.Shift = ShiftTakeOff
			report = take(t, st, job, file)
			require.True(t, report.Points.Shift.TakenOff)
			require.Equal(t, report.Points.Read, report.Points.Sure)
			kept, err := KeptEvidence(context.Background(), st, block0(t, st).ID)
			require.NoError(t, err)
			require.InDelta(t, c.east, kept[0].EastM, 0.02, "what was taken off is kept beside the points")
			f := replantsFor(t, st, 2027).Findings
			for i := range g.Len() {
				shown := slices.ContainsFunc(f.Said(i), func(s replant.Said) bool { return s.Source == replant.FromDetections })
				require.Equal(t, c.at(i), shown, "place %d", i)
			}
		})
	}
}
