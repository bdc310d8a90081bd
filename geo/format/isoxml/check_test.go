package isoxml

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/format"
	"courson/geo/frame"
)

func TestCheck(t *testing.T) {
	require.Empty(t, Check(scene(), Limits{WidthM: 3}))
	f := frame.New(orb.Point{145.3205, -37.729})
	ring := func(xy ...float64) orb.Ring {
		var l frame.Line
		for i := 0; i < len(xy); i += 2 {
			l = append(l, frame.XY{X: xy[i], Y: xy[i+1]})
		}
		return orb.Ring(f.LineString(append(l, l[0])))
	}
	for _, c := range []struct {
		name, want string
		zone       int
		change     func(*Plan)
	}{
		{"name missing", "a name is missing", None, func(p *Plan) { p.Field = " " }},
		{"name too long", "a name is too long", 1, func(p *Plan) { p.Zones[1].Name = strings.Repeat("é", 33) }},
		{"name with a line break", "characters that no terminal shows", None, func(p *Plan) { p.Task = "a\nb" }},
		{"no inputs", "there is no input", None, func(p *Plan) {
			p.Inputs = nil
			for i := range p.Zones {
				p.Zones[i].Rates = nil
			}
		}},
		{"unit", "not one of", None, func(p *Plan) { p.Inputs[0].Unit = "bags" }},
		{"product twice", "the same product twice", None, func(p *Plan) { p.Inputs[1].Product = p.Inputs[0].Product }},
		{"rate missing", "the rate is missing", 2, func(p *Plan) { p.Zones[2].Rates[0] = math.NaN() }},
		{"rate too high", "too high", 0, func(p *Plan) { p.Zones[0].Rates[0] = 1e9 }},
		{"too few rates", "not one rate for each input", 0, func(p *Plan) { p.Zones[0].Rates = []float64{1} }},
		{"text rate", "a rate is a text", 0, func(p *Plan) { p.Zones[0].RateTexts = []string{"12", "13"} }},
		{"no area", "the zone has no area", 2, func(p *Plan) {
			p.Zones[2].Area = nil
			p.Zones[1].Area[0] = p.Zones[1].Area[0][:1]
		}},
		{"no boundary", "no boundary", None, func(p *Plan) { p.Boundary = nil }},
		{"overlap", "two zones overlap; found 500.0", 1, func(p *Plan) {
			p.Zones[1].Area[0][0] = ring(95, 50, 200, 0, 200, 150, 95, 150)
			p.Zones[0].Area[0][0] = ring(0, 0, 200, 0, 95, 50, 100, 50, 100, 150, 0, 150)
		}},
		{"gap", "part of the field has no zone; found 900.0", None, func(p *Plan) { p.Zones = p.Zones[:2] }},
		{"beyond", "reaches beyond the boundary; found 1500.0", 0, func(p *Plan) { p.Zones[0].Area[0][0] = ring(-10, 0, 100, 0, 100, 150, -10, 150) }},
		{"crosses itself", "crosses itself", 2, func(p *Plan) { p.Zones[2].Area[0][0] = ring(130, 60, 160, 90, 160, 60, 130, 90) }},
		{"scrap", "a part of the zone is a scrap; found part 1 of 4.00 m²", 2, func(p *Plan) {
			p.Zones[2].Area = append(p.Zones[2].Area, orb.Polygon{ring(10, 10, 12, 10, 12, 12, 10, 12)})
		}},
		{"narrow", "narrower than the machine; found part 0, 2.50 m at its widest", 2, func(p *Plan) {
			p.Zones[2].Area = orb.MultiPolygon{{ring(130, 60, 160, 60, 160, 62.5, 130, 62.5)}}
			p.Zones[1].Area[0][1] = p.Zones[2].Area[0][0]
		}},
		{"open ring", "a ring is open", 2, func(p *Plan) { p.Zones[2].Area[0][0] = p.Zones[2].Area[0][0][:4] }},
		{"heights", "positions have heights", 1, func(p *Plan) { p.Zones[1].Heights = true }},
		{"latitude", "no place", 0, func(p *Plan) { p.Zones[0].Area[0][0][1][1] = 95 }},
		{"too many zones", "too many or no zones", None, func(p *Plan) {
			for len(p.Zones) <= 254 {
				p.Zones = append(p.Zones, p.Zones[2])
			}
		}},
		{"grid code", "names a zone that is not there", None, func(p *Plan) {
			p.Grid = &Grid{Type: 1, South: -37.7, West: 145.3, CellLat: 0.1, CellLon: 0.1, Columns: 1, Rows: 1, Zone: []uint8{9}}
		}},
		{"grid type", "not a type of grid", None, func(p *Plan) { p.Grid = &Grid{Type: 3} }},
		{"grid rates", "not one rate for each cell", None, func(p *Plan) {
			p.Grid = &Grid{Type: 2, South: -37.7, West: 145.3, CellLat: 0.1, CellLon: 0.1, Columns: 1, Rows: 1}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := scene()
			c.change(p)
			problems := Check(p, Limits{WidthM: 3})
			var said []string
			found := false
			for _, x := range problems {
				said = append(said, x.Error())
				found = found || x.Feature == c.zone && strings.Contains(x.Error(), c.want)
			}
			require.True(t, found, "wanted %q among:\n%s", c.want, strings.Join(said, "\n"))
			var b bytes.Buffer
			err := WriteZip(&b, p, Limits{WidthM: 3}, by, made)
			var bad *Bad
			require.ErrorAs(t, err, &bad)
			require.Zero(t, b.Len(), "nothing half-written")
		})
	}
	t.Run("too many positions", func(t *testing.T) {
		require.ErrorContains(t, (&Bad{Check(scene(), Limits{Points: 20})}), "too many positions for a terminal; found 25")
	})
}

