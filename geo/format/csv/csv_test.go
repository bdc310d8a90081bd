package csv

import (
	"bytes"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"courson/geo/format"
	"courson/geo/vine"
)

// read reads a whole table: cells of good lines, problems of the others.
func read(t *testing.T, data []byte) (s *Survey, lines [][]string, problems []string) {
	t.Helper()
	r := bytes.NewReader(data)
	s, err := Take(r, Options{})
	require.NoError(t, err)
	rd, err := s.Read(r)
	require.NoError(t, err)
	for {
		rec, err := rd.Next()
		var bad *BadLine
		switch {
		case errors.Is(err, io.EOF):
			return s, lines, problems
		case errors.As(err, &bad):
			problems = append(problems, err.Error())
			continue
		}
		require.NoError(t, err)
		var line []string
		for i := range s.Columns {
			line = append(line, rec.Text(i))
		}
		lines = append(lines, line)
	}
}

func TestSurvey_Dialects(t *testing.T) {
	utf16 := func(e unicode.Endianness, b unicode.BOMPolicy, s string) []byte {
		out, err := unicode.UTF16(e, b).NewEncoder().String(s)
		require.NoError(t, err)
		return []byte(out)
	}
	latin, err := charmap.Windows1252.NewEncoder().String("vine_id,note\r\n1-1,taille à deux yeux\r\n1-2,pied chétif – l’an prochain\r\n")
	require.NoError(t, err)
	for _, c := range []struct {
		name      string
		data      []byte
		encoding  Encoding
		delimiter byte
		header    []string
		first     []string
	}{
		{"plain", []byte("block,row\nB1,2\n"), UTF8, ',', []string{"block", "row"}, []string{"B1", "2"}},
		{"byte order mark", []byte("\xef\xbb\xbflat,lon\n45.2,11.3\n"), UTF8, ',', []string{"lat", "lon"}, []string{"45.2", "11.3"}},
		{"semicolons and decimal commas", []byte("lat;lon;row\n45,21;11,37;1\n45,22;11,38;2\n"), UTF8, ';', []string{"lat", "lon", "row"}, []string{"45,21", "11,37", "1"}},
		{"UTF-16 with a mark, tabs", utf16(unicode.LittleEndian, unicode.UseBOM, "row\tnote\r\n1\tcôté fossé\r\n"), UTF16LE, '\t', []string{"row", "note"}, []string{"1", "côté fossé"}},
		{"UTF-16 without a mark", utf16(unicode.BigEndian, unicode.IgnoreBOM, "row;note\r\n1;à arracher\r\n"), UTF16BE, ';', []string{"row", "note"}, []string{"1", "à arracher"}},
		{"Windows-1252", []byte(latin), Windows1252, ',', []string{"vine_id", "note"}, []string{"1-1", "taille à deux yeux"}},
		{"one column", []byte("note\nx\n"), UTF8, ',', []string{"note"}, []string{"x"}},
		{"padded header, no-break blank", []byte(" Block , ROW\u00a0,Vine \nB1 ,1, 2\n"), UTF8, ',', []string{"Block", "ROW", "Vine"}, []string{"B1", "1", "2"}},
		{"commas at the line ends", []byte("a,b,\n1,2,\n"), UTF8, ',', []string{"a", "b"}, []string{"1", "2"}},
		{"blank lines", []byte("\n\na,b\n\n1,2\n,\n"), UTF8, ',', []string{"a", "b"}, []string{"1", "2"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, lines, problems := read(t, c.data)
			require.Empty(t, problems)
			require.Equal(t, c.encoding, s.Encoding)
			require.Equal(t, string(c.delimiter), string(s.Delimiter))
			var header []string
			for _, col := range s.Columns {
				header = append(header, col.Name)
			}
			require.Equal(t, c.header, header)
			require.Equal(t, c.first, lines[0])
		})
	}
}

