package replant

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/vine"
)

func TestCovered(t *testing.T) {
	row := func(text string) []bool { // x a point, . none
		out := make([]bool, len(text))
		for i, c := range text {
			out[i] = c == 'x'
		}
		return out
	}
	for _, c := range []struct {
		name, row string
		whole     bool
		want      []Span
	}{
		{"every place", "xxxxxxxx", false, []Span{{0, 8}}},
		{"gaps at both ends", "..xxxx.x.", false, []Span{{0, 9}}},
		{"no point", "........", true, nil},
		{"begun and left", "xxxxxxxx............", false, []Span{{0, 8}}},
		{"two stretches", "xxxx............xxxx", false, []Span{{0, 4}, {16, 20}}},
		{"the same, walked whole", "xxxx............xxxx", true, []Span{{0, 20}}},
		{"a few for reference", "x....x....x....x....x", false, nil},
		{"half of them", "x.x.x.x.x.", false, []Span{{0, 10}}},
		{"one point alone", "............x............", false, []Span{{12, 13}}},
	} {
		require.Equal(t, c.want, Covered(row(c.row), c.whole), c.name)
	}
}

// Modified z-scores (Iglewicz B., Hoaglin D., How to Detect and Handle Outliers,
// ASQC, 1993, from memory), worked out by hand: in a row whose differences are 0
// and ±0.01 in equal shares, median 0 and median absolute deviation 0.01, a value
// 0.4 lower has -0.6745 × 0.4 / 0.01 = -27.
func TestThinPlaces(t *testing.T) {
	s := plotStand(t, 3, 40, 2027, 2010)
	values := make([]float64, s.Ground.Len())
	fill := func(f func(row, k int) float64) {
		for i := range values {
			values[i] = f(i/40, i%40)
		}
	}
	wobble := []float64{0, 0.01, -0.01}
	even := func(_, k int) float64 { return 0.6 + wobble[k%3] }
	places := func() (out []int32) {
		for _, th := range ThinPlaces(s.Ground, values, 0.5) {
			out = append(out, th.Vine)
		}
		return out
	}
	fill(even)
	require.Empty(t, places(), "an even block has none")
	values[50], values[51] = 0.2, 0.2
	got := ThinPlaces(s.Ground, values, 0.5)
	require.Len(t, got, 2)
	require.Equal(t, float32(1), got[0].Score)
	require.InDelta(t, 0.6, got[0].Around, 0.011)
	require.Equal(t, "0.2, where the places beside it have 0.6", got[0].Rests())
	// -0.6745 × 0.06 / 0.01 = -4.05 gives a score of 4.05 / 7; a fifth lower it must be too.
	fill(func(row, k int) float64 { return (even(row, k) - 0.6) + 0.25 })
	values[50] = 0.25 - 0.06
	require.Equal(t, []int32{50}, places())
	require.Empty(t, ThinPlaces(s.Ground, values, 0.6), "the threshold is set higher")
	values[50] = 0.25 - 0.051
	require.Empty(t, ThinPlaces(s.Ground, values, 0.5), "3.44 deviations")
	require.Len(t, ThinPlaces(s.Ground, values, 0.45), 1, "the threshold is set lower")
	fill(even)
	values[50], values[51] = 0.55, math.NaN()
	require.Empty(t, places(), "far out of the wobble, but no fifth lower")
	fill(func(row, k int) float64 {
		if row == 1 && k >= 20 {
			return even(row, k) - 0.3
		}
		return even(row, k)
	})
	require.Empty(t, places(), "neither weak ground nor its edge")
	fill(func(int, int) float64 { return 0.6 })
	require.Empty(t, places(), "no spread at all")
	values[7] = 0.3
	require.Equal(t, []int32{7}, places(), "by the mean deviation, where the median one is 0")
	for i := range values {
		values[i] = math.NaN()
	}
	require.Empty(t, places())
}

// What each source said stands side by side, each with its day and its word.
func TestFindings_Said(t *testing.T) {
	e := surveyOf(jan(9), Trunk{Vine: -1, Next: 0, Fit: FitPoor})
	e.Places = 3
	e.Sightings = []Sighting{saw(jan(2), "Ana", vine.Bearing), saw(jan(5), "Ben", vine.Dead)}
	e.Records = []Record{{0, jan(1), Planted}}
	e.Detections = []Detection{{0, jan(7), 0.6, "flight", ""}, {0, jan(8), 0.9, "flight", ""}}
	f := judge(t, &e)
	require.Equal(t, []Said{
		{Source: FromCrews, Day: jan(5), By: "Ben", Text: "seen dead standing", State: Doubtful},
		{Source: FromRecords, Day: jan(1), Text: "planted", State: Living},
		{Source: FromSurveys, Day: jan(9), By: "winter", Text: "no sure trunk, a doubtful point (poor)", State: Suspected},
		{Source: FromDetections, Day: jan(8), By: "flight", Text: "score 0.90", Score: 0.9, State: Suspected},
	}, f.Said(0))
	require.Equal(t, "a trunk 0.00 m along and 0.00 m aside of the place (clear)", f.Said(1)[0].Text)
	require.Empty(t, f.Said(2))
	rough := roughSurvey(jan(9), 0.4)
	rough.Places = 2
	require.Equal(t, "no trunk, among points that are not good enough to tell", judge(t, &rough).Said(0)[0].Text)
	for k := range Source(Sources) {
		text, err := k.MarshalText()
		require.NoError(t, err)
		var back Source
		require.NoError(t, back.UnmarshalText(text))
		require.Equal(t, k, back)
	}
}

// Sort, batch and grade follow a place from the order to the plant and begin anew
// with it.
func TestPlace_Sort(t *testing.T) {
	red := Sort{Cultivar: "red", Clone: "181", Rootstock: "3309C"}
	places, refused := Follow([]Move{
		{Vine: 1, To: ToReplace, Day: jan(1), Note: "frost"}, {Vine: 1, To: Ordered, Day: jan(2), Batch: "N-4", Grade: "first", Sort: red},
		{Vine: 1, To: HoleDug, Day: jan(3)}, {Vine: 1, To: PlantIn, Day: jan(4)},
	})
	require.Empty(t, refused)
	require.Equal(t, []any{red, "N-4", "first"}, []any{places[0].Sort, places[0].Batch, places[0].Grade})
	listed, ok := places[0].Last(ToReplace)
	require.True(t, ok)
	require.Equal(t, "frost", listed.Note)
	again, err := places[0].Go(Move{Vine: 1, To: Failed, Day: jan(5)})
	require.NoError(t, err)
	again, err = again.Go(Move{Vine: 1, To: ToReplace, Day: jan(6)})
	require.NoError(t, err)
	require.Equal(t, Sort{}, again.Sort)
	_, ok = again.Last(PlantIn)
	require.False(t, ok, "that was the way before")
}