// The case O-55: zones that a terminal would turn down. Faults as the case lists
// them: a rate missing in E, text rates, two scraps, two overlaps, heights.
func TestMend_ZonesForTerminal(t *testing.T) {
	b, err := os.ReadFile("testdata/o55_zones_for_terminal.geojson")
	require.NoError(t, err)
	var fc struct {
		Features []struct {
			Properties struct {
				Zone string
				Rate *string
			}
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	require.NoError(t, json.Unmarshal(b, &fc))
	p := &Plan{Customer: "Invented estate", Farm: "Home farm", Field: "B1", Task: "Water 2027", Inputs: []Input{{"Water", LitresPerHa}}}
	for _, ft := range fc.Features {
		z := Zone{Name: ft.Properties.Zone, RateTexts: []string{""}}
		if ft.Properties.Rate != nil {
			z.RateTexts[0] = *ft.Properties.Rate
		}
		var rings [][][][]float64
		if ft.Geometry.Type == "Polygon" {
			rings = make([][][][]float64, 1)
			require.NoError(t, json.Unmarshal(ft.Geometry.Coordinates, &rings[0]))
		} else {
			require.NoError(t, json.Unmarshal(ft.Geometry.Coordinates, &rings))
		}
		for _, pg := range rings {
			var out orb.Polygon
			for _, r := range pg {
				var ring orb.Ring
				for _, at := range r {
					z.Heights = z.Heights || len(at) > 2
					ring = append(ring, orb.Point{at[0], at[1]})
				}
				out = append(out, ring)
			}
			z.Area = append(z.Area, out)
		}
		p.Zones = append(p.Zones, z)
	}
	p.Boundary = orb.MultiPolygon{{{{11.369982704, 45.209990087}, {11.370154953, 45.209945771}, {11.370263796, 45.210157154}, {11.370091547, 45.21020147}, {11.369982704, 45.209990087}}}}
	count := func(p *Plan) map[string]int {
		n := map[string]int{}
		for _, x := range Check(p, Limits{}) {
			n[x.What]++
		}
		return n
	}
	require.Equal(t, map[string]int{"a rate is a text": 6, scrap: 2, "two zones overlap": 2, heights3D: 1}, count(p))
	mended, notices := Mend(p, Limits{})
	said := texts(notices)
	for _, want := range []string{`"12 L/ha" read as 12 l/ha`, `"16,5" read as 16.5 l/ha`, "heights left out", "a scrap of 0.15 m² dropped", "a scrap of 0.20 m² dropped", `zone "sliver" dropped`} {
		require.Contains(t, said, want)
	}
	require.Equal(t, map[string]int{"the rate is missing": 1}, count(mended), "a person must say it: never 0")
	require.Len(t, p.Zones, 6, "the plan given is not changed")
	require.NotNil(t, p.Zones[0].RateTexts)
	mended.Zones[4].Rates[0] = 10
	require.Empty(t, count(mended))
	d := readBack(t, write(t, mended, Limits{}))
	require.Len(t, d.Tasks[0].Zones, 6)
	require.InDelta(t, 360, frame.WGS84.MultiPolygonArea(d.Fields[0].Boundary), 0.5)
	var covered float64
	for _, z := range d.Tasks[0].Zones {
		covered += frame.WGS84.MultiPolygonArea(z.Area)
	}
	require.InDelta(t, 360, covered, 0.5, "the whole block")
}

func TestMend_RingsAndNames(t *testing.T) {
	p := scene()
	p.Task = "  Compost\tof a very long name indeed, for H3 "
	r := p.Zones[0].Area[0][0]
	var dense orb.Ring
	for i := 0; i+1 < len(r); i++ {
		for k := range 10 {
			f := float64(k) / 10
			dense = append(dense, orb.Point{r[i][0] + f*(r[i+1][0]-r[i][0]), r[i][1] + f*(r[i+1][1]-r[i][1])})
		}
		dense = append(dense, dense[len(dense)-1])
	}
	p.Zones[0].Area[0][0] = dense // open, dense, with repeats
	require.NotEmpty(t, Check(p, Limits{}))
	m, notices := Mend(p, Limits{})
	require.Equal(t, "Compost of a very long name inde", m.Task)
	require.Len(t, m.Zones[0].Area[0][0], 5)
	require.Contains(t, texts(notices), "a ring closed")
	require.Contains(t, texts(notices), "places left out")
	require.Empty(t, Check(m, Limits{}))
	again, more := Mend(m, Limits{})
	require.Empty(t, more, "nothing left to mend")
	require.Equal(t, m, again)
}

// However a plan is spoilt: no panic, and what passes Check is written and read.
func TestCheck_SpoiltPlans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := scene()
		for range rapid.IntRange(1, 4).Draw(t, "faults") {
			z := &p.Zones[rapid.IntRange(0, 2).Draw(t, "zone")]
			if len(z.Area) == 0 || len(z.Area[0]) == 0 || len(z.Area[0][0]) == 0 {
				continue
			}
			r := z.Area[0][0]
			i := rapid.IntRange(0, len(r)-1).Draw(t, "place")
			switch rapid.IntRange(0, 7).Draw(t, "fault") {
			case 0:
				r[i][0] += rapid.Float64Range(-1e-3, 1e-3).Draw(t, "moved")
			case 1:
				z.Area[0][0] = r[:i]
			case 2:
				z.Area[0] = nil
			case 3:
				z.Area = nil
			case 4:
				r[i] = r[(i+1)%len(r)]
			case 5:
				z.RateTexts = []string{"5", "6,5"}
			case 6:
				r[i][1] = math.NaN()
			case 7:
				p.Boundary[0] = nil
			}
		}
		m, _ := Mend(p, Limits{})
		_, _ = MakeGrid(m, 1, 5)
		for _, p := range []*Plan{p, m} {
			var b bytes.Buffer
			err := WriteZip(&b, p, Limits{WidthM: 3}, by, made)
			require.Equal(t, len(Check(p, Limits{WidthM: 3})) == 0, err == nil)
			if err == nil {
				_, notices, err := ReadZip(bytes.NewReader(b.Bytes()), int64(b.Len()), format.Limits{})
				require.NoError(t, err)
				require.Empty(t, notices)
			}
		}
	})
}

