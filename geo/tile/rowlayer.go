package tile

// rows writes the pieces of row that meet the tile, as lines with what is
// summed over their vines. The feature's id is the lasting id of the piece's
// first vine, the attribute id that of the row.
func (w *workshop) rows(blocks []BlockView) {
	l := &w.layer
	l.reset(LayerRows, "id", "label", "block", "vines", "condition", "gaps", "vigour", "progress", "done", "to_prune", "doubt", "change", "patch", "load", "follow", "replant", "zone")
	for i := range blocks {
		v := &blocks[i]
		ix := v.Index
		if ix.Len() == 0 || !w.win.meets(ix.box) {
			continue
		}
		pieces, shown := ix.coarse, v.sums.coarse
		if w.show.FineRows {
			pieces, shown = ix.fine, v.sums.fine
		}
		inside := w.win.holds(ix.box)
		row := rowTags{row: -1}
		for j := range pieces {
			p := &pieces[j]
			if !inside && !w.win.meets(p.box) {
				continue
			}
			w.startShape()
			w.pieceLine(ix.line[p.line:p.line+p.count], inside || w.win.holds(p.box))
			w.endShape()
			if len(l.geom) == 0 {
				continue
			}
			if row.row != p.row {
				row = w.rowTags(ix, p.row)
			}
			w.pieceTags(row, &shown[j])
			l.feature(uint64(ix.ground.ID[p.first]), lineShape)
		}
	}
}

// rowTags are the value indices that the pieces of a row share.
type rowTags struct {
	row              int32
	id, label, block uint32
}

func (w *workshop) rowTags(ix *Index, row int32) rowTags {
	r := &ix.ground.Rows[row]
	l := &w.layer
	return rowTags{row, l.number(uint64(r.ID)), l.text(r.Label), l.text(ix.ground.Code)}
}

func (w *workshop) pieceTags(row rowTags, s *pieceSum) {
	l := &w.layer
	l.tag(0, row.id)
	l.tag(1, row.label)
	l.tag(2, row.block)
	for key, n := range [...]uint64{
		uint64(s.vines), uint64(s.condition), uint64(s.gaps), uint64(s.vigour),
		uint64(s.progress), uint64(s.done), uint64(s.vines - s.gaps),
		uint64(s.doubt), uint64(s.change), uint64(s.patch), uint64(s.load), uint64(s.follow), uint64(s.replant), uint64(s.zone),
	} {
		l.tag(uint32(key+3), l.number(n))
	}
}

// pieceLine writes a line in world units, cut to the tile and its margin
// unless it is known to lie inside.
func (w *workshop) pieceLine(line [][2]uint32, inside bool) {
	w.pts = w.pts[:0]
	if inside {
		for _, at := range line {
			w.addPoint(w.grid.offset(at[0], at[1]))
		}
		w.pen.line(w.pts)
		return
	}
	limit := w.limits()
	var end vec
	for i := 1; i < len(line); i++ {
		p, q, ok := clipStep(w.grid.vec(line[i-1]), w.grid.vec(line[i]), limit)
		if !ok {
			continue
		}
		if len(w.pts) > 0 && p != end { // left the tile and came back
			w.pen.line(w.pts)
			w.pts = w.pts[:0]
		}
		w.addPoint(w.grid.units(p.x), w.grid.units(p.y))
		w.addPoint(w.grid.units(q.x), w.grid.units(q.y))
		end = q
	}
	w.pen.line(w.pts)
}

// addPoint adds a point unless it repeats the one before.
func (w *workshop) addPoint(x, y int32) {
	if n := len(w.pts); n == 0 || w.pts[n-1] != [2]int32{x, y} {
		w.pts = append(w.pts, [2]int32{x, y})
	}
}

// limits is the tile with its margin, in world units from the tile's corner.
func (w *workshop) limits() box {
	m := float64(w.grid.side) * marginUnits / Extent
	side := float64(w.grid.side)
	return box{-m, -m, side + m, side + m}
}

// vec gives a position in world units from the tile's corner, by the shorter
// way around the world.
func (g *grid) vec(at [2]uint32) vec {
	return vec{float64(int32(at[0] - uint32(g.west))), float64(int64(at[1]) - g.north)}
}

// rowLabels writes a point at each end of each row.
func (w *workshop) rowLabels(blocks []BlockView) {
	l := &w.layer
	l.reset(LayerRowLabels, "id", "label", "block")
	for i := range blocks {
		ix := blocks[i].Index
		if ix.Len() == 0 || !w.win.meets(ix.box) {
			continue
		}
		for r, row := range ix.ground.Rows {
			if row.Count == 0 || !hasEnds(row) {
				continue
			}
			for e, at := range row.Ends {
				x, y, in := w.grid.point(at[0], at[1], extentBits)
				if !in || e == 1 && at == row.Ends[0] {
					continue
				}
				tags := w.rowTags(ix, int32(r))
				l.tag(0, tags.id)
				l.tag(1, tags.label)
				l.tag(2, tags.block)
				w.startShape()
				w.pen.point(x, y)
				w.endShape()
				l.feature(0, pointShape)
			}
		}
	}
}
