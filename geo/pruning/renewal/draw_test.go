package renewal_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"courson/geo/pruning/renewal"
	"courson/geo/vine"
)

var update = flag.Bool("update", false, "write golden files anew")

func spurs(faces ...string) (out []vine.Spur) {
	for _, f := range faces {
		n := 2
		if f == "above" {
			n = 3
		}
		out = append(out, vine.Spur{Nodes: n, FirstBudFaces: f})
	}
	return out
}

func canes(nodes ...int) (out []vine.Cane) {
	for _, n := range nodes {
		out = append(out, vine.Cane{Nodes: n})
	}
	return out
}

var (
	upper = vine.Cut{Face: "upper", DiameterMM: 14}
	lower = vine.Cut{Face: "lower", DiameterMM: 18}
)

// past is three earlier winters of a vine with two arms, one cut of them below.
func past(t require.TestingT) renewal.History {
	winters := map[int]vine.Pruned{}
	for season := 2024; season <= 2026; season++ {
		left := armLeft("left", upper)
		if season == 2025 {
			left.LargeCuts = []vine.Cut{lower}
		}
		winters[season] = vine.Pruned{Arms: []vine.Arm{left, armLeft("right", upper)}}
	}
	h, err := renewal.NewHistory(winters, nil, renewal.Settings{})
	require.NoError(t, err)
	return h
}

// drawn are the vines of the golden files, all invented.
func drawn(t require.TestingT) map[string]renewal.Vine {
	return map[string]renewal.Vine{
		"two-arms": {Label: "H3/12/41", Season: 2027, Form: renewal.TwoArms, History: past(t), Arms: []vine.Arm{
			{Name: "left", Spurs: spurs("below"), LargeCuts: []vine.Cut{upper}},
			{Name: "right", Spurs: spurs("above"), Canes: canes(8), LargeCuts: []vine.Cut{upper}}}},
		"two-arms-two-canes": {Label: "H3/12/42", Season: 2027, Form: renewal.TwoArms, Arms: []vine.Arm{
			{Name: "left", Spurs: spurs("below"), Canes: canes(7), LargeCuts: []vine.Cut{upper}},
			{Name: "right", Spurs: []vine.Spur{{Nodes: 1, FirstBudFaces: "above"}}, Canes: canes(9)}}},
		"one-cane":       {Label: "K1/3/7", Season: 2027, Form: renewal.FromHead, Toward: "left", Arms: []vine.Arm{{Name: "head", Spurs: spurs("below"), Canes: canes(10), LargeCuts: []vine.Cut{upper}}}},
		"one-cane-arch":  {Label: "K1/3/8", Season: 2027, Form: renewal.FromHead, Arch: true, WireMM: 950, Arms: []vine.Arm{{Name: "head", Spurs: spurs("side"), Canes: canes(12)}}},
		"two-canes":      {Label: "K1/3/9", Season: 2027, Form: renewal.FromHead, Arms: []vine.Arm{{Name: "head", Spurs: spurs("below", "below"), Canes: canes(9, 9), LargeCuts: []vine.Cut{upper, {Face: "side"}}}}},
		"four-canes":     {Label: "P2/1/1", Season: 2027, Form: renewal.FromHead, Arms: []vine.Arm{{Name: "head", Spurs: spurs("below", "below"), Canes: canes(10, 10, 12, 12)}}},
		"cordon":         {Label: "R4/8/15", Season: 2027, Form: renewal.Cordon, Arms: []vine.Arm{{Name: "left", Spurs: spurs("below", "below", "below", "below", "below")}, {Name: "right", Spurs: spurs("below", "below", "above", "below", "below"), LargeCuts: []vine.Cut{upper}}}},
		"cordon-one-way": {Label: "R4/8/16", Season: 2027, Form: renewal.Cordon, Arms: []vine.Arm{{Name: "right", Spurs: spurs("below", "below", "below", "below", "side", "below"), Canes: canes(4)}}},
		"goblet":         {Label: "S1/2/3", Season: 2027, Form: renewal.Goblet, TrunkMM: 400, Arms: []vine.Arm{{Name: "1", Spurs: spurs("below")}, {Name: "2", Spurs: spurs("below"), LargeCuts: []vine.Cut{upper}}, {Name: "3", Spurs: spurs("below", "")}, {Name: "4", Spurs: spurs("below")}, {Name: "5", Spurs: spurs("below")}}},
		"cut-back":       {Label: "Y1/1/5", Season: 2027, Form: renewal.FromHead, TrunkMM: 120, ThickMM: 40, WireMM: 750, Arms: []vine.Arm{{Name: "head", Spurs: spurs("below")}}},
	}
}

