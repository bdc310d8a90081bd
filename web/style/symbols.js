// The marks of vines. The numbers are those of the shader (map/vineshader.js);
// the outlines are for legends and plans, in a square from -1 to 1, y down.

/**
 * @typedef {"disc" | "ring" | "half" | "tick" | "diamond" | "cross" | "square" | "up" | "down" | "check" | "bar" | "plus"} Shape
 * @typedef {"class" | "ink" | "ground" | "tick" | "glyph" | "halo"} Paint
 * @typedef {object} Part
 * @property {string} d path
 * @property {Paint} [fill]
 * @property {Paint} [stroke]
 * @property {number} [width] of the stroke
 *
 * @typedef {{code: number, glyph: boolean, parts: Part[]}} Symbol glyphs are drawn over the dots and never smaller than can be read
 */

const CIRCLE = "M-1 0A1 1 0 1 1 1 0A1 1 0 1 1 -1 0Z";
const DIAMOND = "M0 -1.2L1.2 0L0 1.2L-1.2 0Z";
const BANG = "M0 -0.62L0 0.16M0 0.5L0 0.52";
const SQUARE = "M-0.85 -0.85L0.85 -0.85L0.85 0.85L-0.85 0.85Z";
const UP = "M0 -1L1.05 0.8L-1.05 0.8Z";
const DOWN = "M0 1L1.05 -0.8L-1.05 -0.8Z";
const CROSS = "M-0.8 -0.8L0.8 0.8M0.8 -0.8L-0.8 0.8";

/** @type {Part} */
const DISC = { d: CIRCLE, fill: "class", stroke: "ink", width: 0.16 };

/** @type {Record<Shape, Symbol>} */
export const SYMBOLS = {
	disc: { code: 0, glyph: false, parts: [DISC] },
	ring: { code: 1, glyph: false, parts: [{ d: "M-0.85 0A0.85 0.85 0 1 1 0.85 0A0.85 0.85 0 1 1 -0.85 0Z", fill: "ground", stroke: "class", width: 0.3 }] },
	half: { code: 2, glyph: false, parts: [DISC, { d: "M-0.68 0A0.68 0.68 0 0 1 0.68 0Z", fill: "ground" }] },
	tick: { code: 3, glyph: false, parts: [DISC, { d: "M-0.48 0.04L-0.12 0.4L0.5 -0.36", stroke: "tick", width: 0.26 }] },
	diamond: { code: 4, glyph: true, parts: [{ d: DIAMOND, fill: "class", stroke: "ink", width: 0.16 }, { d: BANG, stroke: "tick", width: 0.26 }] },
	cross: { code: 5, glyph: true, parts: [{ d: CROSS, stroke: "halo", width: 0.8 }, { d: CROSS, stroke: "glyph", width: 0.4 }] },
	square: { code: 6, glyph: true, parts: [{ d: SQUARE, fill: "halo", stroke: "halo", width: 0.6 }, { d: SQUARE, fill: "class", stroke: "glyph", width: 0.24 }, { d: "M-0.85 0.85L0.85 -0.85", stroke: "glyph", width: 0.24 }] },
	up: { code: 7, glyph: true, parts: [{ d: UP, fill: "halo", stroke: "halo", width: 0.6 }, { d: UP, fill: "class", stroke: "glyph", width: 0.24 }] },
	down: { code: 8, glyph: true, parts: [{ d: DOWN, fill: "halo", stroke: "halo", width: 0.6 }, { d: DOWN, fill: "class", stroke: "glyph", width: 0.24 }] },
	check: { code: 9, glyph: true, parts: [{ d: DIAMOND, stroke: "halo", width: 0.6 }, { d: DIAMOND, fill: "halo", stroke: "glyph", width: 0.24 }, { d: BANG, stroke: "glyph", width: 0.28 }] },
	bar: { code: 10, glyph: false, parts: [DISC, { d: "M-0.5 0L0.5 0", stroke: "tick", width: 0.26 }] },
	plus: { code: 11, glyph: false, parts: [DISC, { d: "M-0.5 0L0.5 0M0 -0.5L0 0.5", stroke: "tick", width: 0.26 }] },
};

/**
 * The shape for a symbol of the server's legend; a plain disc for a name that
 * this page does not know.
 * @param {string} name
 * @returns {Shape}
 */
export function shapeOf(name) {
	return name in SYMBOLS ? /** @type {Shape} */ (name) : "disc";
}
