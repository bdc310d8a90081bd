package sld

import (
	"strconv"

	"courson/geo/tile"
)

// mark is one sign on a point.
type mark struct {
	name   string // well-known name (OGC 05-077r4, 11.3.2)
	fill   string // colour; "" hollow
	stroke string
	width  string
	size   int // pixels
	turn   int // degrees clockwise
}

// marksOf gives the signs that make up a class's symbol, the lowest first.
func marksOf(c tile.Class) []mark {
	disc := mark{name: "circle", fill: c.Light, stroke: tile.InkLight, width: "0.5", size: 9}
	on := func(name string) []mark {
		return []mark{disc, {name: name, fill: tile.GlyphHalo, stroke: tile.GlyphHalo, width: "1", size: 5}}
	}
	sign := func(name string, turn int) []mark {
		return []mark{{name: name, fill: c.Light, stroke: tile.InkLight, width: "0.5", size: 10, turn: turn}}
	}
	switch c.Symbol {
	case tile.SymbolRing:
		return []mark{{name: "circle", stroke: c.Light, width: "1.5", size: 8}}
	case tile.SymbolHalf:
		return []mark{{name: "circle", stroke: c.Light, width: "1.5", size: 9}, {name: "circle", fill: c.Light, stroke: c.Light, width: "0.5", size: 4}}
	case tile.SymbolTick:
		return on("triangle")
	case tile.SymbolPlus:
		return on("cross")
	case tile.SymbolBar:
		return on("x")
	case tile.SymbolDiamond:
		return sign("square", 45)
	case tile.SymbolCheck:
		return []mark{{name: "square", stroke: c.Light, width: "1.5", size: 9, turn: 45}}
	case tile.SymbolCross:
		return sign("x", 0)
	case tile.SymbolSquare:
		return sign("square", 0)
	case tile.SymbolUp:
		return sign("triangle", 0)
	case tile.SymbolDown:
		return sign("triangle", 180)
	}
	return []mark{disc}
}

func (d *document) marks(c tile.Class) {
	for _, m := range marksOf(c) {
		d.put("<se:PointSymbolizer><se:Graphic><se:Mark>")
		d.leaf("se:WellKnownName", m.name)
		if m.fill != "" {
			d.put("<se:Fill>")
			d.parameter("fill", m.fill)
			d.put("</se:Fill>")
		}
		d.stroke(m.stroke, m.width, "solid")
		d.put("</se:Mark>")
		d.leaf("se:Size", strconv.Itoa(m.size))
		if m.turn != 0 {
			d.leaf("se:Rotation", strconv.Itoa(m.turn))
		}
		d.put("</se:Graphic></se:PointSymbolizer>")
	}
}
