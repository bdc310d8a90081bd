package renewal

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// layer is what lies on what; the first is at the back.
type layer int

const (
	groundLayer layer = iota
	wireLayer
	outlineLayer // of old wood, in print
	oldLayer
	barkLayer
	caneLayer
	spurLayer
	tieLayer
	cutLayer
	labelLayer
	layers
)

// sheet collects shapes and their extent.
type sheet struct {
	style     Style
	text      [layers]strings.Builder
	low, high point // extent
}

func newSheet(style Style) *sheet {
	return &sheet{style: style, low: point{-300, -60}, high: point{300, 0}}
}

// ink is the color everything is drawn in.
func (s *sheet) ink() string {
	if s.style.Print {
		return "#000"
	}
	return "currentColor"
}

func (s *sheet) reach(p point, margin float64) {
	s.low = point{math.Min(s.low.x, p.x-margin), math.Min(s.low.y, p.y-margin)}
	s.high = point{math.Max(s.high.x, p.x+margin), math.Max(s.high.y, p.y+margin)}
}

// num writes a length to a tenth of a millimetre.
func num(v float64) string {
	v = math.Round(10*v) / 10
	if v == 0 {
		v = 0 // no minus sign
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

// xy writes a place; heights grow downwards in SVG.
func xy(p point) string { return num(p.x) + " " + num(-p.y) }

func (s *sheet) add(l layer, format string, args ...any) {
	fmt.Fprintf(&s.text[l], format+"\n", args...)
}

func path(points []point, closed bool) string {
	var b strings.Builder
	for k, p := range points {
		b.WriteString([]string{"L", "M"}[btoi(k == 0)] + xy(p))
	}
	if closed {
		b.WriteString("Z")
	}
	return b.String()
}

func btoi(b bool) int { return int(flag(b)) }

// oldWood draws wood of several years; youngWood that of last summer.
func (s *sheet) oldWood(l line, from, to float64) {
	s.old(fmt.Sprintf(`<path d="%s"`, path(l.outline(from, to), true)))
	for _, p := range l {
		s.reach(p, from)
	}
}

func (s *sheet) knob(c point, r float64) {
	s.old(fmt.Sprintf(`<circle cx="%s" cy="%s" r="%s"`, num(c.x), num(-c.y), num(r)))
}

// old puts a shape of old wood down. In print it is white within black edges: all
// edges first, so that none shows where two shapes meet.
func (s *sheet) old(shape string) {
	if s.style.Print {
		s.add(outlineLayer, `%s fill="#fff" stroke="#000" stroke-width="7" stroke-linejoin="round"/>`, shape)
		s.add(oldLayer, `%s fill="#fff"/>`, shape)
		return
	}
	s.add(oldLayer, `%s/>`, shape)
}

func (s *sheet) youngWood(on layer, l line, from, to float64) {
	s.add(on, `<path d="%s"/>`, path(l.outline(from, to), true))
	for _, p := range l {
		s.reach(p, 40)
	}
}

func (s *sheet) words(p point, anchor, text string) {
	s.add(labelLayer, `<text x="%s" y="%s" text-anchor="%s">%s</text>`, num(p.x), num(-p.y), anchor, escape(text))
	const perLetter = 18.0
	wide := perLetter * float64(len([]rune(text)))
	switch anchor {
	case "end":
		s.reach(point{p.x - wide, p.y}, 36)
	case "middle":
		s.reach(point{p.x - wide/2, p.y}, 36)
		s.reach(point{p.x + wide/2, p.y}, 36)
	default:
		s.reach(point{p.x + wide, p.y}, 36)
	}
}

// escape makes text fit for XML; what XML cannot hold becomes U+FFFD.
func escape(text string) string {
	var b bytes.Buffer
	if err := xml.EscapeText(&b, []byte(text)); err != nil {
		return ""
	}
	return b.String()
}

// svg joins the layers.
func (s *sheet) svg(v Vine) []byte {
	id := s.style.ID
	if id == "" {
		id = "vine"
	}
	id = escape(id)
	var b bytes.Buffer
	size := s.high.minus(s.low)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="%s %s %s %s" role="img" aria-labelledby="%s-title %s-desc" class="vine-drawing">`+"\n",
		num(s.low.x), num(-s.high.y), num(size.x), num(size.y), id, id)
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n<desc id=\"%s-desc\">%s</desc>\n", id, escape(v.title()), id, escape(v.describe()))
	if s.style.Print {
		fmt.Fprintf(&b, "<rect x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\" fill=\"#fff\"/>\n", num(s.low.x), num(-s.high.y), num(size.x), num(size.y))
	}
	ink := s.ink()
	for l, g := range [layers]string{
		`class="ground" fill="none" stroke="` + ink + `" stroke-width="4" stroke-linecap="round"`,
		`class="wire" fill="none" stroke="` + ink + `" stroke-width="3"`,
		`class="old-wood"`,
		`class="old-wood" fill="` + ink + `"` + []string{` opacity="0.4"`, ""}[btoi(s.style.Print)],
		`class="bark" fill="none" stroke="` + ink + `" stroke-width="2.5" stroke-linecap="round" opacity="0.6"`,
		`class="cane" fill="` + ink + `"`,
		`class="spur" fill="` + ink + `"`,
		`class="tie" fill="none" stroke="` + ink + `" stroke-width="4"`,
		`class="cuts" stroke="` + ink + `" stroke-width="5" stroke-linejoin="round"`,
		`class="label" fill="` + ink + `" font-family="sans-serif" font-size="34"`,
	} {
		if text := s.text[l].String(); text != "" {
			fmt.Fprintf(&b, "<g %s>\n%s</g>\n", g, text)
		}
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}