func TestDraw_Golden(t *testing.T) {
	for name, v := range drawn(t) {
		for _, style := range []struct {
			suffix string
			renewal.Style
		}{{"", renewal.Style{Labels: true}}, {"-print", renewal.Style{Print: true, Labels: true}}, {"-bare", renewal.Style{ID: "a"}}} {
			got, err := renewal.Draw(v, style.Style)
			require.NoError(t, err)
			file := filepath.Join("testdata", name+style.suffix+".svg")
			if *update {
				require.NoError(t, os.WriteFile(file, got, 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err, "write it with -update")
			require.Equal(t, string(want), string(got), file)
		}
	}
}

// elements counts the elements of a drawing by name and class, and refuses what is
// not well-formed.
func elements(t require.TestingT, svg []byte) map[string]int {
	out := map[string]int{}
	d := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		if e, ok := token.(xml.StartElement); ok {
			out[e.Name.Local]++
			for _, a := range e.Attr {
				if a.Name.Local == "class" {
					out["."+a.Value]++
				}
				require.NotContains(t, a.Value, "NaN")
				require.NotContains(t, a.Value, "Inf")
			}
		}
	}
}

// What is on the vine is on the drawing: buds by the record, cuts by their age.
func TestDraw_Shows(t *testing.T) {
	svg, err := renewal.Draw(drawn(t)["two-arms"], renewal.Style{Labels: true})
	require.NoError(t, err)
	n := elements(t, svg)
	require.Equal(t, 2+3+8, n[".bud"])
	require.Equal(t, 2+1, n[".cut-new"], "two cuts and the key")
	require.Equal(t, 2*(3+3+1), n[".cut-old"], "rings and their dots")
	require.Contains(t, string(svg), "Left: spur of 2 nodes, first bud below; large cut this winter on the upper face, 14 mm; large cut of 2024 on the upper face, 14 mm; large cut of 2025 on the lower face, 18 mm; large cut of 2026 on the upper face, 14 mm; path of the sap broken.")
	require.Contains(t, string(svg), "currentColor")
	require.NotContains(t, string(svg), "#000")

	plain, err := renewal.Draw(drawn(t)["two-arms"], renewal.Style{Print: true})
	require.NoError(t, err)
	require.NotContains(t, string(plain), "currentColor")
	require.Zero(t, elements(t, plain)["text"])
}

func TestDraw_Escapes(t *testing.T) {
	v := renewal.Vine{Label: `<script>"&'` + "\x01\xff", Form: renewal.Goblet, Arms: []vine.Arm{{Name: "]]><b>", Spurs: spurs("below")}, {Name: "élevé"}}}
	svg, err := renewal.Draw(v, renewal.Style{Labels: true, ID: `"><i>`})
	require.NoError(t, err)
	n := elements(t, svg)
	require.Zero(t, n["script"]+n["b"]+n["i"])
	require.Contains(t, string(svg), "Élevé: nothing.")
}

func TestDraw_Refuses(t *testing.T) {
	for name, v := range map[string]renewal.Vine{
		"no form":        {},
		"a height":       {Form: renewal.FromHead, TrunkMM: math.NaN()},
		"a thick trunk":  {Form: renewal.FromHead, ThickMM: 301},
		"a high wire":    {Form: renewal.FromHead, WireMM: 9000},
		"arms":           {Form: renewal.Goblet, Arms: make([]vine.Arm, 13)},
		"a long cane":    {Form: renewal.FromHead, Arms: []vine.Arm{{Canes: canes(61)}}},
		"negative nodes": {Form: renewal.FromHead, Arms: []vine.Arm{{Spurs: []vine.Spur{{Nodes: -1}}}}},
		"a direction":    {Form: renewal.FromHead, Toward: "up"},
	} {
		_, err := renewal.Draw(v, renewal.Style{})
		require.ErrorIs(t, err, renewal.ErrDrawing, name)
	}
}

// Whatever is recorded can be drawn: well-formed, finite, everything inside the
// picture's frame, and the same twice.
func TestDraw_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := renewal.Vine{
			Label: rapid.String().Draw(t, "label"), Arch: rapid.Bool().Draw(t, "arch"),
			Form:    rapid.SampledFrom([]renewal.Form{renewal.FromHead, renewal.TwoArms, renewal.Cordon, renewal.Goblet}).Draw(t, "form"),
			TrunkMM: float64(rapid.SampledFrom([]int{0, 100, 800, 1800}).Draw(t, "trunk")), WireMM: float64(rapid.SampledFrom([]int{0, 400, 900}).Draw(t, "wire")),
		}
		for range rapid.IntRange(0, 5).Draw(t, "arms") {
			a := vine.Arm{Name: rapid.SampledFrom([]string{"left", "right", "head", "", "3"}).Draw(t, "name")}
			a.Spurs = spurs(rapid.SliceOfN(rapid.SampledFrom([]string{"", "below", "above", "side"}), 0, 6).Draw(t, "spurs")...)
			a.Canes = canes(rapid.SliceOfN(rapid.IntRange(0, 20), 0, 4).Draw(t, "canes")...)
			for _, f := range rapid.SliceOfN(rapid.SampledFrom([]string{"upper", "lower", "side"}), 0, 4).Draw(t, "cuts") {
				a.LargeCuts = append(a.LargeCuts, vine.Cut{Face: f, DiameterMM: float64(rapid.IntRange(0, 300).Draw(t, "mm"))})
			}
			v.Arms = append(v.Arms, a)
		}
		style := renewal.Style{Print: rapid.Bool().Draw(t, "print"), Labels: rapid.Bool().Draw(t, "labels")}
		svg, err := renewal.Draw(v, style)
		require.NoError(t, err)
		n := elements(t, svg)
		cuts := 0
		for _, a := range v.Arms {
			cuts += len(a.LargeCuts)
		}
		if style.Labels && cuts > 0 {
			cuts++
		}
		require.Equal(t, cuts, n[".cut-new"])
		again, err := renewal.Draw(v, style)
		require.NoError(t, err)
		require.Equal(t, string(svg), string(again))
		require.LessOrEqual(t, strings.Count(string(svg), "<text"), 80)
	})
}
