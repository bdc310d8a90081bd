package tile

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// apart is the least CIEDE2000 difference between two colours that alone tell
// classes apart; below it the symbols must differ. Chosen by us: about four
// times what is just noticed side by side.
const apart = 8.0

func hexOf(c Class, dark bool) string {
	if dark {
		return c.Dark
	}
	return c.Light
}

// TestLegends_Apart: any two classes of a legend can be told apart by every
// kind of eye: by colour, or else by symbol.
func TestLegends_Apart(t *testing.T) {
	for theme, l := range Legends(nil) {
		for _, dark := range []bool{false, true} {
			for eye := range eyes {
				for i, a := range l.Classes {
					for _, b := range l.Classes[i+1:] {
						d := ciede2000(seen(t, hexOf(a, dark), eye), seen(t, hexOf(b, dark), eye))
						if d < apart {
							assert.NotEqual(t, a.Symbol, b.Symbol, "%s, dark %t, %s: %s and %s are %.1f apart", theme, dark, eyes[eye].name, a.Key, b.Key, d)
						}
					}
				}
			}
		}
	}
}

// TestLegends_Steps: the least steps between classes, per eye. The figures for
// vigour and progress were worked out when the scales were chosen, with another
// program; those for condition are worked out here. Where they fall below
// apart, the symbols differ (TestLegends_Apart).
func TestLegends_Steps(t *testing.T) {
	least := func(classes []Class, dark, neighbours bool) (out [4]float64) {
		for eye := range eyes {
			out[eye] = math.Inf(1)
			for i := range classes {
				for j := i + 1; j < len(classes); j++ {
					if neighbours && j > i+1 {
						break
					}
					out[eye] = min(out[eye], ciede2000(seen(t, hexOf(classes[i], dark), eye), seen(t, hexOf(classes[j], dark), eye)))
				}
			}
		}
		return out
	}
	vigour := VigourLegend(nil).Classes[1:]
	progress := ProgressLegend().Classes[:4]
	flagged := ConditionLegend().Classes
	for _, c := range []struct {
		name string
		got  [4]float64
		want [4]float64 // normal, protan, deutan, tritan
	}{
		{"vigour, light, neighbours", least(vigour, false, true), [4]float64{19.6, 10.2, 13.6, 14.4}},
		{"vigour, dark, neighbours", least(vigour, true, true), [4]float64{18.2, 8.0, 10.3, 13.7}},
		{"progress, light, any pair", least(progress, false, false), [4]float64{25.4, 17.6, 22.1, 22.4}},
		{"condition, light, any pair", least(flagged, false, false), [4]float64{15.3, 5.9, 11.0, 9.3}},
		{"condition, dark, any pair", least(flagged, true, false), [4]float64{18.0, 5.7, 4.8, 8.1}},
	} {
		for eye := range eyes {
			tol := 0.6 // between two ways of rounding what other eyes see
			if eye == 0 {
				tol = 0.06
			}
			assert.InDelta(t, c.want[eye], c.got[eye], tol, "%s, %s", c.name, eyes[eye].name)
		}
	}
}

// TestLegends_Contrast: casings and glyphs stand out from every colour they
// can lie on (WCAG 2.2, 1.4.11: 3:1).
func TestLegends_Contrast(t *testing.T) {
	assert.Greater(t, contrast(t, InkLight, GroundLight), 14.0)
	assert.Greater(t, contrast(t, InkDark, GroundDark), 14.0)
	for theme, l := range Legends(nil) {
		for _, c := range l.Classes {
			// A dot's casing stands out from the ground; a ring, which has
			// none, does so itself.
			if c.Symbol == SymbolRing {
				assert.Greater(t, contrast(t, c.Light, GroundLight), 3.0, "%s %s", theme, c.Key)
				assert.Greater(t, contrast(t, c.Dark, GroundDark), 3.0, "%s %s", theme, c.Key)
			}
			// Ink in a halo: one of the two edges stands out from any colour.
			for _, under := range []string{c.Light, c.Dark} {
				edge := max(contrast(t, GlyphInk, under), contrast(t, GlyphHalo, under))
				assert.GreaterOrEqual(t, edge, 4.3, "%s on %s", c.Key, under)
			}
		}
	}
}

// TestLegends_Codes: codes and keys are those of the stand's columns.
func TestLegends_Codes(t *testing.T) {
	cond := ConditionLegend().Classes
	require.Len(t, cond, conditions)
	for i, c := range cond {
		assert.EqualValues(t, i, c.Code)
		assert.Equal(t, vine.Condition(i).String(), c.Key)
	}
	prog := ProgressLegend().Classes
	require.Len(t, prog, 5)
	for i, c := range prog {
		assert.EqualValues(t, i, c.Code)
		assert.Equal(t, vine.Progress(i).String(), c.Key)
	}
	limits := stand.DefaultVigourLimits()
	vig := VigourLegend(limits[:]).Classes
	require.Len(t, vig, 6)
	for i, c := range vig {
		assert.EqualValues(t, i, c.Code)
		if i == 0 {
			assert.True(t, c.From == nil && c.To == nil)
			continue
		}
		// A value at the lower limit has this class, one just below has not.
		if c.From != nil {
			assert.Equal(t, c.Code, limits.Class(*c.From))
			assert.Equal(t, c.Code-1, limits.Class(*c.From-0.001))
		} else {
			assert.Equal(t, 1, i)
		}
		if c.To != nil {
			assert.Equal(t, c.Code+1, limits.Class(*c.To))
		} else {
			assert.Equal(t, 5, i)
		}
	}
}

func TestLegends_JSON(t *testing.T) {
	raw, err := json.Marshal(Legends([]float64{0.15, 0.3, 0.6, 1}))
	require.NoError(t, err)
	var got map[string]struct {
		Title, Unit string
		Classes     []map[string]any
	}
	require.NoError(t, json.Unmarshal(raw, &got))
	require.Len(t, got, len(Themes()))
	for theme, l := range got {
		assert.NotEmpty(t, l.Title)
		for _, c := range l.Classes {
			for _, key := range []string{"key", "label", "code", "light", "dark", "symbol", "line"} {
				assert.Contains(t, c, key, fmt.Sprint(theme, c))
			}
		}
	}
	assert.Equal(t, "kg/m", got["vigour"].Unit)
	assert.NotContains(t, got["vigour"].Classes[1], "from")
	assert.Equal(t, 0.15, got["vigour"].Classes[1]["to"])
	assert.Equal(t, 1.0, got["vigour"].Classes[5]["from"])
	assert.NotContains(t, got["vigour"].Classes[5], "to")
}

func TestVectorLayers(t *testing.T) {
	v := plots()[1].view(t)
	layers := VectorLayers()
	for _, l := range layers {
		assert.Equal(t, MaxZoom, l.MaxZoom)
	}
	// Whatever a tile holds is described, and nothing shows before its zoom.
	for z := range uint8(20) {
		for _, tl := range nearTiles(t, v, z) {
			read, err := readStrictly(Render(tl, []BlockView{v}, Options{}))
			require.NoError(t, err)
			for _, l := range read.layers {
				i := indexOf(layers, l.name)
				require.GreaterOrEqual(t, i, 0, l.name)
				assert.GreaterOrEqual(t, int(z), layers[i].MinZoom, l.name)
				for _, k := range l.keys {
					assert.Contains(t, layers[i].Fields, k, l.name)
				}
			}
		}
	}
}

func indexOf(layers []Layer, id string) int {
	for i, l := range layers {
		if l.ID == id {
			return i
		}
	}
	return -1
}
