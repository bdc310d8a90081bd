package isoxml

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/format"
	"courson/geo/frame"
)

var update = flag.Bool("update", false, "write the golden files anew")

var (
	made = time.Date(2027, 2, 3, 8, 0, 0, 0, time.UTC)
	by   = Writer{"Courson", "1.0"}
)

func texts(n []format.Notice) string {
	var out []string
	for _, x := range n {
		out = append(out, x.String())
	}
	return strings.Join(out, "\n")
}

func readFile(t testing.TB, name string) (*Data, []format.Notice, error) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	return ReadZip(bytes.NewReader(b), int64(len(b)), format.Limits{})
}

// Rates as the data dictionary stores them (ISO 11783-11 entries 1, 6 and 11).
func TestUnit_Stored(t *testing.T) {
	for _, c := range []struct {
		unit Unit
		rate float64
		want int32
	}{
		{LitresPerHa, 250, 2500000}, {KilogramsPerHa, 1200, 120000}, {CountPerHa, 3000, 300},
		{TonnesPerHa, 13, 1300000}, {CubicMetresPerHa, 20, 200000000}, {Millimetres, 5, 500000000},
		{LitresPerHa, 0, 0},
		{PoundsPerAcre, 30, 3363}, // 30 lb/acre are 33.63 kg/ha (viticulture, Ontario: 34 kg/ha)
	} {
		got, err := c.unit.Stored(c.rate)
		require.NoError(t, err)
		require.Equal(t, c.want, got, "%v %s", c.rate, c.unit)
		shown, err := c.unit.Shown(got)
		require.NoError(t, err)
		require.InDelta(t, c.rate, shown, 0.01)
	}
	for _, c := range []struct {
		unit Unit
		rate float64
		want string
	}{
		{CountPerHa, 4, "begins at 10 1/ha"}, {LitresPerHa, -1, "below 0"}, {LitresPerHa, math.NaN(), "missing"},
		{LitresPerHa, 1e6, "ends at 214748 l/ha"}, {LitresPerHa, math.Inf(1), "too high"}, {"bags", 1, "not one of"},
	} {
		_, err := c.unit.Stored(c.rate)
		require.ErrorContains(t, err, c.want)
	}
}

// scene is a field of two zones and an islet, metres from a corner.
func scene(inputs ...Input) *Plan {
	f := frame.New(orb.Point{145.3205, -37.729})
	box := func(x0, y0, x1, y1 float64) orb.Ring {
		return orb.Ring(f.LineString(frame.Line{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}, {X: x0, Y: y0}}))
	}
	if inputs == nil {
		inputs = []Input{{"Compost tea", LitresPerHa}, {"Gypsum & lime <fine>", KilogramsPerHa}}
	}
	hole := box(130, 60, 160, 90)
	hole.Reverse()
	p := &Plan{Customer: "Invented estate", Farm: "Home farm", Field: "Block H3", Task: "Compost 2027",
		Boundary: orb.MultiPolygon{{box(0, 0, 200, 150)}}, Inputs: inputs,
		Zones: []Zone{
			{Name: "weak \"west\"", Area: orb.MultiPolygon{{box(0, 0, 100, 150)}}},
			{Name: "strong", Area: orb.MultiPolygon{{box(100, 0, 200, 150), hole}}},
			{Name: "islet", Area: orb.MultiPolygon{{box(130, 60, 160, 90)}}},
		}}
	for i := range p.Zones {
		p.Zones[i].Rates = []float64{250 - 50*float64(i), 1200 - 400*float64(i)}[:len(inputs)]
	}
	return p
}

func write(t testing.TB, p *Plan, l Limits) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteZip(&b, p, l, by, made))
	return b.Bytes()
}

func unzip(t testing.TB, b []byte) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	require.NoError(t, err)
	out := map[string][]byte{}
	for _, f := range z.File {
		r, err := f.Open()
		require.NoError(t, err)
		out[f.Name], err = io.ReadAll(r)
		require.NoError(t, err)
	}
	return out
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(path, got, 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
}

// The written file, byte for byte, and its shape: folder and name in capitals,
// every value and unit as the tables have them.
func TestWriteZip_Polygons(t *testing.T) {
	files := unzip(t, write(t, scene(), Limits{WidthM: 3}))
	require.Len(t, files, 1)
	text := files["TASKDATA/TASKDATA.XML"]
	require.NotNil(t, text)
	golden(t, "polygons.golden.xml", text)
	for _, want := range []string{`VersionMajor="4"`, `VersionMinor="3"`, `DataTransferOrigin="1"`, `<PDV A="0001" B="2500000" C="PDT1" E="VPN1"/>`,
		`<PDV A="0006" B="120000" C="PDT2" E="VPN2"/>`, `C="0.000100000" D="1" E="l/ha"`, `B="Gypsum &amp; lime &lt;fine&gt;"`, `B="weak &#34;west&#34;"`, `H="0" I="0" J="0"`} {
		require.Contains(t, string(text), want)
	}
	wellFormed(t, text)
}

