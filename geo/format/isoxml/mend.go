package isoxml

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"

	"github.com/paulmach/orb"

	"courson/geo/format"
	"courson/geo/frame"
)

// Mend gives a plan in which everything is put right that needs no decision, and
// says what it did: rates written as texts are read, heights left out, names
// cut, rings closed, repeated places and places on straight lines left out,
// scraps dropped where another zone covers their ground. What it leaves wrong,
// Check finds. The plan given is not changed.
func Mend(p *Plan, l Limits) (*Plan, []format.Notice) {
	m := &mender{l: l.withDefaults()}
	out := *p
	for _, n := range []struct {
		field string
		s     *string
	}{{"customer", &out.Customer}, {"farm", &out.Farm}, {"field", &out.Field}, {"task", &out.Task}} {
		m.name(None, n.field, n.s)
	}
	out.Inputs = slices.Clone(p.Inputs)
	for i := range out.Inputs {
		m.name(None, "product", &out.Inputs[i].Product)
	}
	out.Boundary = m.outlines(None, p.Boundary)
	out.Zones = slices.Clone(p.Zones)
	for i := range out.Zones {
		z := &out.Zones[i]
		m.name(i, "name", &z.Name)
		m.texts(i, z, out.Inputs)
		if z.Heights {
			z.Heights = false
			m.say(i, "area", "heights left out")
		}
		z.Area = m.outlines(i, z.Area)
	}
	m.scraps(&out)
	return &out, m.notices.List()
}

type mender struct {
	l       Limits
	notices format.Notices
}

func (m *mender) say(zone int, field, text string) { m.notices.Add("", field, zone, 0, text) }

func (m *mender) name(zone int, field string, s *string) {
	t := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(*s, " "))
	t = strings.Join(strings.Fields(t), " ")
	if r := []rune(t); len(r) > m.l.NameLen {
		t = strings.TrimSpace(string(r[:m.l.NameLen]))
	}
	if t != *s {
		m.say(zone, field, fmt.Sprintf("name %s written as %s", format.Quote(*s), format.Quote(t)))
		*s = t
	}
}

// texts reads rates that came as texts; where one cannot be read, its rate is
// missing.
func (m *mender) texts(zone int, z *Zone, inputs []Input) {
	if z.RateTexts == nil || len(z.RateTexts) != len(inputs) {
		return
	}
	rates := make([]float64, len(inputs))
	for k, t := range z.RateTexts {
		if strings.TrimSpace(t) == "" {
			rates[k] = math.NaN()
			continue
		}
		v, err := ParseRate(t, inputs[k].Unit)
		if err != nil {
			return // Check tells of the text
		}
		rates[k] = v
		m.say(zone, "rate", fmt.Sprintf("%s read as %v %s", format.Quote(t), v, inputs[k].Unit))
	}
	z.Rates, z.RateTexts = rates, nil
}

// outlines cleans rings.
func (m *mender) outlines(zone int, mp orb.MultiPolygon) orb.MultiPolygon {
	f, err := frame.ForGeometry(mp)
	if err != nil {
		return mp
	}
	out := make(orb.MultiPolygon, 0, len(mp))
	for _, pg := range mp {
		var clean orb.Polygon
		for k, r := range pg {
			c, left := tidy(f, closed(r))
			if len(c) > len(r) || len(r) > 0 && r[0] != r[len(r)-1] {
				m.say(zone, "area", "a ring closed")
			}
			if left > 0 {
				m.say(zone, "area", fmt.Sprintf("%d places left out that repeat the one before or lie within %v mm of a straight line", left, borderM*1000))
			}
			if len(c) >= 4 && (c.Orientation() == orb.CCW) != (k == 0) {
				slices.Reverse(c)
			}
			clean = append(clean, c)
		}
		out = append(out, clean)
	}
	return out
}

// tidy leaves out places that repeat the one before or lie on the line between
// their neighbours. The first place stays.
func tidy(f frame.Frame, r orb.Ring) (orb.Ring, int) {
	if len(r) < 5 {
		return slices.Clone(r), 0
	}
	out := orb.Ring{r[0]}
	for i := 1; i+1 < len(r); {
		last := f.XY(out[len(out)-1])
		// The longest piece from the last kept place that all places between
		// keep to.
		j := i
		for ; j+1 < len(r) && j-i < 200; j++ {
			if !straight(f, last, r[i:j+1], f.XY(r[j+1])) {
				break
			}
		}
		if j+1 >= len(r) {
			break
		}
		out = append(out, r[j])
		i = j + 1
	}
	out = append(out, r[len(r)-1])
	if len(out) < 4 {
		return slices.Clone(r), 0
	}
	return out, len(r) - len(out)
}

func straight(f frame.Frame, a frame.XY, between []orb.Point, b frame.XY) bool {
	if a == b {
		return false
	}
	for _, p := range between {
		at := f.XY(p)
		near, _ := frame.NearestOnSegment(at, a, b)
		if frame.Dist(near, at) > borderM {
			return false
		}
	}
	return true
}

// scraps drops parts below the least area that another zone covers; a zone of
// which nothing is left goes with them.
func (m *mender) scraps(p *Plan) {
	if p.Grid != nil && p.Grid.Type == 1 {
		return // codes of cells count the zones
	}
	var kept []Zone
	for i, z := range p.Zones {
		var area orb.MultiPolygon
		for _, pg := range z.Area {
			f, err := frame.ForGeometry(pg)
			if err != nil || len(pg) == 0 {
				area = append(area, pg)
				continue
			}
			m2 := f.Polygon(pg).Area()
			if m2 >= m.l.LeastAreaM2 || !m.covered(p.Zones, i, f, pg, m2) {
				area = append(area, pg)
				continue
			}
			m.say(i, "area", fmt.Sprintf("a scrap of %.2f m² dropped: other zones cover its ground", m2))
		}
		if len(area) == 0 && len(z.Area) > 0 {
			m.say(i, "name", fmt.Sprintf("zone %s dropped: nothing is left of it", format.Quote(z.Name)))
			continue
		}
		z.Area = area
		kept = append(kept, z)
	}
	p.Zones = kept
}

// covered tells whether other zones cover a scrap, but for its border.
func (m *mender) covered(zones []Zone, own int, f frame.Frame, pg orb.Polygon, m2 float64) bool {
	areas := []frame.MultiPolygon{{f.Polygon(pg)}}
	for i, z := range zones {
		for _, other := range z.Area {
			if i != own && other.Bound().Intersects(pg.Bound()) && len(other) > 0 {
				if big := f.Polygon(other); big.Area() >= m.l.LeastAreaM2 {
					areas = append(areas, frame.MultiPolygon{big})
				}
			}
		}
	}
	return overlay(areas)[pair{0, 0}] <= max(0.01*m2, borderM*perimeter(areas[0]))
}
