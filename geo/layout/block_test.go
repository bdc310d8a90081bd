package layout_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/frame"
	"courson/geo/layout"
)

// Handbook tables of vines per acre. 8 x 4 ft: 1,361, 10 x 6 ft: 726 (How many
// grape vines per acre, biologyinsights.com; British Columbia best practices
// guide for grapes, Crop estimation). 12 x 8 ft: 454 (an estate's timeline
// page). 9 x 6 ft: 807 (I. Dami, How to estimate grape yields, Ohio State
// University). 10 x 7 ft: 622 (C. Carpio, C. Safley, Estimated costs, NC State
// University). The rest follow from the area of the cell.
func TestVinesPerAcre_Handbooks(t *testing.T) {
	for _, c := range []struct {
		row, vine      float64
		perAcre, perHa float64
		printed        float64
	}{
		{8, 4, 1361.25, 3363.7, 1361},
		{10, 6, 726, 1794.0, 726},
		{12, 8, 453.75, 1121.2, 454},
		{9, 6, 806.67, 1993.3, 807},
		{10, 7, 622.29, 1537.7, 622},
		{8, 5, 1089, 2691.0, 0},
		{8, 6, 907.5, 2242.5, 0},
		{10, 8, 544.5, 1345.5, 0},
	} {
		got := layout.VinesPerAcre(c.row, c.vine)
		near(t, "per acre", got, c.perAcre, 0.005)
		near(t, "per hectare", layout.VinesPerHectare(c.row*frame.Foot, c.vine*frame.Foot), c.perHa, 0.06)
		if c.printed > 0 {
			require.Equal(t, c.printed, math.Round(got))
		}
	}
}

// 2.0 x 0.9 m: Chiffrez avant de replanter, Chambres d'agriculture du Vignoble
// champenois, 2024 (spacing; the number is derived). 2.80 x 1.20 m on 250 m²,
// 74.40, order 75: How many vine plants can fit on my land, godlywine.com.
func TestVinesPerHectare(t *testing.T) {
	near(t, "2.0 x 0.9", layout.VinesPerHectare(2, 0.9), 5555.6, 0.06)
	near(t, "2.4 x 1.8", layout.VinesPerHectare(2.4, 1.8), 2314.8, 0.06)
	near(t, "2.8 x 1.2", layout.VinesPerHectare(2.8, 1.2), 2976.2, 0.06)
	near(t, "2.0 x 1.0", layout.VinesPerHectare(2, 1), 5000, 1e-9)
	near(t, "250 m²", 250/(2.8*1.2), 74.40, 0.006)
	require.Equal(t, 75, layout.PlantsToOrder(250, 2.8, 1.2))
	require.Equal(t, 5000, layout.PlantsToOrder(10000, 2, 1))
	near(t, "row metres", layout.RowMetresPerHectare(2.44), 4098, 0.5)

	// A trap: the British Columbia guide works with 1.22 m x 2.45 m, takes the
	// cell for 2.94 to 2.95 m² and prints 3,364 vines per hectare. The cell is
	// 2.989 m², and 3,364 belongs to exactly 4 x 8 ft.
	near(t, "1.22 x 2.45", layout.VinesPerHectare(2.45, 1.22), 3345.6, 0.06)
	require.NotEqual(t, 3364.0, math.Round(layout.VinesPerHectare(2.45, 1.22)))
	require.Equal(t, 3364.0, math.Round(layout.VinesPerHectare(8*frame.Foot, 4*frame.Foot)))

	for _, bad := range [][2]float64{{0, 1}, {1, 0}, {-2, 1}, {math.NaN(), 1}, {math.Inf(1), 1}} {
		require.Zero(t, layout.VinesPerHectare(bad[0], bad[1]))
		require.Zero(t, layout.PlantsToOrder(100, bad[0], bad[1]))
	}
	require.Zero(t, layout.PlantsToOrder(math.NaN(), 1, 1))
	require.Zero(t, layout.PlantsToOrder(1e300, 1, 1))
}

