package layout_test

import (
	"math"
	"sort"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
)

// An invented survey between rows 1.80 m apart, of mixed quality; half a metre
// is less than half a row but about half a vine space.
func TestLocate_MixedFixes(t *testing.T) {
	rows := knownB1(t)
	points := []struct {
		id       string
		lat, lon float64
		errorM   float64
		quality  layout.Quality
		row, no  int // from 1
		same     int
		says     string
	}{
		{"s01", 45.210026240, 11.370062142, 0.014, layout.Clear, 3, 5, -1, ""},
		{"s02", 45.210058255, 11.370078763, 0.5, layout.Review, 3, 8, -1, "0.50 m from vine 8, 0.60 m from vine 9"},
		{"s03", 45.210080391, 11.370096934, 0.5, layout.Notice, 3, 11, -1, "0.50 m aside"},
		{"s04", 45.209995391, 11.370058856, 0.55, layout.Review, 4, 0, -1, "0.88 m from the one, 0.92 m from the other"},
		{"s05", 45.210122695, 11.370136462, 0.012, layout.Clear, 4, 16, -1, ""},
		{"s06", 45.210085228, 11.370126517, 2.6, layout.Poor, 0, 0, -1, "claimed error 2.60 m"},
		{"s07", 45.210187155, 11.370169518, 0.015, layout.Outside, 0, 0, -1, "2.10 m past the end"},
		{"s08", 45.210122979, 11.370136473, 0.011, layout.Clear, 4, 16, 4, ""},
	}
	var fixes []layout.Fix
	for _, p := range points {
		fixes = append(fixes, layout.Fix{Point: orb.Point{p.lon, p.lat}, ErrorM: p.errorM})
	}
	got, err := layout.Locate(rows, fixes, layout.Reach{RowM: 1.8, VineM: 1.1})
	require.NoError(t, err)
	for i, p := range points {
		v := got[i]
		require.Equal(t, p.quality.String(), v.Quality.String(), "%s: %+v", p.id, v)
		require.Contains(t, v.Reason, p.says, p.id)
		require.Equal(t, p.same, v.Same, "%s same", p.id)
		if p.row > 0 {
			require.Equal(t, p.row-1, v.Row, "%s row", p.id)
		}
		if p.no > 0 {
			require.Equal(t, p.no, v.Number, "%s vine", p.id)
		}
	}
	s4 := got[3]
	require.Equal(t, 2, s4.NextRow)
	near(t, "s04 to row 4", math.Abs(s4.OffsetM), 0.88, 0.005)
	near(t, "s04 to row 3", s4.NextOffsetM, 0.92, 0.005)
	s2 := got[1]
	require.Equal(t, 9, s2.NextNumber)
	near(t, "s02 along", s2.AlongM, 0.5, 0.005)
	near(t, "s02 to the next", s2.NextAlongM, -0.6, 0.005)
}

func TestLocate_StatedRowAndRoad(t *testing.T) {
	f := frameB1(t)
	rows := knownB1(t)
	laid, err := layout.Places(f, row4Cut, end(t, "S"), planted)
	require.NoError(t, err)
	rows[3] = layout.Known{Row: laid.Row, Places: laid.Places}
	on := func(row int, d float64) orb.Point {
		l := f.Line(rowsB1[row-1])
		at, _ := l.At(d)
		return f.LonLat(at)
	}
	for _, c := range []struct {
		name    string
		fix     layout.Fix
		quality layout.Quality
		row, no int
		says    string
	}{
		{"stated rightly", layout.Fix{Point: on(2, 2.2), Row: 2}, layout.Clear, 2, 3, ""},
		{"stated wrongly", layout.Fix{Point: on(2, 2.2), Row: 3}, layout.Review, 3, 0, "lies 1.80 m from it"},
		{"no such row", layout.Fix{Point: on(2, 2.2), Row: 99}, layout.Outside, 0, 0, "no row"},
		{"on the road", layout.Fix{Point: on(4, 9.8)}, layout.Outside, 4, 0, "on the road"},
		{"behind the road", layout.Fix{Point: on(4, 14.3)}, layout.Clear, 4, 11, ""},
		{"away from all", layout.Fix{Point: f.LonLat(frame.XY{X: 50, Y: 0})}, layout.Outside, 0, 0, "from the nearest row"},
		{"no numbers", layout.Fix{Point: orb.Point{math.NaN(), 45}}, layout.Outside, 0, 0, "longitude NaN"},
		{"error not a number", layout.Fix{Point: on(2, 2.2), ErrorM: math.NaN()}, layout.Poor, 2, 3, "claimed error"},
	} {
		got, err := layout.Locate(rows, []layout.Fix{c.fix}, layout.Reach{RowM: 1.8, VineM: 1.1})
		require.NoError(t, err, c.name)
		require.Equal(t, c.quality.String(), got[0].Quality.String(), "%s: %+v", c.name, got[0])
		require.Contains(t, got[0].Reason, c.says, c.name)
		if c.row > 0 {
			require.Equal(t, c.row-1, got[0].Row, c.name)
		}
		if c.no > 0 {
			require.Equal(t, c.no, got[0].Number, c.name)
		}
	}
	got, err := layout.Locate(nil, []layout.Fix{{Point: on(1, 1)}}, layout.Reach{RowM: 1.8, VineM: 1.1})
	require.NoError(t, err)
	require.Equal(t, layout.Outside, got[0].Quality)
	for _, r := range []layout.Reach{{VineM: 1}, {RowM: 1.8}, {RowM: math.Inf(1), VineM: 1}} {
		_, err = layout.Locate(rows, nil, r)
		require.ErrorIs(t, err, layout.ErrSpacing)
	}
	for _, tol := range []float64{0.9, -1, math.NaN(), 5} {
		_, err = layout.Locate(rows, nil, layout.Reach{RowM: 1.8, VineM: 1.1, ToleranceM: tol})
		require.ErrorIs(t, err, layout.ErrTolerance)
	}
}

