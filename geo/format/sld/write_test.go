package sld

import (
	"bytes"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/format"
	"courson/geo/tile"
)

const (
	sldNS = "http://www.opengis.net/sld"
	seNS  = "http://www.opengis.net/se"
	ogcNS = "http://www.opengis.net/ogc"
)

// contents is which children an element may have and in which order, each with how
// often it may come (* any number, + at least once, ? at most once, 1 once), as far
// as styles use them. Open Geospatial Consortium: schemas of Styled Layer
// Descriptor 1.1.0 (StyledLayerDescriptor.xsd), Symbology Encoding 1.1.0
// (FeatureStyle.xsd, Symbolizer.xsd) and Filter Encoding 1.1.0 (filter.xsd).
// Alternatives are joined by |.
var contents = map[string]string{
	"StyledLayerDescriptor": "Name? Description? NamedLayer*",
	"NamedLayer":            "Name1 Description? UserStyle*",
	"UserStyle":             "Name? Description? IsDefault? FeatureTypeStyle+",
	"FeatureTypeStyle":      "Name? Description? FeatureTypeName? SemanticTypeIdentifier* Rule+",
	"Rule":                  "Name? Description? LegendGraphic? Filter|ElseFilter? MinScaleDenominator? MaxScaleDenominator? PointSymbolizer|LineSymbolizer|PolygonSymbolizer|TextSymbolizer+",
	"Description":           "Title? Abstract?",
	"PointSymbolizer":       "Name? Description? BaseSymbolizer? Geometry? Graphic?",
	"LineSymbolizer":        "Name? Description? BaseSymbolizer? Geometry? Stroke? PerpendicularOffset?",
	"PolygonSymbolizer":     "Name? Description? BaseSymbolizer? Geometry? Fill? Stroke? Displacement? PerpendicularOffset?",
	"TextSymbolizer":        "Name? Description? BaseSymbolizer? Geometry? Label? Font? LabelPlacement? Halo? Fill?",
	"Graphic":               "ExternalGraphic|Mark* Opacity? Size? Rotation? AnchorPoint? Displacement?",
	"Mark":                  "WellKnownName? Fill? Stroke?",
	"Fill":                  "GraphicFill? SvgParameter*",
	"Stroke":                "GraphicFill|GraphicStroke? SvgParameter*",
	"Halo":                  "Radius? Fill?",
	"Font":                  "SvgParameter*",
	"Label":                 "PropertyName?",
	"Filter":                "And|PropertyIsEqualTo|PropertyIsGreaterThanOrEqualTo|PropertyIsLessThan1",
	"And":                   "PropertyIsEqualTo|PropertyIsGreaterThanOrEqualTo|PropertyIsLessThan+",

	"PropertyIsEqualTo": "PropertyName1 Literal1", "PropertyIsGreaterThanOrEqualTo": "PropertyName1 Literal1", "PropertyIsLessThan": "PropertyName1 Literal1",
}

// spaces says which schema an element is of; all others are of Symbology Encoding.
var spaces = map[string]string{"StyledLayerDescriptor": sldNS, "NamedLayer": sldNS, "UserStyle": sldNS, "Filter": ogcNS, "And": ogcNS,
	"PropertyIsEqualTo": ogcNS, "PropertyIsGreaterThanOrEqualTo": ogcNS, "PropertyIsLessThan": ogcNS, "PropertyName": ogcNS, "Literal": ogcNS}

type node struct {
	name  string
	attrs []xml.Attr
	text  string
	kids  []*node
}

func parse(t *testing.T, text []byte) *node {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(text))
	root := &node{}
	stack := []*node{root}
	for {
		token, err := d.Token()
		if err == io.EOF {
			require.Len(t, root.kids, 1)
			return root.kids[0]
		}
		require.NoError(t, err)
		top := stack[len(stack)-1]
		switch e := token.(type) {
		case xml.StartElement:
			want := spaces[e.Name.Local]
			if want == "" {
				want = seNS
			}
			require.Equal(t, want, e.Name.Space, e.Name.Local)
			n := &node{name: e.Name.Local, attrs: e.Attr}
			top.kids = append(top.kids, n)
			stack = append(stack, n)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			top.text += string(e)
		}
	}
}