func TestCell(t *testing.T) {
	f := frameB1(t)
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(0, 360).Draw(t, "azimuth")
		row, vine := rapid.Float64Range(0.8, 4).Draw(t, "row"), rapid.Float64Range(0.5, 3).Draw(t, "vine")
		at := frame.XY{X: rapid.Float64Range(-500, 500).Draw(t, "x"), Y: rapid.Float64Range(-500, 500).Draw(t, "y")}
		pg := layout.Cell(f, at, az, row, vine)
		if len(pg[0]) != 5 || pg[0][0] != pg[0][4] {
			t.Fatalf("ring %v is not closed", pg[0])
		}
		ring := f.Polygon(pg)[0]
		if a := ring.SignedArea(); math.Abs(a-row*vine) > 1e-5 {
			t.Fatalf("area %g, wanted %g counter-clockwise", a, row*vine)
		}
		c := layout.CellXY(at, az, row, vine)
		if d := frame.Dist(c[0], c[1]); math.Abs(d-row) > 1e-9 {
			t.Fatalf("across %g, wanted %g", d, row)
		}
		along := frame.Azimuth(c[1], c[2])
		if math.Abs(math.Remainder(along-az, 360)) > 1e-6 {
			t.Fatalf("side bears %g, wanted %g", along, az)
		}
		mid := frame.Between(c[0], c[2], 0.5)
		if frame.Dist(mid, at) > 1e-9 {
			t.Fatal("the vine is not in the middle")
		}
	})
}

func TestOccupied(t *testing.T) {
	for _, c := range []struct {
		name     string
		chainage []float64
		part     []int
		living   string
		most     float64
		want     []float64
	}{
		{"full row", []float64{0, 1, 2, 3}, nil, "1111", 0, []float64{1, 1, 1, 1}},
		{"one gap", []float64{0, 1, 2, 3}, nil, "1011", 0, []float64{1.5, 0, 1.5, 1}},
		{"gap at the start", []float64{0, 1, 2, 3}, nil, "0111", 0, []float64{0, 1.5, 1, 1}},
		{"gap at the end", []float64{0, 1, 2, 3}, nil, "1100", 0, []float64{1, 2, 0, 0}},
		{"alone", []float64{0, 1, 2, 3, 4}, nil, "00100", 0, []float64{0, 0, 3, 0, 0}},
		{"alone, capped", []float64{0, 1, 2, 3, 4}, nil, "00100", 0.75, []float64{0, 0, 1.5, 0, 0}},
		{"one position", []float64{0}, nil, "1", 0, []float64{1}},
		{"none lives", []float64{0, 1}, nil, "00", 0, []float64{0, 0}},
		{"uneven", []float64{0, 0.8, 2}, nil, "111", 0, []float64{0.9, 1, 1.1}},
		{"a road", []float64{0, 1, 2, 2, 3, 4}, []int{0, 0, 0, 1, 1, 1}, "110101", 0, []float64{1, 1.5, 0, 1.5, 0, 1.5}},
		{"empty", nil, nil, "", 0, []float64{}},
	} {
		got := layout.Occupied(nil, c.chainage, c.part, func(i int) bool { return c.living[i] == '1' }, 1, c.most)
		require.InDeltaSlice(t, c.want, got, 1e-12, c.name)
	}
	dst := make([]float32, 3, 8)
	got := layout.Occupied(dst, []float32{0, 2, 4}, nil, func(int) bool { return true }, 2, 0)
	require.Equal(t, []float32{2, 2, 2}, got)
	require.Same(t, &dst[0], &got[0], "columns are filled in place")
}

// All shares together are the ground of the row, as long as someone lives.
func TestOccupied_SharesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		spacing := rapid.Float64Range(0.5, 3).Draw(t, "spacing")
		chainage, alive, lives := make([]float64, n), make([]bool, n), false
		for i := range chainage {
			if i > 0 {
				chainage[i] = chainage[i-1] + spacing
			}
			alive[i] = rapid.Bool().Draw(t, "lives")
			lives = lives || alive[i]
		}
		first, last := n, -1
		var sum float64
		for i, o := range layout.Occupied(nil, chainage, nil, func(i int) bool { return alive[i] }, spacing, 0) {
			sum += o
			if alive[i] {
				first, last = min(first, i), i
			} else if o != 0 {
				t.Fatal("a gap occupies ground")
			}
		}
		want := 0.0
		if lives { // runs of missing vines at the ends count half
			want = spacing * (float64(last-first) + float64(first+1)/2 + float64(n-last)/2)
		}
		if math.Abs(sum-want) > 1e-9 {
			t.Fatalf("shares add up to %g, wanted %g", sum, want)
		}
	})
}

func rowsOf(t testing.TB, f frame.Frame, lines []orb.LineString) []layout.Row {
	var out []layout.Row
	for _, ls := range lines {
		out = append(out, mustRow(t, f, ls, layout.AsDrawn))
	}
	return out
}