// A point within the tolerance of the row it was drawn from, at a good fix, is
// never taken for another row, and never unseen for another place.
func TestLocate_NeverForced(t *testing.T) {
	rows := knownB1(t)
	rapid.Check(t, func(t *rapid.T) {
		row := rapid.IntRange(0, 7).Draw(t, "row")
		no := rapid.IntRange(0, 20).Draw(t, "vine")
		k := rows[row]
		p := k.Places[no]
		aside := rapid.Float64Range(-0.9, 0.9).Draw(t, "aside")
		along := rapid.Float64Range(-0.55, 0.55).Draw(t, "along")
		s, c := math.Sincos(p.AzimuthDeg * math.Pi / 180)
		at := frame.XY{X: p.At.X + along*s + aside*c, Y: p.At.Y + along*c - aside*s}
		got, err := layout.Locate(rows, []layout.Fix{{Point: k.Row.Frame.LonLat(at), ErrorM: rapid.Float64Range(0, 0.5).Draw(t, "error")}},
			layout.Reach{RowM: 1.8, VineM: 1.1})
		if err != nil {
			t.Fatal(err)
		}
		v := got[0]
		if v.Quality > layout.Notice {
			if v.Reason == "" {
				t.Fatal("doubt without a reason")
			}
			return
		}
		if v.Row != row || v.Number != no+1 {
			t.Fatalf("row %d vine %d, %.2f aside, %.2f along, was taken for row %d vine %d (%v)",
				row+1, no+1, aside, along, v.Row+1, v.Number, v.Quality)
		}
		if math.Abs(math.Abs(v.OffsetM)-math.Abs(aside)) > 2e-3 && v.BeyondM == 0 {
			t.Fatalf("offset %g, wanted %g", v.OffsetM, aside)
		}
	})
}

func TestStepOf(t *testing.T) {
	for _, c := range []struct {
		length, spacing float64
		missing         int
		residual        float64
		doubtful        bool
	}{
		{1.1, 1.1, 0, 0, false},
		{1.25, 1.1, 0, 0.15, false},
		{2.2, 1.1, 1, 0, false},
		{3.4, 1.1, 2, 0.1, false},
		{1.66, 1.1, 1, -0.54, true}, // half way: two numbers about as likely
		{1.45, 1.1, 0, 0.35, true},
		{0.6, 1.1, 0, -0.5, true}, // too short for two plants
		{11.2, 1.1, 9, 0.2, false},
	} {
		s := layout.StepOf(c.length, c.spacing)
		require.Equal(t, c.missing, s.Missing, "%+v", c)
		near(t, "residual", s.ResidualM, c.residual, 1e-9)
		require.Equal(t, c.doubtful, s.Doubtful, "%+v", c)
	}
}

