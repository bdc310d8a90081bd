package renewal

import (
	"fmt"
	"math"

	"courson/geo/vine"
)

// perNodeMM is the length drawn for a node of a cane whose length is not recorded:
// 3 to 4 inches between nodes are desirable (E. Hellman, Cane Pruning, eXtension
// Grapes, 2019).
const perNodeMM = 80

// cane draws a cane from the arm to the wire and along it, or arched over it, with
// its nodes and ties.
func (d *drawing) cane(at point, side, wire float64, c vine.Cane) {
	long := float64(c.LengthMM)
	if long == 0 {
		long = perNodeMM * (float64(c.Nodes) + 0.5)
	}
	long = math.Min(math.Max(long, 200), 3000)
	var l line
	if d.vine.Arch {
		l = arched(at, side, wire, long)
		d.lower = true
	} else {
		l = laid(at, side, wire, long)
	}
	d.youngWood(caneLayer, l, caneWidth, 0.6*caneWidth)
	d.nodes(l, side, c.Nodes)
	d.ties(l, wire)
	if d.style.Labels {
		end, _ := l.at(1)
		d.words(end.plus(point{side * 24, -12}), anchorOf(point{side, 0}), fmt.Sprint(c.Nodes))
	}
}

// laid goes up to the wire and along it.
func laid(at point, side, wire, long float64) line {
	rise := math.Abs(wire - at.y)
	land := point{at.x + side*(60+0.8*rise), wire + caneWidth/2}
	l := line(bend(at, at.plus(point{side * 8, 0.8 * (land.y - at.y)}), land.minus(point{side * (40 + 0.3*rise), 0}), land))
	rest := math.Max(60, long-l.length())
	for k := 1; k <= 8; k++ {
		l = append(l, land.plus(point{side * rest * float64(k) / 8, 0}))
	}
	return l
}

// arched goes over the wire and down to a lower one.
func arched(at point, side, wire, long float64) line {
	far := 0.72 * long
	return bend(at, at.plus(point{side * 0.05 * far, (wire - at.y) + 0.3*long}), at.plus(point{side * 0.8 * far, (wire - at.y) + 0.28*long}),
		point{at.x + side*far, wire - arcDropMM - 20})
}

// nodes draws a swelling and a bud at each node, on alternate sides.
func (d *drawing) nodes(l line, side float64, n int) {
	out := 1.0
	for k := range n {
		share := (float64(k) + 0.6) / (float64(n) + 0.4)
		c, along := l.at(share)
		half := caneWidth / 2 * (1 - 0.4*share)
		d.add(caneLayer, `<circle cx="%s" cy="%s" r="%s"/>`, num(c.x), num(-c.y), num(half+2.5))
		up := along.left().times(side)
		d.bud(caneLayer, c, along, up.times(out), half+1, 0.8)
		out = -out
	}
}

// ties bind the cane to its wires.
func (d *drawing) ties(l line, wire float64) {
	places := []point{}
	if d.vine.Arch {
		places = append(places, crossing(l, wire, 1), crossing(l, wire-arcDropMM, -1))
	} else {
		for _, share := range []float64{0.45, 0.93} {
			c, _ := l.at(share)
			places = append(places, c)
		}
	}
	for _, c := range places {
		d.add(tieLayer, `<ellipse cx="%s" cy="%s" rx="9" ry="20"/>`, num(c.x), num(-c.y+3))
	}
}

// crossing is where a line last passes a height, rising for way 1, falling for -1;
// its end where it does not.
func crossing(l line, height, way float64) point {
	out := l[len(l)-1]
	for k := 1; k < len(l); k++ {
		a, b := way*(l[k-1].y-height), way*(l[k].y-height)
		if a < 0 && b >= 0 {
			out = l[k-1].toward(l[k], a/(a-b))
		}
	}
	return out
}

// wires gives the heights of the wires that the vine uses.
func (d *drawing) wires() (heights []float64) {
	caned := false
	for _, a := range d.vine.Arms {
		caned = caned || len(a.Canes) > 0
	}
	if d.vine.Form == Goblet && d.vine.WireMM == 0 && !caned {
		return nil
	}
	heights = append(heights, d.wireMM)
	if d.upper {
		heights = append(heights, d.wireMM+secondWireMM)
	}
	if d.lower {
		heights = append(heights, d.wireMM-arcDropMM)
	}
	for _, y := range heights {
		d.reach(point{0, y}, 40)
	}
	return heights
}

// span draws wires over the whole width, once that is known.
func (d *drawing) span(heights []float64) {
	for _, y := range heights {
		d.add(wireLayer, `<path d="M%sL%s"/>`, xy(point{d.low.x, y}), xy(point{d.high.x, y}))
	}
}
