package renewal

import (
	"fmt"
	"math"

	"courson/geo/vine"
)

// drawing puts one vine on a sheet.
type drawing struct {
	*sheet
	vine   Vine
	headMM float64
	wireMM float64

	upper, lower bool // canes on the second wire, or arched down to a lower one
	canes        int  // drawn so far, for canes of the head
}

// Widths of wood on the drawing, in mm; young wood is drawn thicker than it is.
const (
	trunkFoot, trunkTop = 84, 58
	headKnob            = 40
	spurWidth           = 20
	caneWidth           = 15
	secondWireMM        = 260 // above the first, for four canes
	arcDropMM           = 170 // below the fruiting wire, where arched canes are tied
)

func (d *drawing) trunk() {
	h := d.headMM
	if d.vine.Form == Cordon {
		h -= 90 // the cordon bends off below the wire
	}
	thick := d.vine.thickness()
	l := line(bend(point{-4, -4}, point{-4, 0.4 * h}, point{26, 0.55 * h}, point{0, h}))
	d.oldWood(l, thick*trunkFoot, thick*trunkTop)
	for k, share := range []float64{-0.28, 0.04, 0.3} {
		d.bark(l, share*thick*trunkTop, 0.06+0.05*float64(k), 0.94-0.07*float64(k))
	}
	if d.vine.Form != Cordon {
		d.knob(point{0, h}, thick*headKnob)
	}
	d.add(groundLayer, `<path d="M%sL%s"/>`, xy(point{-260, 0}), xy(point{260, 0}))
	for x := -240.0; x <= 240; x += 60 {
		d.add(groundLayer, `<path d="M%sl-18 18"/>`, xy(point{x, 0}))
	}
}

// arm draws what stands on one arm.
func (d *drawing) arm(k int, a vine.Arm) {
	side := d.vine.side(k)
	switch {
	case d.vine.Form == Goblet:
		d.gobletArm(k, a)
	case d.vine.Form == Cordon:
		d.cordon(side, a)
	case d.vine.Form == TwoArms && !isHead(a.Name):
		d.shortArm(side, a)
	default:
		d.head(side, a)
	}
}

// bark draws a line of bark along old wood, some way off its middle.
func (d *drawing) bark(l line, off, from, to float64) {
	const pieces = 14
	var points []point
	for k := range pieces + 1 {
		c, along := l.at(from + (to-from)*float64(k)/pieces)
		waver := []float64{0, 1.6, -1.2, 0.6}[k%4]
		points = append(points, c.plus(along.left().times(off+waver)))
	}
	d.add(barkLayer, `<path d="%s"/>`, path(points, false))
}

// head draws canes and spurs that start from the head itself.
func (d *drawing) head(side float64, a vine.Arm) {
	top := point{0, d.headMM}
	for i, c := range a.Canes {
		to := side
		if len(a.Canes) > 1 || d.canes > 0 {
			to = []float64{-1, 1}[(d.canes+i)%2]
		}
		wire := d.wireMM
		if d.canes+i > 1 {
			wire, d.upper = wire+secondWireMM, true
		}
		d.cane(top.plus(point{to * 14, 26}), to, wire, c)
	}
	d.canes += len(a.Canes)
	for i, p := range a.Spurs {
		to := []float64{-side, side}[i%2]
		lean := 62.0
		if len(a.Canes) == 0 && len(a.Spurs) == 1 {
			lean = 20 // a vine cut back to one spur stands upright
		}
		d.spur(top.plus(heading(to*lean).times(32*d.vine.thickness())).plus(point{0, -14 * float64(i/2)}), heading(to*lean), p)
	}
	d.cuts(a, line{{-34, d.headMM}, {34, d.headMM}}, 84, 1, 0.45)
}

// shortArm draws one of two arms: the spur below, the cane above it.
func (d *drawing) shortArm(side float64, a vine.Arm) {
	h := d.headMM
	arm := line(bend(point{0, h - 40}, point{side * 40, h + 6}, point{side * 90, h + 8}, point{side * 150, h + 62}))
	d.oldWood(arm, 54, 36)
	d.bark(arm, 0, 0.3, 0.9)
	for i, p := range a.Spurs {
		at, _ := arm.at(0.8 - 0.2*float64(i))
		d.spur(at.plus(point{side * 6, -14}), heading(side*76), p)
	}
	end, _ := arm.at(1)
	d.knob(end, 18)
	for i, c := range a.Canes {
		d.cane(end.plus(point{-side * 12 * float64(i), 6}), side, d.wireMM, c)
	}
	d.cuts(a, arm, 44, side, 0.86)
}

