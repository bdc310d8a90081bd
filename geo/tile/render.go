package tile

import (
	"slices"
	"sync"
)

// Options choose what a vector tile holds. The zero value is everything that
// its zoom shows.
type Options struct {
	// Without lists layers to leave out.
	Without []string
}

// Renderer draws tiles. It keeps room to work in from tile to tile and can be
// used by many goroutines at once. The zero value is ready.
type Renderer struct {
	vector sync.Pool    // of *workshop
	easels [2]sync.Pool // of *easel, by scale
	looks  themeLooks
}

// Render draws one vector tile; for many, a Renderer saves the room.
func Render(t Tile, blocks []BlockView, opt Options) []byte {
	var r Renderer
	return r.Vector(t, blocks, opt)
}

// Vector draws a vector tile: raw protocol buffer, not compressed. A tile with
// nothing on it is nil.
func (r *Renderer) Vector(t Tile, blocks []BlockView, opt Options) []byte {
	return r.AppendVector(nil, t, blocks, opt)
}

// AppendVector draws a vector tile at the end of dst.
func (r *Renderer) AppendVector(dst []byte, t Tile, blocks []BlockView, opt Options) []byte {
	if !t.Valid() {
		return dst
	}
	blocks = drawable(blocks)
	w, _ := r.vector.Get().(*workshop)
	if w == nil {
		w = &workshop{}
	}
	defer r.vector.Put(w)
	w.begin(t)
	show := Layers(t.Z)
	wanted := func(name string, shown bool) bool { return shown && !slices.Contains(opt.Without, name) }

	for _, step := range []struct {
		name  string
		shown bool
		write func([]BlockView)
	}{
		{LayerBlocks, show.Blocks, w.blocks},
		{LayerZones, show.Zones, w.zones},
		{LayerPatches, show.Patches, w.patches},
		{LayerRows, show.Rows, w.rows},
		{LayerVines, show.Vines, w.vines},
		{LayerRowLabels, show.RowLabels, w.rowLabels},
		{LayerBlockLabels, show.Blocks, w.blockLabels},
	} {
		if wanted(step.name, step.shown) {
			step.write(blocks)
			dst = w.layer.appendTo(dst)
		}
	}
	return dst
}

// workshop is the room that drawing one tile takes.
type workshop struct {
	tile  Tile
	grid  grid
	win   window // with the margin
	show  Show
	layer layer
	pen   pen
	pts   [][2]int32
	near  nearRings
	group group
	looks [256]lookMemo
}

func (w *workshop) begin(t Tile) {
	w.tile = t
	w.grid = gridOf(t, extentBits)
	w.win = windowOf(t, marginUnits)
	w.show = Layers(t.Z)
}

// startShape and endShape frame the geometry of one feature.
func (w *workshop) startShape() { w.pen = pen{buf: w.layer.geom[:0]} }
func (w *workshop) endShape()   { w.layer.geom = w.pen.buf }

// drawable leaves out views that NewView did not make.
func drawable(blocks []BlockView) []BlockView {
	made := func(v BlockView) bool { return v.sums != nil }
	if i := slices.IndexFunc(blocks, func(v BlockView) bool { return !made(v) }); i < 0 {
		return blocks
	}
	var out []BlockView
	for _, v := range blocks {
		if made(v) {
			out = append(out, v)
		}
	}
	return out
}
