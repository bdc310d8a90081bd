package tile_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"courson/geo/stand"
	"courson/geo/tile"
	"courson/geo/vine"
)

// Where a vine stands, and which tile of zoom 17 shows it.
func ExampleAt() {
	t, err := tile.At(145.32053757, -37.72832195, 17)
	fmt.Println(t, err)
	// Output: 17/118445/80388 <nil>
}

// The tiles that a block on the antimeridian touches.
func ExampleCover() {
	span, _ := tile.Cover(orb.Bound{Min: orb.Point{179.9, -17.9}, Max: orb.Point{-179.9, -17.8}}, 9)
	for t := range span.All() {
		fmt.Println(t)
	}
	// Output:
	// 9/511/281
	// 9/0/281
}

// One row of three vines, drawn as a vector tile.
func ExampleRender() {
	g := &stand.Ground{Block: 1, Code: "H3", VineSpacingM: 1.2, Rows: []stand.Row{{ID: 1, Label: "12", Count: 3}}}
	for i := range 3 {
		x, y := stand.World(145.32053757, -37.72832195-float64(i)*1.2/111_000)
		g.ID, g.Row, g.Number = append(g.ID, vine.ID(41+i)), append(g.Row, 0), append(g.Number, int32(41+i))
		g.WX, g.WY = append(g.WX, x), append(g.WY, y)
	}
	s := &stand.Stand{
		Ground: g, Season: 2027, Condition: make([]vine.Condition, 3), Leaf: make([]uint8, 3),
		Progress: make([]vine.Progress, 3), Vigour: make([]uint8, 3), Nodes: []uint8{12, 12, stand.None},
	}
	outline, _ := tile.PrepareOutline(nil)
	view, err := tile.NewView(s, tile.NewIndex(g), outline, "", "")
	t, _ := tile.At(145.32053757, -37.72832195, 17)
	fmt.Println(len(tile.Render(t, []tile.BlockView{view}, tile.Options{})) > 0, err)
	fmt.Println(len(tile.Render(t.Parent().Children()[0], []tile.BlockView{view}, tile.Options{})))
	// Output:
	// true <nil>
	// 0
}

// What a class of vigour means and how it is drawn.
func ExampleVigourLegend() {
	limits := stand.DefaultVigourLimits()
	for _, c := range tile.VigourLegend(limits[:]).Classes[1:3] {
		fmt.Println(c.Code, c.Label, c.Light, c.Symbol)
	}
	// Output:
	// 1 Very weak #f7d26a disc
	// 2 Weak #95b661 disc
}
