package renewal

import (
	"math"

	"courson/geo/vine"
)

// cuts marks large cuts along an arm of some width: a filled diamond for this
// winter's, a ring with a dot for older ones. They lie on the edge they were made
// on; where along the arm is not recorded, the older ones are spread from the
// trunk outwards, this winter's begin at the share last of the arm.
func (d *drawing) cuts(a vine.Arm, along line, width, side, last float64) {
	var old []MadeCut
	if h, ok := d.vine.History.Arm(a.Name); ok {
		for _, c := range h.Cuts {
			if c.Season != d.vine.Season || d.vine.Season == 0 {
				old = append(old, c)
			}
		}
	}
	for k, c := range old {
		d.oldCut(d.placeOf(along, 0.15+0.6*(float64(k)+0.5)/float64(len(old)), c.Face, width, side), radius(c.DiameterMM))
	}
	for k, c := range a.LargeCuts {
		d.newCut(d.placeOf(along, last+0.13*float64(k), Face(c.Face), width, side), radius(c.DiameterMM))
	}
}

func (d *drawing) placeOf(along line, share float64, face Face, width, side float64) point {
	c, dir := along.at(share)
	up := dir.left().times(side)
	if d.vine.Form == Goblet && up.y < 0 {
		up = up.times(-1)
	}
	switch face {
	case Upper:
		return c.plus(up.times(width / 2))
	case Lower:
		return c.minus(up.times(width / 2))
	}
	return c
}

// radius of a mark grows with the cut, but stays readable.
func radius(diameterMM float64) float64 {
	return math.Min(22, math.Max(11, diameterMM*0.7))
}

func (d *drawing) newCut(c point, r float64) {
	r *= 1.3
	d.add(cutLayer, `<path class="cut-new" fill="%s" d="%s"/>`, d.ink(),
		path([]point{c.plus(point{0, r}), c.plus(point{r, 0}), c.plus(point{0, -r}), c.plus(point{-r, 0})}, true))
}

func (d *drawing) oldCut(c point, r float64) {
	fill := "none"
	if d.style.Print {
		fill = "#fff"
	}
	d.add(cutLayer, `<circle class="cut-old" cx="%s" cy="%s" r="%s" fill="%s"/>`, num(c.x), num(-c.y), num(r), fill)
	d.add(cutLayer, `<circle class="cut-old" cx="%s" cy="%s" r="2" fill="%s"/>`, num(c.x), num(-c.y), d.ink())
}

// keys writes the address above and the key below.
func (d *drawing) keys() {
	if !d.style.Labels {
		return
	}
	top := d.high.y + 20
	d.sheet.words(point{d.low.x + 40, top}, "start", d.vine.heading())
	x, y := d.low.x+60, -110.0
	for _, k := range []struct {
		show bool
		draw func(point)
		text string
	}{
		{d.vine.hasNew(), func(p point) { d.newCut(p, 12) }, "large cut of this winter"},
		{d.vine.hasOld(), func(p point) { d.oldCut(p, 14) }, "older large cut"},
		{true, nil, "numbers: nodes"},
	} {
		if !k.show {
			continue
		}
		if k.draw != nil {
			k.draw(point{x, y + 11})
			x += 34
		}
		d.sheet.words(point{x, y}, "start", k.text)
		x += 18*float64(len(k.text)) + 60
	}
}