func wellFormed(t testing.TB, text []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(text))
	for {
		if _, err := d.Token(); err != nil {
			require.ErrorIs(t, err, io.EOF)
			return
		}
	}
}

func readBack(t testing.TB, b []byte) *Data {
	t.Helper()
	d, notices, err := ReadZip(bytes.NewReader(b), int64(len(b)), format.Limits{})
	require.NoError(t, err)
	require.Empty(t, notices)
	require.Len(t, d.Tasks, 1)
	return d
}

func TestWriteZip_ReadBack(t *testing.T) {
	p := scene()
	d := readBack(t, write(t, p, Limits{WidthM: 3}))
	require.Equal(t, []string{p.Customer}, d.Customers)
	require.Equal(t, []string{p.Farm}, d.Farms)
	require.Equal(t, p.Field, d.Fields[0].Name)
	require.Equal(t, 30000., d.Fields[0].AreaM2)
	task := d.Tasks[0]
	require.Equal(t, p.Task, task.Name)
	require.Equal(t, []int{1, 0, 0, 0}, []int{task.Status, task.Default, task.Lost, task.Outside})
	require.Len(t, task.Zones, 4)
	for i, z := range p.Zones {
		got := task.Zones[i+1]
		require.Equal(t, i+1, got.Code)
		require.Equal(t, z.Name, got.Name)
		require.Len(t, got.Area, len(z.Area))
		require.Len(t, got.Area[0], len(z.Area[0]))
		require.InDelta(t, frame.WGS84.MultiPolygonArea(z.Area), frame.WGS84.MultiPolygonArea(got.Area), 0.05)
		for k, v := range got.Values {
			require.Equal(t, z.Rates[k], v.Shown)
			require.Equal(t, string(p.Inputs[k].Unit), v.Unit)
			require.Equal(t, p.Inputs[k].Product, v.Product)
		}
	}
	for _, v := range task.Zones[0].Values {
		require.Zero(t, v.Stored)
	}
}

func TestWriteZip_Grids(t *testing.T) {
	for _, kind := range []int{1, 2} {
		p := scene()
		g, err := MakeGrid(p, kind, 10)
		require.NoError(t, err)
		require.Equal(t, []int{20, 15}, []int{g.Columns, g.Rows})
		p.Grid = g
		b := write(t, p, Limits{})
		files := unzip(t, b)
		bin := files["TASKDATA/GRD00001.bin"]
		got := readBack(t, b).Tasks[0].Grids[0]
		require.InDelta(t, g.South, got.South, 1e-9)
		require.InDelta(t, g.West, got.West, 1e-9)
		require.Equal(t, g.CellLat, got.CellLat)
		require.Equal(t, g.CellLon, got.CellLon)
		if kind == 1 {
			require.Len(t, bin, 300)
			require.Equal(t, g.Zone, got.Zone)
			count := map[uint8]int{}
			for _, c := range got.Zone {
				count[c]++
			}
			require.Equal(t, map[uint8]int{1: 150, 2: 141, 3: 9}, count, "100 m² a cell: 15 000, 14 100 and 900 m²")
			require.Equal(t, uint8(1), got.Zone[0], "south-west")
			require.Equal(t, uint8(2), got.Zone[19], "then eastward")
			continue
		}
		require.Len(t, bin, 300*2*4)
		require.Equal(t, int32(2500000), int32(binary.LittleEndian.Uint32(bin)))
		require.Equal(t, int32(120000), int32(binary.LittleEndian.Uint32(bin[4:])))
		require.InDeltaSlice(t, g.Rates, got.Rates, 1e-9)
	}
	// A cell of 10 m at latitude -37.7 is about 0.0000901 north by 0.0001134 east.
	g, err := MakeGrid(scene(), 1, 10)
	require.NoError(t, err)
	require.InDelta(t, 0.0000901, g.CellLat, 1e-7)
	require.InDelta(t, 0.0001134, g.CellLon, 1e-7)
	for _, m := range []float64{0, -1, math.NaN(), 0.01} {
		_, err := MakeGrid(scene(), 1, m)
		require.Error(t, err)
	}
}