func TestSurvey_Refusals(t *testing.T) {
	for _, c := range []struct{ name, data, want string }{
		{"empty", "", "the file is empty"},
		{"only blanks", "\n \n", "the file is empty"},
		{"no text at all", "\x01\x00\x93\xff\n\x00\x02", "line 1: a NUL character; wanted text"},
		{"one name twice", "row,vine,Row\n1,2,3\n", "two columns of one name, the 1. and the 3."},
		{"a quote never closed", "a,b\n1,\"x\n2,y\n", "line 2: a quote is opened and never closed"},
		{"text after a closing quote", "a,b\n1,\"x\" y\n", "line 2: text goes on after a closing quote"},
		{"NUL", "a,b\n1,\x00\n", "line 2: a NUL character"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Take(strings.NewReader(c.data), Options{})
			require.ErrorContains(t, err, c.want)
			var p *format.Problem
			require.ErrorAs(t, err, &p)
		})
	}
}

func TestReader_BadLines(t *testing.T) {
	_, lines, problems := read(t, []byte("vine_id,status,vigour,\n1-1,ok,4,\n1-4,ok,5,,left over\n1-5,ok\n1-6,ok,1,stray\n1-7,ok,2,\n"))
	require.Equal(t, [][]string{{"1-1", "ok", "4"}, {"1-7", "ok", "2"}}, lines)
	require.Len(t, problems, 3)
	require.Contains(t, problems[0], `line 3: the 5. value has no column; found "left over"`)
	require.Contains(t, problems[1], "line 4: too few values; found 2; wanted 3")
	require.Contains(t, problems[2], `line 5: the 4. value has no column; found "stray"`)
}

func TestReader_LinesCountPhysically(t *testing.T) {
	r := strings.NewReader("a,b\n1,\"two\nlines\"\n2,x\n")
	s, err := Take(r, Options{})
	require.NoError(t, err)
	rd, err := s.Read(r)
	require.NoError(t, err)
	first, err := rd.Next()
	require.NoError(t, err)
	require.Equal(t, "two\nlines", first.Text(1))
	second, err := rd.Next()
	require.NoError(t, err)
	require.Equal(t, 4, second.Line)
}

func TestDates(t *testing.T) {
	day := func(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }
	for _, c := range []struct {
		name    string
		cells   []string
		want    []time.Time
		refused []string
	}{
		{"ISO 8601", []string{"2025-02-03", "2025-02-04T08:30:00+01:00", "2025/02/05"}, []time.Time{day(2025, 2, 3), day(2025, 2, 4), day(2025, 2, 5)}, nil},
		{"day first, settled by the column", []string{"03/02/2025", "14/02/2025", "05/03/2025"}, []time.Time{day(2025, 2, 3), day(2025, 2, 14), day(2025, 3, 5)}, nil},
		{"month first, settled by the column", []string{"02/03/2025", "02/14/2025"}, []time.Time{day(2025, 2, 3), day(2025, 2, 14)}, nil},
		{"both orders", []string{"03/02/2025", "14/02/2025", "02/14/2025"}, nil, []string{"03/02/2025", "14/02/2025", "02/14/2025"}},
		{"nothing settles it", []string{"03/02/2025", "2025-02-03", "04/04/2025"}, []time.Time{day(2025, 2, 3), day(2025, 4, 4)}, []string{"03/02/2025"}},
		{"points mean day first", []string{"03.02.2025"}, []time.Time{day(2025, 2, 3)}, nil},
		// 46023 = 2026-01-01 in the 1900 system, as spreadsheets show it
		{"spreadsheet day numbers", []string{"45691", "45692", "45692.5", "46023"}, []time.Time{day(2025, 2, 3), day(2025, 2, 4), day(2025, 2, 4), day(2026, 1, 1)}, nil},
		{"month by name", []string{"3 Feb 2025", "Feb 4, 2025"}, []time.Time{day(2025, 2, 3), day(2025, 2, 4)}, nil},
		{"no day", []string{"30/02/2025", "2025-13-01", "soon", "03/02/25", "12"}, nil, []string{"30/02/2025", "2025-13-01", "soon", "03/02/25", "12"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, err := Take(strings.NewReader("d;x\n"+strings.Join(c.cells, ";\n")+";\n"), Options{})
			require.NoError(t, err)
			f := s.Dates(0)
			var got []time.Time
			var refused []string
			for _, cell := range c.cells {
				d, _, err := f.Parse(cell)
				if err != nil {
					refused = append(refused, cell)
					continue
				}
				got = append(got, d)
			}
			require.Equal(t, c.want, got)
			require.Equal(t, c.refused, refused)
		})
	}
}