// cordon draws a cordon along the wire, its spurs evenly spread.
func (d *drawing) cordon(side float64, a vine.Arm) {
	h := d.wireMM
	n := float64(len(a.Spurs))
	reach := 200 + max(n, 3)*135 // spurs every 13 to 15 cm: Plant shape, WineSkills, derived
	arm := line(append(bend(point{0, d.headMM - 110}, point{0, h - 20}, point{side * 30, h}, point{side * 150, h}), point{side * reach / 2, h}, point{side * reach, h}))
	d.oldWood(arm, 56, 34)
	d.bark(arm, -6, 0.1, 0.7)
	d.bark(arm, 6, 0.3, 0.95)
	d.knob(point{side * reach, h}, 17)
	for i, p := range a.Spurs {
		x := 200 + 135*float64(i)
		d.knob(point{side * x, h + 14}, 17)
		d.spur(point{side * x, h + 18}, heading(side*24), p)
	}
	for _, c := range a.Canes {
		d.cane(point{side * (reach - 10), h + 4}, side, h+6, c)
	}
	d.cuts(a, line{{side * 140, h}, {side * reach, h}}, 44, side, 0.9)
}

// gobletArm draws one of the arms all round, spread out flat.
func (d *drawing) gobletArm(k int, a vine.Arm) {
	angle := 0.0
	if n := len(d.vine.Arms); n > 1 {
		angle = -58 + 116*float64(k)/float64(n-1)
	}
	from := point{0, d.headMM - 10}
	to := from.plus(heading(angle).times(230 + 20*float64(k%2)))
	arm := line(bend(from, from.plus(heading(angle*1.25).times(90)), to.minus(heading(angle*0.6).times(80)), to))
	d.oldWood(arm, 48, 32)
	d.bark(arm, 0, 0.3, 0.9)
	d.knob(to, 18)
	side := 1.0
	if angle < 0 {
		side = -1
	}
	for i, p := range a.Spurs {
		spread := 50 * (float64(i) - float64(len(a.Spurs)-1)/2)
		d.spur(to, heading(angle*0.8+spread), p)
	}
	for _, c := range a.Canes {
		d.cane(to, side, d.wireMM, c)
	}
	d.cuts(a, arm, 38, side, 0.86)
	if d.style.Labels && a.Name != "" {
		at, _ := arm.at(0.55)
		d.words(at.plus(heading(angle+90*side).times(48)), map[float64]string{-1: "end", 1: "start"}[side], a.Name)
	}
}

// spur draws a spur with its buds, the first on the side it was recorded on.
func (d *drawing) spur(at, along point, p vine.Spur) {
	const first, between, stub = 34.0, 50.0, 30.0
	long := first + between*math.Max(0, float64(p.Nodes-1)) + stub
	axis := line{at, at.plus(along.times(long))}
	d.youngWood(spurLayer, axis, spurWidth+4, spurWidth)
	d.add(spurLayer, `<circle cx="%s" cy="%s" r="%s"/>`, num(at.x), num(-at.y), num(spurWidth/2+2))
	down := along.left()
	if down.y > 0 || down.y == 0 && down.x*along.x < 0 {
		down = down.times(-1)
	}
	side := 1.0
	if p.FirstBudFaces == string(Above) {
		side = -1
	}
	for n := range p.Nodes {
		c := at.plus(along.times(first + between*float64(n)))
		switch p.FirstBudFaces {
		case string(Side):
			d.roundBud(c)
		case "":
			d.youngWood(spurLayer, line{c.plus(down.times(spurWidth)), c.minus(down.times(spurWidth))}, 9, 9)
		default:
			d.bud(spurLayer, c, along, down.times(side), spurWidth/2, 1)
		}
		side = -side
	}
	if p.Nodes == 1 && p.FirstBudFaces == string(Above) {
		d.bud(spurLayer, at.plus(along.times(12)), along, down, spurWidth/2, 0.8) // the base bud
	}
	if d.style.Labels {
		d.words(at.plus(along.times(long+26)).plus(point{0, -12}), anchorOf(along), fmt.Sprint(p.Nodes))
	}
}

func anchorOf(along point) string {
	switch {
	case along.x > 0.5:
		return "start"
	case along.x < -0.5:
		return "end"
	}
	return "middle"
}

// bud draws a pointed bud on the edge of the wood.
func (d *drawing) bud(on layer, c, along, out point, half, size float64) {
	a := c.plus(out.times(half - 3))
	f := func(x, y float64) string { return xy(a.plus(along.times(size * x)).plus(out.times(size * y))) }
	d.add(on, `<path class="bud" d="M%sQ%s %sQ%s %sZ"/>`, f(-12, 0), f(-10, 13), f(11, 21), f(12, 9), f(10, 0))
}

// roundBud draws a bud that faces the viewer.
func (d *drawing) roundBud(c point) {
	fill, ink := "#fff", "#000"
	if !d.style.Print {
		fill, ink = "currentColor", "currentColor"
	}
	d.add(spurLayer, `<circle class="bud" cx="%s" cy="%s" r="14" fill="%s" stroke="%s" stroke-width="4"/>`, num(c.x), num(-c.y), fill, ink)
}
