package tile

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"courson/geo/stand"
	"courson/geo/vine"
)

// picture draws and reads back one picture.
func picture(t *testing.T, r *Renderer, tl Tile, theme Theme, scale int, blocks ...BlockView) *image.Paletted {
	raw, err := r.PNG(tl, theme, scale, blocks)
	require.NoError(t, err)
	require.NotEmpty(t, raw)
	img, err := png.Decode(bytes.NewReader(raw))
	require.NoError(t, err)
	p, ok := img.(*image.Paletted)
	require.True(t, ok, "%T", img)
	require.Equal(t, image.Rect(0, 0, PictureSide*scale, PictureSide*scale), p.Rect)
	return p
}

func shade(img image.Image, x, y int) color.NRGBA {
	return color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
}

// rowOf is one row of vines running east, one of each condition, wide apart.
func rowOf(t *testing.T, conds []vine.Condition, vigour []uint8, progress []vine.Progress) BlockView {
	p := plot{block: 1, code: "H1", lat: -37.72, lon: 145.32, azimuth: 90, rows: 1, vines: len(conds), rowM: 10, vineM: 10}
	s, _ := p.grow(t)
	s.Condition, s.Vigour, s.Progress = conds, vigour, progress
	v, err := NewView(s, nil, nil, "", "")
	require.NoError(t, err)
	return v
}

// TestPNG_Dots: the middle of a vine's dot has its class's colour, its edge
// the casing's, the place beside it nothing; a vine without data is a hollow
// ring; gaps are glyphs in ink and halo.
func TestPNG_Dots(t *testing.T) {
	conds := []vine.Condition{vine.Bearing, vine.Bearing, vine.Bearing, vine.Missing, vine.Dead, vine.Bearing}
	v := rowOf(t, conds, []uint8{1, 3, 5, 0, 0, 0}, make([]vine.Progress, len(conds)))
	var r Renderer
	g := v.Stand.Ground
	checked := map[int]bool{}
	for _, scale := range []int{1, 2} {
		for _, z := range []uint8{19, 20} {
			for i := range conds {
				lon, lat := FromWorld(g.WX[i], g.WY[i])
				tl, err := At(lon, lat, z)
				require.NoError(t, err)
				img := picture(t, &r, tl, ThemeVigour, scale, v)
				e := easel{canvas: &canvas{side: PictureSide * scale}, grid: gridOf(tl, 10)}
				at := e.pixel([2]uint32{g.WX[i], g.WY[i]})
				x, y := int(at[0]), int(at[1])
				if x < 14*scale || y < 14*scale || x > 242*scale || y > 242*scale {
					continue
				}
				checked[i] = true
				middle, beside := shade(img, x, y), shade(img, x, y+14*scale)
				assert.Zero(t, beside.A, "beside vine %d", i)
				want := map[int]string{0: "#f7d26a", 1: "#33906a", 2: "#013249", 3: GlyphInk, 4: GlyphInk, 5: GroundLight}[i]
				c, err := parseColour(want)
				require.NoError(t, err)
				assert.Equal(t, c, middle, "vine %d at zoom %d scale %d", i, z, scale)
				if i < 3 {
					edge := shade(img, x, y-int(mostDot*float64(scale)-0.7))
					ink, err := parseColour(InkLight)
					require.NoError(t, err)
					assert.InDelta(t, ink.R, edge.R, 60, "casing of vine %d", i)
				}
			}
		}
	}
	assert.Len(t, checked, len(conds), "each vine was looked at")
}

// TestPNG_Themes: every class of every theme appears in its colour as an area,
// as a row and as a mark.
func TestPNG_Themes(t *testing.T) {
	var r Renderer
	for theme, l := range Legends(nil) {
		for _, c := range l.Classes {
			p := plot{block: 1, code: "", lat: -37.72, lon: 145.32, rows: 40, vines: 80, rowM: 2.5, vineM: 1.25}
			s, mp := p.grow(t)
			for i := range s.Condition {
				s.Condition[i], s.Vigour[i], s.Progress[i] = vine.Bearing, 0, 0
				switch theme {
				case ThemeCondition:
					s.Condition[i] = vine.Condition(c.Code)
				case ThemeVigour:
					s.Vigour[i] = c.Code
				case ThemeProgress:
					s.Progress[i] = vine.Progress(c.Code)
				case ThemeLoad:
					s.Nodes[i] = nodesOf(c.Code)
				case ThemeFollowUps:
					s.Follow = append(s.Follow, vine.FollowUp(c.Code))
				}
			}
			if theme == ThemeDoubt || theme == ThemeChange || theme == ThemePatches || theme == ThemeReplants || theme == ThemeZones {
				s = withFound(t, s, c.Code)
			}
			o, err := PrepareOutline(mp)
			require.NoError(t, err)
			v, err := NewView(s, nil, o, "", "")
			require.NoError(t, err)
			if theme == ThemeProgress && c.Key == vine.Skipped.String() {
				continue // all skipped: a piece counts as done
			}
			want, err := parseColour(c.Light)
			require.NoError(t, err)
			lon, lat := p.at(20, 40)
			for _, z := range []uint8{15, 16, 20} {
				tl, err := At(lon, lat, z)
				require.NoError(t, err)
				n := 0
				img := picture(t, &r, tl, theme, 1, v)
				for i := range img.Pix {
					if shade(img, i%PictureSide, i/PictureSide) == want {
						n++
					}
				}
				if c.Symbol == SymbolCheck && z == 20 {
					continue // the glyph is empty
				}
				assert.Greater(t, n, 20, "%s %s zoom %d", theme, c.Key, z)
			}
		}
	}
}