func TestLooksLikeMangledID(t *testing.T) {
	for cell, want := range map[string]string{"01-Aug": "1-8", "01-Dec": "1-12", "Jan-13": "1-13", "jan-14": "1-14", "3-17": "", "B1-Jan-2": "", "x-Aug": ""} {
		likely, mangled := LooksLikeMangledID(cell)
		require.Equal(t, want, likely, cell)
		require.Equal(t, want != "", mangled, cell)
	}
}

func TestParseDegrees(t *testing.T) {
	style := NumberFormat{NumberStyle: NumberStyle{Decimal: '.'}}
	for _, c := range []struct {
		cell string
		lat  bool
		want float64
	}{
		{"45.21", true, 45.21}, {"-35.1", true, -35.1}, {"45.2100N", true, 45.21}, {"35.1000S", true, -35.1}, {"121.4000W", false, -121.4},
		{`45°12'36.0000"N`, true, 45.21}, {"11°22′12.3448″E", false, 11.3700957778}, {"N 45 12 35.8604", true, 45.2099612222}, {"45° 12.60883' N", true, 45.2101471667},
		{"11° 22.21479' E", false, 11.3702465},
	} {
		got, err := ParseDegrees(c.cell, c.lat, style)
		require.NoError(t, err, c.cell)
		require.InDelta(t, c.want, got, 1e-9, c.cell)
	}
	for _, c := range []struct {
		cell, want string
		lat        bool
	}{
		{"-36.6054N", "contradict", true}, {"45.2E", "other axis", true}, {"91", "beyond 90", true}, {"181", "beyond 180", false},
		{"45 60 00", "below 60", true}, {"45.5 30", "not degrees", true}, {"abc", "not degrees", true}, {"", "not degrees", true}, {"NaN", "not degrees", true},
	} {
		_, err := ParseDegrees(c.cell, c.lat, style)
		require.ErrorContains(t, err, c.want, c.cell)
	}
}

func TestRecognise(t *testing.T) {
	r := NewRecogniser()
	for _, c := range []struct {
		header string
		field  Field
		unit   string
		factor float64
	}{
		{"block", Block, "", 1}, {" ROW\u00a0", Row, "", 1}, {"Vine No.", Vine, "", 1}, {"prun_g", "pruning_weight", "g", 1}, {"Pruning weight (kg)", "pruning_weight", "kg", 1000},
		{"yield_lb", "yield", "lb", 453.59237}, {"Yield [lbs]", "yield", "lbs", 453.59237}, {"vine_spacing_m", VineSpacing, "m", 1}, {"row spacing (ft)", RowSpacing, "ft", 0.3048},
		{"Visual score (1–9)", "visual_score", "1-9", 1}, {"vigour 0 to 10", "visual_score", "0-10", 1}, {"score_1-5", "visual_score", "1-5", 1}, {"score 0-1.5", "visual_score", "0-1.5", 1},
		{"NDVI", "canopy_index", "NDVI", 1}, {"ndre", "canopy_index", "NDRE", 1}, {"canopy index [NIR/R]", "canopy_index", "NIR/R", 1}, {"canopy_index_ndvi", "canopy_index", "NDVI", 1}, {"canopy index", "canopy_index", "", 1},
		{"date", RecordedOn, "", 1}, {"Weighed on", RecordedOn, "", 1}, {"by", RecordedBy, "", 1},
		{"yield", "yield", "", 1}, {"vigor", "visual_score", "", 1}, {"vine1_end", NumberingEnd, "", 1}, {"buds", PlanNodes, "", 1}, {"Lat", Latitude, "", 1}, {"Long", Longitude, "", 1},
	} {
		f, u, ok := r.Recognise(c.header)
		require.True(t, ok, c.header)
		require.Equal(t, c.field, f, c.header)
		require.Equal(t, c.unit, u.Name, c.header)
		require.InDelta(t, c.factor, u.Factor, 1e-9, c.header)
	}
	for _, h := range []string{"score by", "score 2027", "colour", "yield_acres", "vien", "block_m", ""} {
		_, _, ok := r.Recognise(h)
		require.False(t, ok, h)
	}
	require.Equal(t, "vine", format.Nearest("vien", r.Known(Vine, Row, Block)))
	q, ok := Measure(vine.Yield).Quantity()
	require.True(t, ok)
	require.Equal(t, vine.Yield, q)
	require.Equal(t, []string{"g", "kg", "oz", "lb"}, Units(Measure(vine.Yield)))
}

