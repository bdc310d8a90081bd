package tile

import "math"

// areas fills blocks in the class of the whole where their rows are too close
// together to be drawn, one class after the other; in the theme of zones the
// ground of each zone.
func (e *easel) areas(blocks []BlockView) {
	byClass := make([][]*Outline, len(e.inks.classes))
	for i := range blocks {
		v := &blocks[i]
		if !v.Outline.touches(e.tile) {
			continue
		}
		if v.Index.Len() > 0 {
			if d := e.distancesOf(v); e.showRows(d) || e.showDots(d) {
				continue
			}
		}
		if z := v.areas.Zones; e.theme == ThemeZones && len(z) > 0 {
			for j := range z {
				k := e.inks.byCode[uint8(z[j].Zone)]
				byClass[k] = append(byClass[k], z[j].Outline)
			}
			continue
		}
		s := v.sums.block.overall()
		k := e.inks.byCode[e.codeOf(&s)]
		byClass[k] = append(byClass[k], v.Outline)
	}
	for k, outlines := range byClass {
		for _, o := range outlines {
			e.eachRing(o, e.ring)
		}
		e.paint(e.inks.class[k])
	}
}

// rowLine is a piece of row to be drawn.
type rowLine struct {
	line  [][2]uint32
	width float64
}

// rowLines draws the pieces of row, one class after the other.
func (e *easel) rowLines(blocks []BlockView) {
	for len(e.lines) < len(e.inks.classes) {
		e.lines = append(e.lines, nil)
	}
	byClass := e.lines[:len(e.inks.classes)]
	for k := range byClass {
		byClass[k] = byClass[k][:0]
	}
	e.eachNear(blocks, func(v *BlockView, d distances) {
		if !e.showRows(d) {
			return
		}
		width := max(1, d.rows*float64(e.scale)*0.6)
		for i := range v.Index.fine {
			p := &v.Index.fine[i]
			if !e.win.meets(p.box) {
				continue
			}
			s := &v.sums.fine[i]
			k := e.inks.byCode[e.codeOf(s)]
			byClass[k] = append(byClass[k], rowLine{v.Index.line[p.line : p.line+p.count], width})
		}
	})
	for k, lines := range byClass {
		for _, l := range lines {
			on, off := dashOf(e.inks.classes[k].Line, l.width)
			e.pts = e.pts[:0]
			for _, at := range l.line {
				e.pts = append(e.pts, e.pixel(at))
			}
			e.dashes(e.pts, on, off, l.width)
		}
		e.paint(e.inks.class[k])
	}
}

// dashOf gives the lengths of dashes and of what lies between, pixels; 0, 0
// for an unbroken line.
func dashOf(line string, width float64) (on, off float64) {
	switch line {
	case "dashed":
		return 6 * width, 3 * width
	case "dotted":
		return 1.5 * width, 2 * width
	case "dashdot":
		return 9 * width, 2 * width
	}
	return 0, 0
}

// dashes strokes a line in dashes.
func (e *easel) dashes(pts [][2]float64, on, off, width float64) {
	left, drawing := on, true
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		if on == 0 {
			e.stroke(a, b, width)
			continue
		}
		length := math.Hypot(b[0]-a[0], b[1]-a[1])
		for done := 0.0; done < length; {
			step := min(left, length-done)
			if drawing {
				e.stroke(along(a, b, done/length), along(a, b, (done+step)/length), width)
			}
			done += step
			if left -= step; left <= 0 {
				drawing = !drawing
				left = on
				if !drawing {
					left = off
				}
			}
		}
	}
}

func along(a, b [2]float64, f float64) [2]float64 {
	return [2]float64{a[0] + (b[0]-a[0])*f, a[1] + (b[1]-a[1])*f}
}
