package tile

import (
	"courson/geo/stand"
)

// vineRoom is the most bytes that a vine's feature takes: id 10, tags 8 × (1 +
// 5), geometry 1 + 2 × 5, and 10 for tags and lengths around them.
const vineRoom = 96

// vines writes the vines of the tile as points, each a feature with the vine's
// lasting id, or grouped where they are too close together for that.
func (w *workshop) vines(blocks []BlockView) {
	if !w.show.EachVine {
		w.vineGroups(blocks)
		return
	}
	l := &w.layer
	l.reset(LayerVines, "block", "row", "number", "condition", "vigour", "progress", "leaf", "nodes")
	for i := range blocks {
		v := &blocks[i]
		ix := v.Index
		if ix.Len() == 0 || !w.win.meets(ix.box) {
			continue
		}
		block, named := uint32(0), false
		for r, row := range ix.rows {
			if ix.ground.Rows[r].Count == 0 || !w.win.meets(row) {
				continue
			}
			label := noValue
			for _, p := range ix.fine[ix.starts[r]:ix.starts[r+1]] {
				if !w.win.meets(p.box) {
					continue
				}
				if !named {
					block, named = l.text(ix.ground.Code), true
				}
				if label == noValue {
					label = l.text(ix.ground.Rows[r].Label)
				}
				w.vineRun(v.Stand, int(p.first), int(p.end), block, label)
			}
		}
	}
}

// noValue marks a value index that is not there yet.
const noValue = ^uint32(0)

// vineRun writes those of vines first … end-1 that lie in the tile.
func (w *workshop) vineRun(s *stand.Stand, first, end int, block, row uint32) {
	l, g := &w.layer, s.Ground
	for i := first; i < end; i++ {
		x, y, in := w.grid.point(g.WX[i], g.WY[i], extentBits)
		if !in {
			continue
		}
		if cap(l.features)-len(l.features) < vineRoom {
			l.features = append(l.features, make([]byte, max(vineRoom, len(l.features)/2, 1<<16))...)[:len(l.features)]
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
		n += 2
		n = putTag(f, n, 0, block)
		n = putTag(f, n, 1, row)
		n = putTag(f, n, 2, l.number(uint64(uint32(g.Number[i]))))
		n = putTag(f, n, 3, l.number(uint64(s.Condition[i])))
		n = putTag(f, n, 4, l.number(uint64(s.Vigour[i])))
		n = putTag(f, n, 5, l.number(uint64(s.Progress[i])))
		n = putTag(f, n, 6, l.number(uint64(s.Leaf[i])))
		if s.Nodes[i] != stand.None {
			n = putTag(f, n, 7, l.number(uint64(s.Nodes[i])))
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