// fits holds an element and all below it against contents.
func fits(t *testing.T, n *node) {
	t.Helper()
	model, known := contents[n.name]
	if !known {
		require.Empty(t, n.kids, "%s holds text only", n.name)
		return
	}
	k := 0
	for item := range strings.FieldsSeq(model) {
		often := item[len(item)-1]
		names := strings.Split(item[:len(item)-1], "|")
		count := 0
		for k < len(n.kids) && contains(names, n.kids[k].name) {
			k++
			count++
		}
		switch often {
		case '1':
			require.Equal(t, 1, count, "%s in %s", item, n.name)
		case '?':
			require.LessOrEqual(t, count, 1, "%s in %s", item, n.name)
		case '+':
			require.Positive(t, count, "%s in %s", item, n.name)
		}
	}
	require.Equal(t, len(n.kids), k, "%s may not stand where it stands in %s", nameAt(n, k), n.name)
	for _, kid := range n.kids {
		fits(t, kid)
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func nameAt(n *node, k int) string {
	if k < len(n.kids) {
		return n.kids[k].name
	}
	return "nothing"
}

func (n *node) all(name string) (out []*node) {
	for _, k := range n.kids {
		if k.name == name {
			out = append(out, k)
		}
		out = append(out, k.all(name)...)
	}
	return out
}

func (n *node) first(name string) string {
	if list := n.all(name); len(list) > 0 {
		return list[0].text
	}
	return ""
}

func styled(t *testing.T, s Style) *node {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, Write(&b, s))
	root := parse(t, b.Bytes())
	fits(t, root)
	return root
}

func (n *node) parameters(name string) (out []string) {
	for _, p := range n.all("SvgParameter") {
		if p.attrs[0].Value == name {
			out = append(out, p.text)
		}
	}
	return out
}

// TestWrite_EveryTheme: each class of each legend has its rule with the legend's
// words and colour, as points, lines and areas; the standard's structure holds.
func TestWrite_EveryTheme(t *testing.T) {
	for theme, legend := range tile.Legends([]float64{0.2, 0.4, 0.6, 0.8}) {
		for _, shape := range []format.Shape{format.PointShape, format.LineShape, format.AreaShape} {
			for _, by := range []By{ByKey, ByCode, ByRange} {
				root := styled(t, Style{Layer: "vines_2027", Name: string(theme), Shape: shape, Legend: legend, Column: "field<>&", By: by, Label: "row"})
				rules := root.all("Rule")
				require.Len(t, rules, len(legend.Classes))
				assert.Equal(t, "1.1.0", root.attrs[0].Value)
				assert.Equal(t, "vines_2027", root.first("Name"))
				for i, c := range legend.Classes {
					r := rules[i]
					assert.Equal(t, c.Key, r.first("Name"))
					assert.Equal(t, c.Label, r.first("Title"))
					assert.Contains(t, append(r.parameters("fill"), r.parameters("stroke")...), c.Light, c.Key)
					if names := r.all("PropertyName"); len(names) > 1 { // one is the label's
						assert.Equal(t, "field<>&", names[0].text)
					}
					for _, m := range r.all("WellKnownName") {
						assert.Contains(t, []string{"square", "circle", "triangle", "star", "cross", "x"}, m.text, "OGC 05-077r4, 11.3.2")
					}
				}
			}
		}
	}
}

// Classes must differ by more than their colour: no two of a theme have the same
// signs in colours that some eyes cannot tell apart. Where the legend gives two
// classes different symbols, their signs differ.
func TestWrite_SignsDifferAsSymbolsDo(t *testing.T) {
	shape := func(c tile.Class) string {
		c.Light = "#000000"
		d := &document{}
		d.marks(c)
		return d.String()
	}
	for theme, legend := range tile.Legends(nil) {
		for i, a := range legend.Classes {
			for _, b := range legend.Classes[:i] {
				assert.Equal(t, a.Symbol == b.Symbol, shape(a) == shape(b), "%s: %s and %s", theme, a.Key, b.Key)
			}
		}
	}
}

func TestWrite_Filters(t *testing.T) {
	low, high := 4.0, 9.5
	legend := tile.Legend{Title: "Load", Classes: []tile.Class{{Key: "none", Light: "#000000"}, {Key: "small", Code: 1, Light: "#111111", To: &low},
		{Key: "some", Code: 2, Light: "#222222", From: &low, To: &high}, {Key: "much", Code: 3, Light: "#333333", From: &high}}}
	rules := styled(t, Style{Layer: "l", Name: "load", Shape: format.PointShape, Legend: legend, Column: "nodes", By: ByRange}).all("Rule")
	assert.Len(t, rules[0].all("ElseFilter"), 1, "what has no value")
	assert.Equal(t, "4", rules[1].all("PropertyIsLessThan")[0].first("Literal"))
	assert.Len(t, rules[2].all("And"), 1)
	assert.Equal(t, "4", rules[2].all("PropertyIsGreaterThanOrEqualTo")[0].first("Literal"))
	assert.Equal(t, "9.5", rules[2].all("PropertyIsLessThan")[0].first("Literal"))
	assert.Empty(t, rules[3].all("And"))
	byCode := styled(t, Style{Layer: "l", Name: "load", Shape: format.LineShape, Legend: legend, Column: "class", By: ByCode}).all("Rule")
	assert.Equal(t, "3", byCode[3].first("Literal"))
	byKey := styled(t, Style{Layer: "l", Name: "load", Shape: format.AreaShape, Legend: legend, Column: "class", By: ByKey}).all("Rule")
	assert.Equal(t, "much", byKey[3].first("Literal"))
	one := styled(t, Style{Layer: "l", Name: "plain", Shape: format.AreaShape, Legend: tile.Legend{Classes: legend.Classes[:1]}, By: ByNone, Label: "block"})
	assert.Empty(t, one.all("Filter"))
	assert.Empty(t, one.all("ElseFilter"))
	assert.Equal(t, "block", one.all("Label")[0].first("PropertyName"))
	require.Error(t, Write(io.Discard, Style{Shape: format.PointShape}))
}