// nodesOf gives a load of the class.
func nodesOf(class uint8) uint8 {
	switch limits := stand.LoadLimits(); class {
	case 0:
		return stand.None
	case 1:
		return 2
	default:
		return limits[class-2]
	}
}

// TestPNG_Seams: what is drawn in a tile goes on in the next: a picture of
// double size is the four pictures of its children, but for what depends on
// size. Here: a dot on the border of two tiles is whole when they are joined.
func TestPNG_Seams(t *testing.T) {
	p := plot{block: 1, code: "H1", lat: 0, lon: 0, rows: 1, vines: 1, rowM: 10, vineM: 10}
	s, _ := p.grow(t)
	s.Condition[0], s.Vigour[0] = vine.Bearing, 3
	v, err := NewView(s, nil, nil, "", "")
	require.NoError(t, err)
	var r Renderer
	// The vine stands on the corner of four tiles, at 0°, 0°.
	const z = 20
	covered := 0.0
	for _, tl := range []Tile{{z, 1<<19 - 1, 1<<19 - 1}, {z, 1 << 19, 1<<19 - 1}, {z, 1<<19 - 1, 1 << 19}, {z, 1 << 19, 1 << 19}} {
		img := picture(t, &r, tl, ThemeVigour, 1, v)
		for i := range img.Pix {
			covered += float64(shade(img, i%PictureSide, i/PictureSide).A) / 255
		}
	}
	assert.InEpsilon(t, math.Pi*mostDot*mostDot, covered, 0.03, "a whole dot")
}

func TestPNG_Errors(t *testing.T) {
	var r Renderer
	for _, c := range []struct {
		name  string
		tile  Tile
		theme Theme
		scale int
	}{
		{"theme", Tile{}, "soil", 1},
		{"scale", Tile{}, ThemeVigour, 3},
		{"tile", Tile{3, 9, 0}, ThemeVigour, 1},
	} {
		_, err := r.PNG(c.tile, c.theme, c.scale, nil)
		assert.ErrorIs(t, err, ErrPicture, c.name)
	}
	got, err := r.PNG(Tile{}, ThemeVigour, 1, nil)
	require.NoError(t, err)
	assert.Nil(t, got, "nothing to draw")
}

// TestRenderer_Together: one Renderer draws the same in many goroutines.
func TestRenderer_Together(t *testing.T) {
	var r Renderer
	v := plots()[0].view(t)
	tl, err := At(145.3202, -37.7198, 18)
	require.NoError(t, err)
	wantMVT := Render(tl, []BlockView{v}, Options{})
	wantPNG, err := r.PNG(tl, ThemeCondition, 1, []BlockView{v})
	require.NoError(t, err)
	done := make(chan [2][]byte)
	for range 8 {
		go func() {
			a := r.Vector(tl, []BlockView{v}, Options{})
			b, _ := r.PNG(tl, ThemeCondition, 1, []BlockView{v})
			done <- [2][]byte{a, b}
		}()
	}
	for range 8 {
		got := <-done
		assert.True(t, bytes.Equal(wantMVT, got[0]))
		assert.True(t, bytes.Equal(wantPNG, got[1]))
	}
}

// TestPNG_NoSpacing: a ground that does not say its spacing is drawn all the
// same.
func TestPNG_NoSpacing(t *testing.T) {
	v := plots()[0].view(t)
	s, g := *v.Stand, *v.Stand.Ground
	g.RowSpacingM, g.VineSpacingM = 0, 0
	s.Ground = &g
	bare, err := NewView(&s, nil, v.Outline, "", "")
	require.NoError(t, err)
	assert.InDelta(t, 1.25, bare.Index.typicalStepM(), 0.02)
	tl, err := At(145.3202, -37.7198, 19)
	require.NoError(t, err)
	var r Renderer
	picture(t, &r, tl, ThemeCondition, 1, bare)
	empty, err := NewView(&stand.Stand{Ground: &stand.Ground{}}, nil, v.Outline, "", "")
	require.NoError(t, err)
	picture(t, &r, tl.Parent().Parent().Parent().Parent(), ThemeVigour, 2, empty)
}