func TestOrder(t *testing.T) {
	f := frameB1(t)
	lines := []orb.LineString{rowsB1[4], reversed(rowsB1[1]), rowsB1[7], rowsB1[0], reversed(rowsB1[5])}
	rows := rowsOf(t, f, lines)
	near(t, "bearing", layout.CommonBearing(rows), 20, 0.01)
	west := []int{3, 1, 0, 4, 2}
	east := []int{2, 4, 0, 1, 3}
	for word, want := range map[string][]int{
		"W": west, "NW": west, "E": east, "SE": east,
		"first": west, // as given: row 5 comes before row 6
	} {
		got, err := layout.Order(rows, end(t, word))
		require.NoError(t, err, word)
		require.Equal(t, want, got, word)
	}
	got, err := layout.Order(rows, layout.Toward(orb.Point{11.371, 45.21}))
	require.NoError(t, err)
	require.Equal(t, east, got, "from the gate in the east")

	north := rowsOf(t, f, []orb.LineString{{{11.37, 45.21}, {11.37, 45.2102}}, {{11.37002, 45.21}, {11.37002, 45.2102}}})
	_, err = layout.Order(north, end(t, "N"))
	require.ErrorIs(t, err, layout.ErrSideUnclear)
	_, err = layout.Order(north, layout.Toward(orb.Point{11.37001, 45.3}))
	require.ErrorIs(t, err, layout.ErrSideUnclear)
	got, err = layout.Order(nil, end(t, "N"))
	require.NoError(t, err)
	require.Empty(t, got)
	got, err = layout.Order(north[:1], end(t, "N"))
	require.NoError(t, err)
	require.Equal(t, []int{0}, got)
}

func TestDistances(t *testing.T) {
	rows := rowsOf(t, frameB1(t), rowsB1)
	got := layout.Distances(rows)
	require.Len(t, got, 7)
	for _, d := range got {
		near(t, "rows apart", d, 1.8, 1e-3)
	}
	require.Nil(t, layout.Distances(rows[:1]))
}

// Rows at any bearing, shuffled and drawn either way, come back in their order.
func TestOrder_Shuffled(t *testing.T) {
	f := frame.New(orb.Point{-121.74, 37.66})
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(0, math.Pi).Draw(t, "azimuth")
		s, c := math.Sincos(az)
		n := rapid.IntRange(2, 12).Draw(t, "n")
		var lines []orb.LineString
		for i := range n {
			o := frame.XY{X: float64(i) * 2.5 * c, Y: -float64(i) * 2.5 * s}
			ls := orb.LineString{f.LonLat(o), f.LonLat(frame.XY{X: o.X + 80*s, Y: o.Y + 80*c})}
			if rapid.Bool().Draw(t, "turn") {
				ls = reversed(ls)
			}
			lines = append(lines, ls)
		}
		at := make([]int, n)
		for i := range at {
			at[i] = i
		}
		at = rapid.Permutation(at).Draw(t, "order")
		rows := make([]layout.Row, n)
		for i, k := range at {
			r, err := layout.NewRow(f, lines[k], layout.AsDrawn)
			if err != nil {
				t.Fatal(err)
			}
			rows[i] = r
		}
		got, err := layout.Order(rows, layout.Toward(f.LonLat(frame.XY{X: -100 * c, Y: 100 * s})))
		if err != nil {
			t.Fatal(err)
		}
		for i, k := range got {
			if at[k] != i {
				t.Fatalf("place %d holds row %d", i, at[k])
			}
		}
	})
}

func TestShareOutside(t *testing.T) {
	f := frameB1(t)
	block := frame.MultiPolygon{f.Polygon(blockB1)}
	for _, ls := range rowsB1 {
		require.Zero(t, layout.ShareOutside(mustRow(t, f, ls, layout.AsDrawn), block, 0))
	}
	a, b := f.XY(rowsB1[0][0]), f.XY(rowsB1[0][1])
	longer := orb.LineString{rowsB1[0][0], f.LonLat(frame.Between(a, b, 2))}
	near(t, "half outside", layout.ShareOutside(mustRow(t, f, longer, layout.AsDrawn), block, 0), 20.5/44, 0.01)
	near(t, "within 1 m", layout.ShareOutside(mustRow(t, f, longer, layout.AsDrawn), block, 1), 19.5/44, 0.01)
	away := orb.LineString{f.LonLat(frame.XY{X: 500, Y: 0}), f.LonLat(frame.XY{X: 500, Y: 50})}
	require.Equal(t, 1.0, layout.ShareOutside(mustRow(t, f, away, layout.AsDrawn), block, 0.5))
	require.Equal(t, 1.0, layout.ShareOutside(mustRow(t, f, away, layout.AsDrawn), nil, 0.5))
}