// Strickland 1932: 31 positions 8 ft apart; leaving plants out and counting the
// steps gives back how many were left out. The planting distance is the
// published one, which plants are left out is drawn here.
func TestSteps_CountsWhatIsMissing(t *testing.T) {
	const spacing = 8 * frame.Foot
	rapid.Check(t, func(t *rapid.T) {
		var chainage []float64
		gone := 0
		for i := range 31 {
			if rapid.IntRange(0, 3).Draw(t, "plant") == 0 {
				gone++
				continue
			}
			wobble := rapid.Float64Range(-0.11, 0.11).Draw(t, "wobble") * spacing
			chainage = append(chainage, float64(i)*spacing+wobble)
		}
		if len(chainage) == 0 {
			return
		}
		length := 30 * spacing
		steps, err := layout.Steps(chainage, length, layout.Spacing{VineM: spacing}, true)
		if err != nil {
			t.Fatal(err)
		}
		if len(steps) != len(chainage)+1 {
			t.Fatalf("%d steps for %d plants", len(steps), len(chainage))
		}
		between, before := 0, steps[0].Missing
		for _, s := range steps[:len(steps)-1] {
			between += s.Missing
			if s.Doubtful {
				t.Fatalf("a plant within a tenth of its place is doubtful: %+v", s)
			}
		}
		first := int(math.Round(chainage[0] / spacing))
		last := int(math.Round(chainage[len(chainage)-1] / spacing))
		if before != first || between != gone-(30-last) {
			t.Fatalf("counted %d before and %d between, left out %d of which %d behind", before, between, gone, 30-last)
		}
	})
}

func TestSteps_Refuses(t *testing.T) {
	ok := layout.Spacing{VineM: 1.1}
	_, err := layout.Steps([]float64{0, 1}, 22, layout.Spacing{}, true)
	require.ErrorIs(t, err, layout.ErrSpacing)
	_, err = layout.Steps([]float64{2, 1}, 22, ok, true)
	require.ErrorIs(t, err, layout.ErrOrder)
	_, err = layout.Steps([]float64{0, math.NaN()}, 22, ok, true)
	require.ErrorIs(t, err, layout.ErrOrder)
	_, err = layout.Steps([]float64{0}, 1e9, ok, true)
	require.ErrorIs(t, err, layout.ErrTooMany)
	_, err = layout.Steps([]float64{0}, math.NaN(), ok, true)
	require.ErrorIs(t, err, layout.ErrTooMany)
	got, err := layout.Steps(nil, 22, ok, true)
	require.NoError(t, err)
	require.Empty(t, got)
}

func TestPlants_GapsKeepTheirNumbers(t *testing.T) {
	f := frameB1(t)
	r := mustRow(t, f, rowsB1[1], end(t, "S"))
	l := r.Parts[0]
	point := func(d, aside float64) orb.Point {
		at, az := l.At(d)
		s, c := math.Sincos(az * math.Pi / 180)
		return f.LonLat(frame.XY{X: at.X + aside*c, Y: at.Y - aside*s})
	}
	points := []orb.Point{
		point(6.6, 0.05), point(0, 0), point(1.15, -0.04), point(2.2, 0), // 5 (at 4.4) is missing
		point(3.3, 0), point(5.5, 0.02), point(5.52, 0), // the last two are one plant
		point(13.2, 0), // eight to eleven are missing
	}
	got, err := r.Plants(points, planted)
	require.NoError(t, err)
	require.Len(t, got.Places, 21)
	require.Equal(t, [][2]int{{5, 6}}, got.Doubles)
	var present, missing []int
	for i, p := range got.Places {
		require.Equal(t, i+1, p.Number)
		if p.Index < 0 {
			missing = append(missing, p.Number)
			near(t, "a gap's place", p.ChainageM, 1.1*float64(i), 0.06)
		} else {
			present = append(present, p.Number)
			require.Equal(t, points[p.Index], p.Point)
		}
	}
	require.Equal(t, []int{1, 2, 3, 4, 6, 7, 13}, present)
	require.Equal(t, []int{5, 8, 9, 10, 11, 12, 14, 15, 16, 17, 18, 19, 20, 21}, missing)
	require.Equal(t, 14, got.Missing())
	require.Equal(t, 14, layout.Missing(got.Steps))
	near(t, "aside", got.Places[1].OffsetM, -0.04, 1e-6)

	_, err = r.Plants(nil, planted)
	require.ErrorIs(t, err, layout.ErrOnePosition)
	_, err = r.Plants([]orb.Point{{math.NaN(), 1}}, planted)
	require.ErrorIs(t, err, frame.ErrLonLat)
	_, err = r.Plants(points, layout.Spacing{VineM: -1})
	require.ErrorIs(t, err, layout.ErrSpacing)
	_, err = r.Plants(points, layout.Spacing{VineM: 1e-4})
	require.ErrorIs(t, err, layout.ErrTooMany)
}