func TestParseRate(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
		err  string
	}{
		{"12 L/ha", 12, ""}, {"16,5", 16.5, ""}, {"0.125 l/ha", 0.125, ""}, {"250", 250, ""}, {" 7.5l/ha ", 7.5, ""},
		{"12 kg/ha", 0, "is not l/ha"}, {"", 0, "no number"}, {"abc", 0, "not l/ha"}, {"1,250", 0, "thousands"}, {"1.2.3", 0, "no number"},
		{"-3", 0, "not l/ha"}, {"5.", 0, "no number"}, {"1,250,000", 0, "no number"},
	} {
		v, err := ParseRate(c.text, LitresPerHa)
		if c.err != "" {
			require.ErrorContains(t, err, c.err, c.text)
			continue
		}
		require.NoError(t, err, c.text)
		require.Equal(t, c.want, v)
	}
}

// Areas of overlay against two rectangles turned by any angle, worked out by
// hand, and against counted points.
func TestOverlay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		turn := rapid.Float64Range(0, math.Pi).Draw(t, "turn")
		w := rapid.Float64Range(1, 9).Draw(t, "w")
		s, c := math.Sincos(turn)
		box := func(x0, y0, x1, y1 float64) frame.MultiPolygon {
			var r frame.Ring
			for _, p := range [5][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}} {
				r = append(r, frame.XY{X: p[0]*c - p[1]*s, Y: p[0]*s + p[1]*c})
			}
			return frame.MultiPolygon{{r}}
		}
		o := overlay([]frame.MultiPolygon{box(0, 0, 20, 10), box(-1, 0, 10, 10), box(10-w/2, 2, 10+w, 5)})
		require.InDelta(t, 3*w/2, o[pair{1, 2}], 1e-9)
		require.InDelta(t, 10, o[pair{1, 1}], 1e-9, "beyond")
		require.InDelta(t, 0, o[pair{2, 2}], 1e-9)
		require.InDelta(t, 100-3*w, o[pair{0, 0}], 1e-9)
	})
}

