package work

import (
	"bytes"
	"context"
	"encoding/csv"
	"flag"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"courson/geo/format/geojson"
	"courson/geo/frame"
	"courson/geo/layout"
	"courson/geo/stand"
	"courson/store"
)

var update = flag.Bool("update", false, "write golden files anew")

const (
	stricklandDir = "../../testdata/strickland/"
	ftM           = 0.3048
	lbG           = 453.59237
)

// strickland lays the trial out on invented ground: five rows 10 ft apart that
// bear north, 31 places 8 ft apart, vine 1 at the south end. It gives outline and
// rows as GeoJSON in feet, and the yields as a table in pounds.
func strickland(t *testing.T) (ground, vines string) {
	t.Helper()
	f := frame.New(orb.Point{146.2, -36.3})
	const rows, places = 5, 31
	wide, long := float64(rows-1)*10*ftM, float64(places-1)*8*ftM
	var b bytes.Buffer
	w := geojson.NewWriter(&b)
	corner := func(x, y float64) orb.Point { return f.Inverse(x, y) }
	west, east, south, north := -5*ftM, wide+5*ftM, -4*ftM, long+4*ftM
	w.Begin(0)
	w.Text("block", "S1")
	w.Text("name", "Strickland's trial")
	w.Float("row_spacing_ft", 10)
	w.Float("vine_spacing_ft", 8)
	require.NoError(t, w.End(orb.Polygon{{corner(west, south), corner(east, south), corner(east, north), corner(west, north), corner(west, south)}}))
	first, err := layout.NewRow(f, orb.LineString{f.Inverse(0, 0), f.Inverse(0, long)}, layout.AsDrawn)
	require.NoError(t, err)
	east0, err := layout.ParseEnd("E")
	require.NoError(t, err)
	lines, _, err := layout.Rows(first, 10*ftM, rows, east0, nil)
	require.NoError(t, err)
	for i, r := range lines {
		w.Begin(0)
		w.Text("block", "S1")
		w.Int("row", int64(i+1))
		w.Float("vine_spacing_ft", 8)
		w.Text("numbering_end", "S")
		require.NoError(t, w.End(r.Lines()[0]))
	}
	require.NoError(t, w.Close())

	text, err := os.ReadFile(stricklandDir + "strickland-1932-vine-yield.csv")
	require.NoError(t, err)
	table, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	require.NoError(t, err)
	out := "block,row,vine,yield (lb)\r\n"
	for _, line := range table[1:] { // row is the place in the row, col the vine row
		out += "S1," + line[1] + "," + line[0] + "," + strings.TrimPrefix(line[2], "NA") + "\r\n"
	}
	return b.String(), out
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	if *update {
		require.NoError(t, os.WriteFile(stricklandDir+name, []byte(got), 0o644))
	}
	want, err := os.ReadFile(stricklandDir + name)
	require.NoError(t, err)
	require.Equal(t, string(want), got)
}

// Real vines that nobody here invented: A. G. Strickland, A vine uniformity
// trial, Journal of Agriculture, Victoria, 30, 1932, 584-593. Mean 5.944 lb and
// CV 43.5 % of 125 vines are worked out from the published yields.
func TestStrickland(t *testing.T) {
	ground, vines := strickland(t)
	golden(t, "ground.geojson", ground)
	golden(t, "vines.csv", vines)
	onEachStore(t, func(t *testing.T, open func(testing.TB) store.Store) {
		ctx := context.Background()
		st := open(t)
		report := take(t, st, ImportJob{Season: 1930}, onDisk(stricklandDir+"vines.csv"), onDisk(stricklandDir+"ground.geojson"))
		require.Empty(t, report.Notices)
		require.Equal(t, 155, report.Vines.Made)
		require.Equal(t, []Records{{What: "yield", Made: 125}}, report.Records)
		estate, err := st.Estate(ctx)
		require.NoError(t, err)
		require.True(t, estate.South)

		b := block0(t, st)
		require.InDelta(t, 10*ftM, b.RowSpacingM, 1e-9)
		g, _, _, err := LoadGround(ctx, st, b.ID)
		require.NoError(t, err)
		s, err := LoadStand(ctx, st, g, 1930)
		require.NoError(t, err)
		totals := stand.TotalsOf(s)
		require.Equal(t, 125, totals.Yielded)
		require.InDelta(t, 5.944, *totals.YieldMeanG/lbG, 0.0005)
		require.InDelta(t, 0.435, *totals.YieldCV, 0.0005)

		for _, form := range []Form{Table, GeoJSON} {
			mean, cv, n := yieldsOf(t, st, form)
			require.Equal(t, 125, n)
			require.InDelta(t, 5.944, mean, 0.0005)
			require.InDelta(t, 43.5, cv, 0.05)
		}
	})
}

// yieldsOf exports the vines in US units and works out mean (lb) and coefficient
// of variation (%) from what stands in the file.
func yieldsOf(t *testing.T, st store.Store, form Form) (mean, cv float64, n int) {
	t.Helper()
	var b bytes.Buffer
	count, err := Export(context.Background(), st, ExportJob{What: Vines, Form: form, Season: 1930, USUnits: true, Now: clock}, &b)
	require.NoError(t, err)
	require.Equal(t, 155, count)
	var values []float64
	if form == GeoJSON {
		list, _, err := geojson.ReadAll(&b, geojson.Options{})
		require.NoError(t, err)
		for _, f := range list {
			if v, ok := f.Get("yield_lb"); ok {
				y, ok := v.Float()
				require.True(t, ok)
				values = append(values, y)
			}
		}
	} else {
		table, err := csv.NewReader(&b).ReadAll()
		require.NoError(t, err)
		at := -1
		for i, name := range table[0] {
			if name == "yield_lb" {
				at = i
			}
		}
		require.GreaterOrEqual(t, at, 0)
		for _, line := range table[1:] {
			if line[at] != "" {
				y, err := strconv.ParseFloat(line[at], 64)
				require.NoError(t, err)
				require.Equal(t, y, math.Round(y*10)/10, "published to half a pound: no noise of conversion")
				values = append(values, y)
			}
		}
	}
	var sum, squares float64
	for _, v := range values {
		sum += v
	}
	mean = sum / float64(len(values))
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	sd := math.Sqrt(squares / float64(len(values)-1))
	return mean, 100 * sd / mean, len(values)
}