func TestDuplicates(t *testing.T) {
	f := frameB1(t)
	rows := rowsOf(t, f, rowsB1)
	require.Empty(t, layout.Duplicates(rows, 0.45))
	rows = append(rows, mustRow(t, f, reversed(rowsB1[2]), layout.AsDrawn), mustRow(t, f, row4Cut, layout.AsDrawn))
	got := layout.Duplicates(rows, 0.45)
	require.Len(t, got, 2)
	require.Equal(t, [2]int{2, 8}, [2]int{got[0].A, got[0].B})
	require.Equal(t, [2]int{3, 9}, [2]int{got[1].A, got[1].B})
	require.Equal(t, 1.0, got[0].Share)
	near(t, "apart", got[0].ApartM, 0, 1e-6)
}

// Next season's file numbers the same lines from the other side: each row is
// found on the stored one it lies on.
func TestMatch_NumberedFromTheOtherSide(t *testing.T) {
	f := frameB1(t)
	stored := rowsOf(t, f, rowsB1)
	var file []layout.Row
	for i := range rowsB1 {
		file = append(file, stored[len(stored)-1-i].Reversed())
	}
	require.Equal(t, []int{7, 6, 5, 4, 3, 2, 1, 0}, layout.Match(file, stored, 0.45))
	away := mustRow(t, f, orb.LineString{f.LonLat(frame.XY{X: 60, Y: 0}), f.LonLat(frame.XY{X: 60, Y: 20})}, layout.AsDrawn)
	require.Equal(t, []int{-1, 2}, layout.Match([]layout.Row{away, stored[2]}, stored, 0.45))
	require.Equal(t, []int{-1}, layout.Match(stored[:1], nil, 0.45))
}

// A block drawn from its first row is the block as surveyed.
func TestRows_FromTheFirst(t *testing.T) {
	f := frameB1(t)
	first := mustRow(t, f, rowsB1[0], layout.AsDrawn)
	block := frame.MultiPolygon{f.Polygon(blockB1)}
	for _, word := range []string{"E", "SE", "first"} {
		rows, skipped, err := layout.Rows(first, 1.8, 8, end(t, word), nil)
		require.NoError(t, err)
		require.Zero(t, skipped)
		for i, r := range rows {
			want := f.Line(rowsB1[i])
			got := r.Parts[0]
			require.Less(t, frame.Dist(got[0], want[0]), 2e-3, "%s row %d", word, i+1)
			require.Less(t, frame.Dist(got[1], want[1]), 2e-3, "%s row %d", word, i+1)
		}
	}
	rows, skipped, err := layout.Rows(first, 1.8, 20, end(t, "E"), block)
	require.NoError(t, err)
	require.Equal(t, 12, skipped)
	require.Len(t, rows, 8)
	require.True(t, math.Abs(rows[7].LengthM()-22) < 2e-3)
	rows, skipped, err = layout.Rows(first, 1.8, 3, end(t, "W"), block)
	require.NoError(t, err)
	require.Len(t, rows, 1)
	require.Equal(t, 2, skipped)
	for _, c := range []struct {
		m    float64
		n    int
		e    string
		want error
	}{
		{0, 3, "E", layout.ErrSpacing}, {math.NaN(), 3, "E", layout.ErrSpacing}, {1.8, 0, "E", layout.ErrTooMany},
		{1.8, layout.MostRows + 1, "E", layout.ErrTooMany},
	} {
		_, _, err := layout.Rows(first, c.m, c.n, end(t, c.e), nil)
		require.ErrorIs(t, err, c.want)
	}
	north := mustRow(t, f, orb.LineString{{11.37, 45.21}, {11.37, 45.2102}}, layout.AsDrawn)
	_, _, err = layout.Rows(north, 1.8, 2, end(t, "N"), nil)
	require.ErrorIs(t, err, layout.ErrSideUnclear)
}

// An outline with a hole cuts a row in two parts.
func TestRows_HoleCutsARow(t *testing.T) {
	f := frameB1(t)
	pump := orb.Ring{{11.37008703, 45.210063788}, {11.370122916, 45.210054556}, {11.370135977, 45.210079922},
		{11.370100092, 45.210089154}, {11.37008703, 45.210063788}}
	block := f.Polygon(append(blockB1.Clone(), pump))
	near(t, "area", block.Area(), 351, 0.05)
	rows, _, err := layout.Rows(mustRow(t, f, rowsB1[0], layout.AsDrawn), 1.8, 8, end(t, "E"), frame.MultiPolygon{block})
	require.NoError(t, err)
	cut := 0
	for _, r := range rows {
		if len(r.Parts) == 2 {
			cut++
			near(t, "planted", r.LengthM(), 19, 0.05)
		}
	}
	require.Positive(t, cut)
}