// Surveying a row as it is laid out gives the layout back, also across a road,
// also where plants are missing and a whole part is empty.
func TestPlants_SurveyOfALayout(t *testing.T) {
	f := frameB1(t)
	laid, err := layout.Places(f, row4Cut, end(t, "S"), planted)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var points []orb.Point
		var numbers []int
		emptySecond := rapid.Bool().Draw(t, "second part empty")
		for _, p := range laid.Places {
			if emptySecond && p.Part == 1 || rapid.IntRange(0, 4).Draw(t, "plant") == 0 {
				continue
			}
			points, numbers = append(points, p.Point), append(numbers, p.Number)
		}
		if len(points) == 0 {
			return
		}
		got, err := laid.Row.Plants(points, planted)
		if err != nil {
			t.Fatal(err)
		}
		if len(got.Places) != len(laid.Places) {
			t.Fatalf("%d places, laid out %d", len(got.Places), len(laid.Places))
		}
		var back []int
		for i, p := range got.Places {
			if d := frame.Dist(p.At, laid.Places[i].At); d > 2e-3 || p.Part != laid.Places[i].Part {
				t.Fatalf("place %d is %g m off", p.Number, d)
			}
			if p.Index >= 0 {
				back = append(back, numbers[p.Index])
				if numbers[p.Index] != p.Number {
					t.Fatalf("plant %d became %d", numbers[p.Index], p.Number)
				}
			}
		}
		if !sort.IntsAreSorted(back) || len(back) != len(numbers) {
			t.Fatalf("numbers %v of %v", back, numbers)
		}
	})
}

func FuzzPlants(f *testing.F) {
	f.Add(11.37, 45.21, 11.3701, 45.2102, 1.1, 0.0)
	f.Add(11.37, 45.21, 11.37, 45.21, 0.01, 3.0)
	f.Add(math.Inf(1), 0.0, 0.0, 0.0, 1e-300, 0.0)
	f.Fuzz(func(t *testing.T, x1, y1, x2, y2, spacing, start float64) {
		fr, err := frame.ForGeometry(blockB1)
		if err != nil {
			t.Fatal(err)
		}
		r, err := layout.NewRow(fr, row4Cut, layout.AsDrawn)
		if err != nil {
			t.Fatal(err)
		}
		s := layout.Spacing{VineM: spacing, StartM: start, EndM: start, BreakM: start}
		got, err := r.Plants([]orb.Point{{x1, y1}, {x2, y2}, {x1, y1}}, s)
		if err == nil {
			for i, p := range got.Places {
				if p.Number != i+1 || math.IsNaN(p.ChainageM+p.OffsetM+p.Point[0]+p.Point[1]) {
					t.Fatalf("%+v", p)
				}
			}
		}
		v, err := layout.Locate([]layout.Known{{Row: r}}, []layout.Fix{{Point: orb.Point{x1, y1}, ErrorM: x2}},
			layout.Reach{RowM: 1.8, VineM: spacing})
		if err == nil && v[0].Quality > layout.Outside {
			t.Fatal("no quality")
		}
	})
}

// A survey of 5,000 plants in a block of 100 rows.
func BenchmarkLocate_5000Fixes100Rows(b *testing.B) {
	f := frame.New(orb.Point{145.32, -37.73})
	var rows []layout.Known
	var fixes []layout.Fix
	for i := range 100 {
		x := float64(i) * 2.5
		laid, err := layout.Places(f, orb.LineString{f.LonLat(frame.XY{X: x}), f.LonLat(frame.XY{X: x + 8, Y: 75})},
			layout.AsDrawn, layout.Spacing{VineM: 1.5})
		if err != nil {
			b.Fatal(err)
		}
		rows = append(rows, layout.Known{Row: laid.Row, Places: laid.Places})
		for _, p := range laid.Places[:50] {
			fixes = append(fixes, layout.Fix{Point: p.Point, ErrorM: 0.02})
		}
	}
	for b.Loop() {
		got, err := layout.Locate(rows, fixes, layout.Reach{RowM: 2.5, VineM: 1.5})
		if err != nil || got[4999].Quality != layout.Clear {
			b.Fatal(err, got[4999])
		}
	}
}

// A point on the row's line but more than half a planting distance beyond its last
// place stands for no place.
func TestLocate_BeyondTheLastPlace(t *testing.T) {
	f := frameB1(t)
	laid, err := layout.Places(f, rowsB1[0], end(t, "S"), layout.Spacing{VineM: 1.1, StartM: 2})
	require.NoError(t, err)
	l := laid.Row.Parts[0]
	for d, quality := range map[float64]layout.Quality{0.9: layout.Outside, 1.3: layout.Outside, 1.9: layout.Clear, 2.4: layout.Notice} {
		at, _ := l.At(d)
		got, err := layout.Locate([]layout.Known{{Row: laid.Row, Places: laid.Places}}, []layout.Fix{{Point: f.LonLat(at)}}, layout.Reach{RowM: 1.8, VineM: 1.1})
		require.NoError(t, err)
		require.Equal(t, quality.String(), got[0].Quality.String(), "%v m: %+v", d, got[0])
	}
}
