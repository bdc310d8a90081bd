package isoxml

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/frame"
)

// What the independent open reader made of the same files
// (testdata/reader-results.json, isoxml 1.11.2): versions, zones, polygons,
// stored values, units, values of cells.
func TestRead_IndependentReader(t *testing.T) {
	b, err := os.ReadFile("testdata/reader-results.json")
	require.NoError(t, err)
	var results map[string]struct {
		Warnings []string
		Version  int
		Zones    []struct {
			Code, PLN int
			PDV       []string
		}
		Shown []struct {
			DDINumber int
			Unit      string
			Scale     float64
		} `json:"value_descriptions"`
		Cells [][2]json.RawMessage `json:"cells_sw_corner_and_values"`
	}
	require.NoError(t, json.Unmarshal(b, &results))
	for _, name := range []string{"polygon-v4.zip", "polygon-v3.zip", "grid1-v4.zip", "grid2-v4.zip", "grid2-v3.zip", "grid2-two-products-v4.zip"} {
		t.Run(name, func(t *testing.T) {
			want, ok := results[name]
			require.True(t, ok)
			d, notices, err := readFile(t, name)
			require.NoError(t, err)
			require.Empty(t, notices)
			require.Equal(t, want.Version, d.Major)
			require.Len(t, d.Tasks, 1)
			task := d.Tasks[0]
			require.Len(t, task.Zones, len(want.Zones))
			for i, z := range want.Zones {
				require.Equal(t, z.Code, task.Zones[i].Code)
				require.Len(t, task.Zones[i].Area, z.PLN)
				for k, pdv := range z.PDV {
					v := task.Zones[i].Values[k]
					require.Equal(t, pdv, (&xmlPDVText{v}).String())
				}
			}
			if len(want.Cells) == 0 {
				return
			}
			g := task.Grids[0]
			for k, s := range want.Shown {
				require.Equal(t, s.DDINumber, g.Values[k].DDI)
				require.Equal(t, s.Unit, g.Values[k].Unit)
			}
			cells := 0
			for i := range g.Columns * g.Rows {
				corner := [2]float64{g.West + float64(i%g.Columns)*g.CellLon, g.South + float64(i/g.Columns)*g.CellLat}
				for _, c := range want.Cells {
					var at [2]float64
					var stored map[string]float64
					require.NoError(t, json.Unmarshal(c[0], &at))
					require.NoError(t, json.Unmarshal(c[1], &stored))
					if math.Hypot(at[0]-corner[0], at[1]-corner[1]) > 1e-9 {
						continue
					}
					cells++
					for k := range g.Values {
						require.InDelta(t, stored[string(rune('a'+k))]*want.Shown[k].Scale, g.Rates[i*len(g.Values)+k], 1e-6)
					}
				}
			}
			require.Equal(t, len(want.Cells), cells)
		})
	}
}

type xmlPDVText struct{ v Value }

func (x *xmlPDVText) String() string {
	b, _ := json.Marshal(x.v.Stored)
	const hex = "0123456789ABCDEF"
	d := x.v.DDI
	return string([]byte{hex[d>>12&15], hex[d>>8&15], hex[d>>4&15], hex[d&15]}) + "=" + string(b)
}

func TestRead_Geometry(t *testing.T) {
	d, _, err := readFile(t, "polygon-v4.zip")
	require.NoError(t, err)
	require.Equal(t, "Block 7", d.Fields[0].Name)
	require.Equal(t, 47553., d.Fields[0].AreaM2)
	require.InDelta(t, 47553, frame.WGS84.MultiPolygonArea(d.Fields[0].Boundary), 10)
	east := d.Tasks[0].Zones[2]
	require.Equal(t, "East strong", east.Name)
	require.Len(t, east.Area[0], 2, "with its hole")
	require.Equal(t, 180., east.Values[0].Shown)
	require.Equal(t, 500., east.Values[1].Shown)
	require.Equal(t, "Compost tea", east.Values[0].Product)
	g, _, err := readFile(t, "grid1-v4.zip")
	require.NoError(t, err)
	require.Equal(t, []uint8{1, 1, 2, 2, 1, 3, 2, 2, 1, 1, 3, 0}, g.Tasks[0].Grids[0].Zone)
}