// What the open reader isoxml 1.11.2 makes of files that we wrote, kept in
// testdata/reader-of-ours.json: no warning, our zones, rings, values and cells.
// testdata/reader.cjs makes the record anew; the written texts are pinned by
// golden files, so a record of other files is found out.
func TestWriteZip_IndependentReader(t *testing.T) {
	b, err := os.ReadFile("testdata/reader-of-ours.json")
	require.NoError(t, err)
	var results map[string]struct {
		Reader, Version, Task string
		Warnings              []string
		Zones                 []struct {
			Code   int
			Name   string
			Values [][2]any
			Rings  []orb.Ring
		}
		Grid *struct {
			Type          string
			Columns, Rows int
			South, West   float64
		}
		Cells json.RawMessage
	}
	require.NoError(t, json.Unmarshal(b, &results))
	for _, name := range []string{"polygons", "grid1", "grid2"} {
		t.Run(name, func(t *testing.T) {
			p := scene()
			if kind := map[string]int{"grid1": 1, "grid2": 2}[name]; kind > 0 {
				p.Grid, err = MakeGrid(p, kind, 10)
				require.NoError(t, err)
			}
			ours := write(t, p, Limits{})
			golden(t, name+".golden.xml", unzip(t, ours)["TASKDATA/TASKDATA.XML"])
			got, ok := results[name+".zip"]
			require.True(t, ok)
			require.Empty(t, got.Warnings)
			require.Equal(t, []string{"isoxml 1.11.2", "4", p.Task}, []string{got.Reader, got.Version, got.Task})
			want := readBack(t, ours).Tasks[0]
			require.Len(t, got.Zones, len(want.Zones))
			for i, z := range got.Zones {
				require.Equal(t, want.Zones[i].Code, z.Code)
				require.Equal(t, want.Zones[i].Name, z.Name)
				for k, v := range z.Values {
					require.Equal(t, []any{[]string{"0001", "0006"}[k], float64(want.Zones[i].Values[k].Stored)}, v[:])
				}
				rings := 0
				for _, pg := range want.Zones[i].Area {
					for _, r := range pg {
						require.Equal(t, r, z.Rings[rings])
						rings++
					}
				}
				require.Len(t, z.Rings, rings)
			}
			if p.Grid == nil {
				return
			}
			require.Equal(t, []int{p.Grid.Columns, p.Grid.Rows}, []int{got.Grid.Columns, got.Grid.Rows})
			if name == "grid1" {
				return // the reader gives no cells of type 1
			}
			var cells [][3]json.RawMessage
			require.NoError(t, json.Unmarshal(got.Cells, &cells))
			seen := 0
			for _, c := range cells {
				var at [2]float64
				var v [2]float64
				require.NoError(t, json.Unmarshal(c[0], &at))
				require.NoError(t, json.Unmarshal(c[1], &v[0]))
				require.NoError(t, json.Unmarshal(c[2], &v[1]))
				x, y := math.Round((at[0]-got.Grid.West)/p.Grid.CellLon), math.Round((at[1]-got.Grid.South)/p.Grid.CellLat)
				i := int(y)*p.Grid.Columns + int(x)
				require.InDelta(t, p.Grid.Rates[2*i], v[0]/10000, 1e-9)
				require.InDelta(t, p.Grid.Rates[2*i+1], v[1]/100, 1e-9)
				seen++
			}
			require.Equal(t, 300, seen)
		})
	}
}

// Whatever passes Check is read back with the same rates and areas.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := []Unit{LitresPerHa, CubicMetresPerHa, KilogramsPerHa, TonnesPerHa, CountPerHa, PoundsPerAcre, GallonsPerAcre}
		p := scene(Input{"A", rapid.SampledFrom(units).Draw(t, "unit")}, Input{"B", rapid.SampledFrom(units).Draw(t, "unit")})
		p.Field = rapid.StringMatching(`[A-Za-zé<>&"' 0-9]{0,20}[a-z]`).Draw(t, "name")
		for i := range p.Zones {
			for k := range p.Zones[i].Rates {
				p.Zones[i].Rates[k] = float64(rapid.IntRange(10, 200).Draw(t, "rate"))
			}
		}
		if kind := rapid.IntRange(0, 2).Draw(t, "grid"); kind > 0 {
			g, err := MakeGrid(p, kind, rapid.Float64Range(3, 40).Draw(t, "cell"))
			require.NoError(t, err)
			p.Grid = g
		}
		var b bytes.Buffer
		require.NoError(t, WriteZip(&b, p, Limits{}, by, made))
		d, notices, err := ReadZip(bytes.NewReader(b.Bytes()), int64(b.Len()), format.Limits{})
		require.NoError(t, err)
		require.Empty(t, notices)
		require.Equal(t, p.Field, d.Fields[0].Name)
		for k, in := range p.Inputs {
			e, err := in.Unit.entry()
			require.NoError(t, err)
			close := 1/e.steps + 5e-5*200 // steps of the dictionary; scale has 9 places
			if p.Grid != nil && p.Grid.Type == 2 {
				require.InDelta(t, p.Grid.Rates[k], d.Tasks[0].Grids[0].Rates[k], close)
				continue
			}
			for i, z := range p.Zones {
				require.InDelta(t, z.Rates[k], d.Tasks[0].Zones[i+1].Values[k].Shown, close)
			}
		}
	})
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }
