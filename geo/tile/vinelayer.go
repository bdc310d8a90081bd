package tile

import (
	"encoding/binary"
	"slices"

	"courson/geo/stand"
	"courson/geo/vine"
)

// vineRoom is the most bytes that a vine's feature takes: id 10, tags 15 × (1 +
// 5), geometry 1 + 2 × 5, and 10 for tags and lengths around them.
const vineRoom = 128

// vines writes the vines of the tile as points, each a feature with the vine's
// lasting id, or grouped where they are too close together for that.
func (w *workshop) vines(blocks []BlockView) {
	if !w.show.EachVine {
		w.vineGroups(blocks)
		return
	}
	l := &w.layer
	l.reset(LayerVines, "block", "row", "number", "condition", "vigour", "progress", "leaf", "nodes", "basis", "doubt", "change", "patch", "follow", "replant", "zone")
	for i := range blocks {
		v := &blocks[i]
		ix := v.Index
		if ix.Len() == 0 || !w.win.meets(ix.box) {
			continue
		}
		for r, row := range ix.rows {
			if ix.ground.Rows[r].Count == 0 || !w.win.meets(row) {
				continue
			}
			place := placeTags{}
			for _, p := range ix.fine[ix.starts[r]:ix.starts[r+1]] {
				if w.win.meets(p.box) {
					w.vineRun(v.Stand, int(p.first), int(p.end), &place)
				}
			}
		}
	}
}

// placeTags is the block and row tags of a row's vines, made when the first of
// them is written.
type placeTags struct {
	bytes [12]byte
	n     int
}

func (p *placeTags) fill(l *layer, g *stand.Ground, row int32) {
	p.n = putTag(p.bytes[:], p.n, 0, l.text(g.Code))
	p.n = putTag(p.bytes[:], p.n, 1, l.text(g.Rows[row].Label))
}

// lookMemo remembers the tags of a look that many vines share: condition,
// vigour, progress and leaf, a key and a value index each in one byte. They are
// good for one layer.
type lookMemo struct {
	layer uint32 // counts layers, so that nothing needs clearing
	look  uint32
	fits  bool // every index fits in a byte
	tags  uint64
}

func (m *lookMemo) fill(l *layer, look uint32) {
	*m = lookMemo{layer: l.serial, look: look, fits: true}
	for k := range 4 {
		v := l.number(uint64(look >> (8 * k) & 0xff))
		m.fits = m.fits && v < 0x80
		m.tags |= uint64(3+k)<<(16*k) | uint64(v&0x7f)<<(16*k+8)
	}
}

// vineRun writes those of vines first … end-1 that lie in the tile.
func (w *workshop) vineRun(s *stand.Stand, first, end int, place *placeTags) {
	l, g := &w.layer, s.Ground
	for i := first; i < end; i++ {
		x, y, in := w.grid.point(g.WX[i], g.WY[i], extentBits)
		if !in {
			continue
		}
		if place.n == 0 {
			place.fill(l, g, g.Row[i])
		}
		if cap(l.features)-len(l.features) < vineRoom {
			l.features = slices.Grow(l.features, max(vineRoom, 1<<16))
		}
		f := l.features[len(l.features) : len(l.features)+vineRoom]
		n := 2 // layer tag and length
		f[0] = tagLayerFeature
		if id := uint64(g.ID[i]); id != 0 {
			f[n] = tagFeatureID
			n = putUvarint(f, n+1, id)
		}
		f[n] = tagFeatureTags
		at := n + 1
		n += 2 + copy(f[n+2:], place.bytes[:place.n])
		n = w.putLook(f, n, s, i)
		n = putTag(f, n, 2, l.number(uint64(uint32(g.Number[i]))))
		if s.Nodes[i] != stand.None {
			n = putTag(f, n, 7, l.number(uint64(s.Nodes[i])))
		}
		if job := s.FollowOf(i); job != vine.FollowNone {
			n = putTag(f, n, 12, l.number(uint64(job)))
		}
		if r := s.ReplantOf(i); r != stand.ReplantNone {
			n = putTag(f, n, 13, l.number(uint64(r)))
		}
		if z := s.ZoneOf(i); z != 0 {
			n = putTag(f, n, 14, l.number(uint64(z)))
		}
		if s.Found != nil {
			n = w.putFound(f, n, s, i)
		}
		f[at] = byte(n - at - 1)
		f[n], f[n+1], f[n+2] = tagFeatureType, byte(pointShape), tagFeatureGeometry
		at = n + 3
		f[at+1] = moveTo1
		n = putUvarint(f, at+2, uint64(x)<<1) // zigzag of what is not negative
		n = putUvarint(f, n, uint64(y)<<1)
		f[at] = byte(n - at - 1)
		f[1] = byte(n - 2)
		l.features = l.features[:len(l.features)+n]
		l.count++
	}
}

// putLook writes the tags 3 to 6: condition, vigour, progress and leaf.
func (w *workshop) putLook(f []byte, n int, s *stand.Stand, i int) int {
	look := uint32(s.Condition[i]) | uint32(s.Vigour[i])<<8 | uint32(s.Progress[i])<<16 | uint32(s.Leaf[i])<<24
	m := &w.looks[look*2654435761>>24]
	if m.look != look || m.layer != w.layer.serial {
		m.fill(&w.layer, look)
	}
	if m.fits {
		binary.LittleEndian.PutUint64(f[n:], m.tags)
		return n + 8
	}
	for k := range 4 {
		n = putTag(f, n, byte(3+k), w.layer.number(uint64(look>>(8*k)&0xff)))
	}
	return n
}

// putFound writes the tags 8 to 11: basis, doubt, change and patch, of vines of
// which anything was found.
func (w *workshop) putFound(f []byte, n int, s *stand.Stand, i int) int {
	if !s.Condition[i].Living() {
		return n
	}
	d := s.Found
	for k, v := range [...]uint8{d.Basis[i], d.Doubt[i], d.Change[i], uint8(d.Patch[i])} {
		n = putTag(f, n, byte(8+k), w.layer.number(uint64(v)))
	}
	return n
}

func putTag(f []byte, n int, key byte, value uint32) int {
	f[n] = key
	if value < 0x80 {
		f[n+1] = byte(value)
		return n + 2
	}
	return putUvarint(f, n+1, uint64(value))
}

func putUvarint(f []byte, n int, v uint64) int {
	for v >= 0x80 {
		f[n] = byte(v) | 0x80
		v >>= 7
		n++
	}
	f[n] = byte(v)
	return n + 1
}
