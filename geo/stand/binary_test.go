package stand

import (
	"encoding/binary"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/vine"
)

var update = flag.Bool("update", false, "write golden files anew")

// goldenStand is the stand of testdata/stand.
func goldenStand(t testing.TB) *Stand {
	s := NewStand(smallPlot.ground(t), 2027, 9)
	n := 10
	for i := range 5 {
		s.SetPlan(i, 10+i, 7)
	}
	s.Set(0, vine.State{Condition: vine.Bearing, Measures: map[vine.Quantity]vine.Reading{vine.PruningWeight: read(600)}, Pruned: &vine.Pruned{Nodes: &n},
		Work: map[string]vine.Progress{vine.Pruning: vine.Done}}, 8)
	s.Set(1, vine.State{Condition: vine.Missing}, 8)
	s.Set(2, vine.State{Condition: vine.Weak, Pruned: &vine.Pruned{Nodes: &n}, Notes: 1, Work: map[string]vine.Progress{vine.Pruning: vine.ToRedo}}, 9)
	s.Set(14, vine.State{Condition: vine.Replanted, Planted: 2026, Clashes: []vine.Clash{{}}}, 9)
	return s
}

// TestAppendBinary_Golden compares with testdata/stand, which any reader of the
// form can be tried on: the bytes, and what they say as text.
func TestAppendBinary_Golden(t *testing.T) {
	s := goldenStand(t)
	got := AppendBinary(nil, s)
	text := describe(t, got)
	const dir = "../../testdata/stand/"
	if *update {
		require.NoError(t, os.WriteFile(dir+"small.stand", got, 0o644))
		require.NoError(t, os.WriteFile(dir+"small.txt", []byte(text), 0o644))
	}
	want, err := os.ReadFile(dir + "small.stand")
	require.NoError(t, err)
	require.Equal(t, want, got)
	wantText, err := os.ReadFile(dir + "small.txt")
	require.NoError(t, err)
	require.Equal(t, string(wantText), text)
}