// Odd files: what the open reader passes is found here.
func TestRead_Odd(t *testing.T) {
	for _, c := range []struct{ name, fault, notice string }{
		{"odd-dangling-idref", "not in the file", ""},
		{"odd-declares-latin1", "", "the standard wants UTF-8"},
		{"odd-duplicate-tzn-code", "the same zone code twice; found 1", ""},
		{"odd-grid2-big-endian", "", "reversed order"},
		{"odd-grid2-lowercase-name", "", "grd00001.bin: the name should be GRD00001.bin"},
		{"odd-grid2-missing-file", "the file of the grid is missing", ""},
		{"odd-grid2-short-file", "44 bytes; wanted 48", ""},
		{"odd-grid2-upper-ext", "", "GRD00001.BIN: the name should be GRD00001.bin"},
		{"odd-latitude-over-90", "latitude: not a number in range", ""},
		{"odd-lowercase-main", "", "taskdata.xml: the name should be TASKDATA.XML"},
		{"odd-missing-required", "PFD1 D: not a number", ""},
		{"odd-no-taskdata-root", "not task data", ""},
		{"odd-not-well-formed", "not well-formed XML", ""},
		{"odd-pdv-ddi-decimal", "not an entry of the data dictionary", ""},
		{"odd-proprietary", "", ""},
		{"odd-ring-unclosed", "", "a ring was not closed"},
		{"odd-tzn-code-255", `found "255"; wanted 0 to 254`, ""},
		{"odd-unknown-attribute", "", "TSK Z: an attribute that the standard does not have"},
		{"odd-unknown-element", "", "an element that the standard does not have"},
		{"odd-version-5", `found "5"; wanted 3 or 4`, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			d, notices, err := readFile(t, c.name+".zip")
			if c.fault != "" {
				require.ErrorContains(t, err, c.fault)
				require.Nil(t, d)
				return
			}
			require.NoError(t, err)
			require.Len(t, d.Tasks, 1)
			if c.notice == "" {
				require.Empty(t, notices)
				return
			}
			require.Contains(t, texts(notices), c.notice)
		})
	}
}

func TestReadZip_Refuses(t *testing.T) {
	_, _, err := ReadZip(strings.NewReader("hello"), 5, format.Limits{})
	require.ErrorContains(t, err, "not a zip file")
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create("TASKDATA/TASKDATA.XML")
	require.NoError(t, err)
	_, err = w.Write(make([]byte, 1<<20))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	_, _, err = ReadZip(bytes.NewReader(b.Bytes()), int64(b.Len()), format.Limits{MaxBytes: 1000})
	require.ErrorIs(t, err, format.ErrTooLarge)
	_, _, err = Read(map[string][]byte{"x": nil})
	require.ErrorContains(t, err, "no TASKDATA.XML")
	deep := strings.Repeat("<A>", 100)
	_, _, err = Read(map[string][]byte{mainFile: []byte(`<ISO11783_TaskData VersionMajor="4" VersionMinor="3">` + deep + strings.Repeat("</A>", 100) + "</ISO11783_TaskData>")})
	require.ErrorContains(t, err, "nested too deeply")
	require.Error(t, WriteZip(full{}, scene(), Limits{}, by, made))
}

func FuzzRead(f *testing.F) {
	names, err := filepath.Glob("testdata/*.zip")
	require.NoError(f, err)
	for _, name := range names {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		files := unzip(f, b)
		var bin []byte
		for n, content := range files {
			if strings.HasSuffix(strings.ToLower(n), ".bin") {
				bin = content
			}
		}
		for n, content := range files {
			if strings.HasSuffix(strings.ToLower(n), ".xml") {
				f.Add(content, bin)
			}
		}
	}
	f.Fuzz(func(t *testing.T, text, bin []byte) {
		d, _, err := Read(map[string][]byte{mainFile: text, "GRD00001.bin": bin})
		if err != nil {
			require.NotEmpty(t, err.Error())
			return
		}
		for _, task := range d.Tasks {
			for _, g := range task.Grids {
				require.Equal(t, g.Columns*g.Rows*max(1, len(g.Values)), len(g.Zone)+len(g.Rates))
			}
		}
	})
}

func FuzzParseRate(f *testing.F) {
	f.Add("12 L/ha")
	f.Add("16,5")
	f.Fuzz(func(t *testing.T, s string) {
		if v, err := ParseRate(s, LitresPerHa); err == nil && !(v >= 0) {
			t.Fatalf("%q gives %v", s, v)
		}
	})
}
