package tile

import (
	"courson/geo/stand"
	"courson/geo/vine"
)

// Where vines are a pixel or two apart nobody can pick one, and a tile can
// hold 60,000 of them: there the vines of a row that look alike share one
// feature of many points. It carries what they have in common and no number;
// an eighth of the bytes of one feature each.

// looks is how many ways a vine can look: conditions × vigour classes and none
// × states of progress.
const looks = conditions * 6 * 5

// group gathers the points of one row by their look.
type group struct {
	first, last [looks]int32 // into points, -1 none
	count       [looks]int32
	points      []groupPoint
	order       []int16 // looks in the order in which they appear
}

type groupPoint struct {
	x, y int32
	next int32
}

func lookOf(s *stand.Stand, i int) int {
	cond, vig, prog := int(s.Condition[i]), int(s.Vigour[i]), int(s.Progress[i])
	if cond >= conditions {
		cond = int(vine.Unseen)
	}
	if vig > 5 {
		vig = 0
	}
	if prog > int(vine.Skipped) {
		prog = int(vine.NotStarted)
	}
	return (cond*6+vig)*5 + prog
}

// add puts a vine to those that look like it.
func (g *group) add(look int, x, y int32) {
	at := int32(len(g.points))
	g.points = append(g.points, groupPoint{x, y, -1})
	if g.first[look] < 0 {
		g.first[look], g.count[look] = at, 0
		g.order = append(g.order, int16(look))
	} else {
		g.points[g.last[look]].next = at
	}
	g.last[look] = at
	g.count[look]++
}

// reset empties the group.
func (g *group) reset() {
	if g.points == nil {
		for i := range g.first {
			g.first[i] = -1
		}
	}
	for _, look := range g.order {
		g.first[look] = -1
	}
	g.points, g.order = g.points[:0], g.order[:0]
}

// vineGroups writes the vines of the tile, many to a feature.
func (w *workshop) vineGroups(blocks []BlockView) {
	l := &w.layer
	l.reset(LayerVines, "block", "row", "vines", "condition", "vigour", "progress")
	for i := range blocks {
		v := &blocks[i]
		ix := v.Index
		if ix.Len() == 0 || !w.win.meets(ix.box) {
			continue
		}
		for r, row := range ix.rows {
			if ix.ground.Rows[r].Count > 0 && w.win.meets(row) {
				w.gatherRow(v, ix.fine[ix.starts[r]:ix.starts[r+1]])
				w.writeGroups(ix.ground.Code, ix.ground.Rows[r].Label)
			}
		}
	}
}

func (w *workshop) gatherRow(v *BlockView, pieces []piece) {
	w.group.reset()
	g := v.Stand.Ground
	for _, p := range pieces {
		if !w.win.meets(p.box) {
			continue
		}
		for i := int(p.first); i < int(p.end); i++ {
			if x, y, in := w.grid.point(g.WX[i], g.WY[i], extentBits); in {
				w.group.add(lookOf(v.Stand, i), x, y)
			}
		}
	}
}

func (w *workshop) writeGroups(code, label string) {
	if len(w.group.order) == 0 {
		return
	}
	l := &w.layer
	block, row := l.text(code), l.text(label)
	for _, look := range w.group.order {
		n := w.group.count[look]
		w.startShape()
		w.pen.begin(int(n))
		for at := w.group.first[look]; at >= 0; at = w.group.points[at].next {
			w.pen.step(w.group.points[at].x, w.group.points[at].y)
		}
		w.endShape()
		l.tag(0, block)
		l.tag(1, row)
		l.tag(2, l.number(uint64(n)))
		l.tag(3, l.number(uint64(look/30)))
		l.tag(4, l.number(uint64(look/5%6)))
		l.tag(5, l.number(uint64(look%5)))
		l.feature(0, pointShape)
	}
}