// describe reads the form as DEVELOPERS.md words it, with nothing from
// ReadBinary, and writes out every column.
func describe(t testing.TB, data []byte) string {
	require.Equal(t, "CRSN", string(data[:4]))
	length := binary.LittleEndian.Uint32(data[4:])
	var h struct {
		Version, Count int
		Rows           []map[string]any
		Columns        []struct {
			Name, Type     string
			Offset, Length int
		}
	}
	text := data[8 : 8+length]
	require.NoError(t, json.Unmarshal(text, &h))
	require.Equal(t, 1, h.Version)
	require.Zero(t, len(text)%8)
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", strings.TrimRight(string(text), " "))
	for _, c := range h.Columns {
		require.Zero(t, c.Offset%8, c.Name)
		col := data[c.Offset : c.Offset+c.Length]
		fmt.Fprintf(&b, "%s:", c.Name)
		for i := range h.Count {
			switch c.Type {
			case "u8":
				fmt.Fprintf(&b, " %d", col[i])
			case "u16":
				fmt.Fprintf(&b, " %d", binary.LittleEndian.Uint16(col[2*i:]))
			case "i16":
				fmt.Fprintf(&b, " %d", int16(binary.LittleEndian.Uint16(col[2*i:])))
			case "u32":
				fmt.Fprintf(&b, " %d", binary.LittleEndian.Uint32(col[4*i:]))
			case "i32":
				fmt.Fprintf(&b, " %d", int32(binary.LittleEndian.Uint32(col[4*i:])))
			case "f64":
				fmt.Fprintf(&b, " %.0f", math.Float64frombits(binary.LittleEndian.Uint64(col[8*i:])))
			default:
				t.Fatalf("column %s has type %s", c.Name, c.Type)
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// carried is what the binary form carries of a stand.
func carried(s *Stand) *Stand {
	g := s.Ground
	out := s.Clone()
	out.Ground = &Ground{Block: g.Block, Code: g.Code, Revision: g.Revision, ID: append([]vine.ID{}, g.ID...), Row: append([]int32{}, g.Row...),
		Number: append([]int32{}, g.Number...), WX: append([]uint32{}, g.WX...), WY: append([]uint32{}, g.WY...), byID: g.byID, finished: true}
	for _, r := range g.Rows {
		r.Ends = [2][2]uint32{}
		out.Ground.Rows = append(out.Ground.Rows, r)
	}
	for i := range out.WeightG {
		out.WeightG[i] = float32(math.Round(float64(out.WeightG[i])))
		out.Score[i], out.YieldG[i], out.Changed[i] = -1, -1, s.Revision
	}
	return out
}

func TestAppendBinary_RoundTrip(t *testing.T) {
	plots := map[string]plot{
		"small":                   smallPlot,
		"large ids":               {rows: 2, vines: 3, lon: 0.6, lat: 44.8, firstID: 1 << 40},
		"one row of one":          {rows: 1, vines: 1, lon: 0, lat: 0, firstID: 7},
		"nothing":                 {},
		"rows without vines":      {rows: 3, lon: 0.6, lat: 44.8, firstID: 1},
		"in the far south-west":   {rows: 2, vines: 4, lon: -72.3, lat: -41.8, firstID: 1},
		"more rows than 9 digits": {rows: 30, vines: 40, lon: 0.6, lat: 44.8, firstID: 999_999_000},
	}
	for name, p := range plots {
		t.Run(name, func(t *testing.T) {
			b := p.builder()
			g, err := b.Ground()
			require.NoError(t, err)
			rapid.Check(t, func(t *rapid.T) {
				s := NewStand(g, rapid.IntRange(1900, 2100).Draw(t, "season"), rapid.Int64Range(0, 1<<50).Draw(t, "revision"))
				if g.Len() < 50 {
					s = anyStand(t, g)
				}
				prefix := rapid.SliceOfN(rapid.Byte(), 0, 9).Draw(t, "before")
				data := AppendBinary(prefix, s)
				require.Equal(t, prefix, data[:len(prefix)])
				back, err := ReadBinary(data[len(prefix):])
				require.NoError(t, err)
				require.Equal(t, carried(s), back)
			})
		})
	}
}

// A step that does not fit 16 bits, as on both sides of a wide road, widens
// both step columns.
func TestAppendBinary_WideSteps(t *testing.T) {
	b := NewBuilder(Ground{Block: 1})
	b.Row(1, "1", 1)
	b.Vine(Position{ID: 1, Number: 1, Lon: 10, Lat: 45})
	b.Vine(Position{ID: 2, Number: 2, Lon: 10.01, Lat: 45})
	b.Vine(Position{ID: 3, Number: 3, Lon: 9.99, Lat: 45})
	g, err := b.Ground()
	require.NoError(t, err)
	s := NewStand(g, 2027, 1)
	data := AppendBinary(nil, s)
	require.Contains(t, string(data), `"name":"dx","type":"i32"`)
	back, err := ReadBinary(data)
	require.NoError(t, err)
	require.Equal(t, g.WX, back.Ground.WX)
}

// A row that runs over 180° takes short steps.
func TestAppendBinary_Across180(t *testing.T) {
	b := NewBuilder(Ground{Block: 1})
	b.Row(1, "1", 1)
	b.Vine(Position{ID: 1, Number: 1, Lon: 179.99999, Lat: -17})
	b.Vine(Position{ID: 2, Number: 2, Lon: -179.99999, Lat: -17})
	g, err := b.Ground()
	require.NoError(t, err)
	data := AppendBinary(nil, NewStand(g, 2027, 1))
	require.Contains(t, string(data), `"name":"dx","type":"i16"`)
	back, err := ReadBinary(data)
	require.NoError(t, err)
	require.Equal(t, g.WX, back.Ground.WX)
}

func TestAppendBinary_Weight(t *testing.T) {
	for g, want := range map[float32]uint16{-1: noWeight, 0: 0, 0.4: 0, 0.6: 1, 1234: 1234, 20_000: 20_000, 70_000: 65_534} {
		require.Equal(t, want, roundWeight(g), "%g g", g)
	}
}

func TestReadBinary_Refuses(t *testing.T) {
	good := AppendBinary(nil, goldenStand(t))
	change := func(from, to string) func([]byte) []byte {
		return func(b []byte) []byte {
			require.Len(t, to, len(from))
			require.Contains(t, string(b), from)
			return []byte(strings.Replace(string(b), from, to, 1))
		}
	}
	for _, c := range []struct {
		name  string
		spoil func(b []byte) []byte
		says  string
	}{
		{"nothing", func([]byte) []byte { return nil }, "does not begin with CRSN"},
		{"another file", func(b []byte) []byte { return append([]byte("%PDF"), b[4:]...) }, "does not begin with CRSN"},
		{"cut off in the head", func(b []byte) []byte { return b[:40] }, "head is cut off"},
		{"cut off in the columns", func(b []byte) []byte { return b[:len(b)-1] }, "column follow"},
		{"a head that is no JSON", change(`{"version"`, `["version"`), "head"},
		{"another version", change(`"version":1`, `"version":2`), "version 2"},
		{"rows that do not add up", change(`"first":10,"count":5`, `"first":10,"count":4`), "14 of 15"},
		{"rows out of order", change(`"first":10,"count":5`, `"first":11,"count":5`), "row"},
		{"a column of another type", change(`"name":"leaf","type":"u8"`, `"name":"leaf","type":"u9"`), "column leaf"},
		{"a column too few", change(`"name":"leaf"`, `"name":"laef"`), "no column leaf"},
		{"a column at an odd place", change(`"name":"number","type":"u16","offset":1`, `"name":"number","type":"u16","offset":9`), "column number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := ReadBinary(c.spoil(append([]byte(nil), good...)))
			require.ErrorIs(t, err, ErrFormat)
			require.Contains(t, err.Error(), c.says)
		})
	}
}

// FuzzReadBinary reads anything: no panic, no memory beyond the size of what
// came in, and what is accepted comes back the same after being written.
func FuzzReadBinary(f *testing.F) {
	f.Add(AppendBinary(nil, goldenStand(f)))
	empty, err := NewBuilder(Ground{}).Ground()
	require.NoError(f, err)
	f.Add(AppendBinary(nil, NewStand(empty, 2027, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := ReadBinary(data)
		if err != nil {
			return
		}
		back, err := ReadBinary(AppendBinary(nil, s))
		require.NoError(t, err)
		require.Equal(t, carried(s), back)
	})
}