func TestStrangeUnit(t *testing.T) {
	r := NewRecogniser()
	f, u, ok := r.StrangeUnit("Pruning weight [stone]")
	require.True(t, ok)
	require.Equal(t, Measure(vine.PruningWeight), f)
	require.Equal(t, "stone", u)
	for _, h := range []string{"Pruning weight", "yield_2026", "canes [mm]", "cane count [each]", "yield ()"} {
		_, _, ok := r.StrangeUnit(h)
		require.False(t, ok, h)
	}
}

func TestClass(t *testing.T) {
	r := NewRecogniser()
	inf := math.Inf(1)
	for _, c := range []struct {
		header   string
		from, to float64
		unit     string
	}{
		{"canes 6-8 mm", 6, 8, "mm"}, {"Canes 6–8mm", 6, 8, "mm"}, {"canes_6_8_mm", 6, 8, "mm"}, {"canes 6 to 8 mm", 6, 8, "mm"}, {"canes (0.7-1 cm)", 7, 10, "cm"}, {"canes [6,5-8 mm]", 6.5, 8, "mm"},
		{"canes <6 mm", -inf, 6, "mm"}, {"canes under 6 mm", -inf, 6, "mm"}, {"canes > 15 mm", 15, inf, "mm"}, {"canes over 15mm", 15, inf, "mm"}, {"canes 15 mm +", 15, inf, "mm"}, {"canes 15+ mm", 15, inf, "mm"}, {"canes 15 mm or more", 15, inf, "mm"},
		{"canes 0.25-0.5 in", 6.35, 12.7, "in"}, {"canes 6-8", 6, 8, ""}, {"cane count 6-8 mm", 6, 8, "mm"}, {"shoots 6-8 mm", 6, 8, "mm"},
		{"canes", 0, 0, ""}, {"cane_count", 0, 0, ""}, {"canes 2026", 0, 0, ""}, {"canes_left", 0, 0, ""}, {"hurricanes 6-8 mm", 0, 0, ""}, {"", 0, 0, ""},
	} {
		got, ok, err := r.Class(c.header)
		require.NoError(t, err, c.header)
		require.Equal(t, c.to != 0, ok, c.header)
		if ok {
			require.Equal(t, c.unit, got.Unit, c.header)
			require.InDelta(t, 0, delta(c.from, got.From)+delta(c.to, got.To), 1e-9, c.header)
		}
	}
	for _, h := range []string{"canes 8-6 mm", "canes 6-6 mm", "canes 6-8 kg", "canes <0 mm"} {
		_, ok, err := r.Class(h)
		require.True(t, ok, h)
		require.Error(t, err, h)
	}
}

// delta is the difference of two numbers, 0 for the same infinity.
func delta(a, b float64) float64 {
	if a == b {
		return 0
	}
	return math.Abs(a - b)
}

func FuzzTake(f *testing.F) {
	f.Add([]byte("lat;lon\n45,21;11,37\n"))
	f.Add([]byte("\xff\xfea\x00,\x00b\x00\n\x00"))
	f.Add([]byte("a,b\n\"x\"\"y\",1.234\n"))
	f.Add([]byte("d\n03/02/2025\n45691\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r := bytes.NewReader(data)
		s, err := Take(r, Options{Limits: format.Limits{MaxBytes: 1 << 20}})
		if err != nil {
			return
		}
		rd, err := s.Read(r)
		require.NoError(t, err)
		for {
			rec, err := rd.Next()
			var bad *BadLine
			if errors.As(err, &bad) {
				continue
			}
			if err != nil {
				require.ErrorIs(t, err, io.EOF, "what could be surveyed can be read")
				return
			}
			for i := range s.Columns {
				cell := rec.Text(i)
				require.True(t, utf8.ValidString(cell))
				_, _, _ = s.Numbers(i).Parse(cell)
				_, _, _ = s.Dates(i).Parse(cell)
				_, _ = ParseDegrees(cell, true, s.Numbers(i))
			}
		}
	})
}