func TestWidest(t *testing.T) {
	rect := func(w, h float64) frame.Polygon {
		return frame.Polygon{{{X: 0, Y: 0}, {X: w, Y: 0}, {X: w, Y: h}, {X: 0, Y: h}, {X: 0, Y: 0}}}
	}
	assert.InDelta(t, 10, widest(rect(10, 10)), 0.03)
	assert.InDelta(t, 2, widest(rect(300, 2)), 0.03)
	// Inscribed circle of the 3-4-5 triangle has radius 1 (Euclid).
	assert.InDelta(t, 2, widest(frame.Polygon{{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 0, Y: 3}, {X: 0, Y: 0}}}), 0.03)
	ring := frame.Polygon{rect(10, 10)[0], {{X: 2, Y: 2}, {X: 8, Y: 2}, {X: 8, Y: 8}, {X: 2, Y: 8}, {X: 2, Y: 2}}}
	assert.InDelta(t, 4*(2-math.Sqrt2), widest(ring), 0.05, "in a corner of the frame, by hand: r + (r√2) to the inner corner")
}

// A field of a hundred zones with 5,000 positions.
func BenchmarkCheck(b *testing.B) {
	f := frame.New(orb.Point{145.3205, -37.729})
	p := scene(Input{"A", LitresPerHa})
	p.Zones = nil
	p.Boundary = orb.MultiPolygon{{orb.Ring(f.LineString(frame.Line{{X: 0, Y: 0}, {X: 400, Y: 0}, {X: 400, Y: 200}, {X: 0, Y: 200}, {X: 0, Y: 0}}))}}
	wave := func(x, y float64) frame.XY {
		if y > 0 && y < 200 && x > 0 && x < 400 {
			x += 3 * math.Sin(y)
		}
		return frame.XY{X: x, Y: y}
	}
	for i := range 100 {
		x := 4 * float64(i)
		var l frame.Line
		for k := range 25 {
			l = append(l, wave(x, 200-float64(k)*200/24))
		}
		for k := range 25 {
			l = append(l, wave(x+4, float64(k)*200/24))
		}
		p.Zones = append(p.Zones, Zone{Name: "z", Area: orb.MultiPolygon{{orb.Ring(f.LineString(append(l, l[0])))}}, Rates: []float64{10}})
	}
	for b.Loop() {
		if problems := Check(p, Limits{WidthM: 2, Points: 6000}); len(problems) > 0 {
			b.Fatal((&Bad{problems}).Error())
		}
	}
}
