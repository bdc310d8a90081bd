package layout_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/frame"
	"courson/geo/layout"
)

// simulated are rows 1.80 m apart with vines 1.10 m apart, straight, bent or cut by
// a road, bearing 30°, and a survey of every vine whose error each way is normal.
func simulated(t testing.TB, rows, vines int, errorM float64, bend, road bool) (known []layout.Known, fixes []layout.Fix, truth [][2]int) {
	t.Helper()
	f := frame.New(orb.Point{11.37, 45.21})
	rnd := rand.New(rand.NewPCG(5, uint64(1000*errorM)))
	sin, cos := math.Sincos(30 * math.Pi / 180)
	at := func(along, aside float64) orb.Point {
		if bend {
			aside += 12 * math.Sin(along/40) // of a terrace
		}
		return f.LonLat(frame.XY{X: along*sin + aside*cos, Y: along*cos - aside*sin})
	}
	long := float64(vines-1) * 1.1
	for r := range rows {
		var line orb.LineString
		for k := range 41 {
			line = append(line, at(long*float64(k)/40, 1.8*float64(r)))
		}
		var g orb.Geometry = line
		if road {
			g = orb.MultiLineString{line[:17], line[19:]}
		}
		laid, err := layout.Places(f, g, layout.AsDrawn, layout.Spacing{VineM: 1.1})
		require.NoError(t, err)
		known = append(known, layout.Known{Row: laid.Row, Places: laid.Places})
		for _, p := range laid.Places {
			e := frame.XY{X: p.At.X + errorM*rnd.NormFloat64(), Y: p.At.Y + errorM*rnd.NormFloat64()}
			fixes, truth = append(fixes, layout.Fix{Point: f.LonLat(e), ErrorM: errorM}), append(truth, [2]int{r, p.Number})
		}
	}
	return known, fixes, truth
}

// within is the share of a normal error that stays within d, both ways.
func within(d, sd float64) float64 { return math.Erf(d / sd / math.Sqrt2) }

// Surveys of 10,000 vines with errors of 0.02, 0.3 and 0.5 m. Of the points said to
// be sure fewer than 1 in 1,000 are wrong; points with notice are right as often
// as the normal distribution says: those that stay further than half their error
// from the middle between two places (0.55 m) and two rows (0.90 m).
func TestLocate_Shares(t *testing.T) {
	for _, c := range []struct {
		name       string
		errorM     float64
		bend, road bool
		sure       float64 // share of points, least
	}{
		{"a receiver with a fixed solution", 0.02, false, false, 0.999},
		{"the same on terraces", 0.02, true, false, 0.995},
		{"the same where a road cuts the rows", 0.02, false, true, 0.999},
		{"0.3 m", 0.3, false, false, 0},
		{"0.3 m on terraces", 0.3, true, false, 0},
		{"0.5 m", 0.5, false, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			known, fixes, truth := simulated(t, 50, 200, c.errorM, c.bend, c.road)
			got, err := layout.Locate(known, fixes, layout.Reach{RowM: 1.8, VineM: 1.1})
			require.NoError(t, err)
			var of, right [layout.Outside + 1]float64
			for i, v := range got {
				of[v.Quality]++
				if v.Row == truth[i][0] && v.Number == truth[i][1] {
					right[v.Quality]++
				}
			}
			n := float64(len(fixes))
			t.Logf("of %.0f points: sure %.1f %% (right %.2f %% of them), with notice %.1f %% (right %.1f %%), for a person %.1f %%, outside %.1f %%", n,
				100*of[layout.Clear]/n, 100*right[layout.Clear]/max(1, of[layout.Clear]), 100*of[layout.Notice]/n, 100*right[layout.Notice]/max(1, of[layout.Notice]), 100*(of[layout.Review]+of[layout.Poor])/n, 100*of[layout.Outside]/n)
			require.GreaterOrEqual(t, of[layout.Clear], c.sure*n)
			require.LessOrEqual(t, of[layout.Clear]-right[layout.Clear], 0.001*of[layout.Clear], "wrong among those said to be sure")
			if c.errorM < 0.1 {
				return
			}
			margin := max(0.11, c.errorM/2)
			places, between := 0.55-margin, min(0.72, 0.9-max(0.18, c.errorM/2))
			want := within(places, c.errorM) * within(between, c.errorM)
			require.InDelta(t, want, right[layout.Notice]/n, 0.015, "taken, and right")
		})
	}
}

// The band of a row never lets a nearer row be passed over: points anywhere, rows
// straight and bent, found in any order, give what a look at every row gives.
func TestLocate_EveryRowLookedAt(t *testing.T) {
	known, _, _ := simulated(t, 30, 60, 0, true, false)
	rnd := rand.New(rand.NewPCG(1, 9))
	f := known[0].Row.Frame
	var fixes []layout.Fix
	for range 2000 {
		fixes = append(fixes, layout.Fix{Point: f.LonLat(frame.XY{X: 120*rnd.Float64() - 20, Y: 120*rnd.Float64() - 60})})
	}
	got, err := layout.Locate(known, fixes, layout.Reach{RowM: 1.8, VineM: 1.1})
	require.NoError(t, err)
	for i, v := range got {
		p := f.XY(fixes[i].Point)
		best, next, row := math.Inf(1), math.Inf(1), -1
		for r, k := range known {
			switch d := k.Row.Nearest(p).Dist; {
			case d < best:
				best, next, row = d, best, r
			case d < next:
				next = d
			}
		}
		require.Equal(t, row, v.Row)
		require.InDelta(t, next, v.NextOffsetM, 1e-9)
	}
}

// A million points in 400 rows; 10 s are allowed.
func BenchmarkLocate_MillionFixes400Rows(b *testing.B) {
	known, some, _ := simulated(b, 400, 250, 0.02, false, false)
	var fixes []layout.Fix
	for range 10 {
		fixes = append(fixes, some...)
	}
	for b.Loop() {
		got, err := layout.Locate(known, fixes, layout.Reach{RowM: 1.8, VineM: 1.1})
		if err != nil || got[len(got)-1].Quality > layout.Notice {
			b.Fatal(err, got[len(got)-1])
		}
	}
}
