// Draws the mark of a class, the same as on the map, for legends, lists and plans.

import { GLYPH } from "../style/ground.js";
import { SYMBOLS, shapeOf } from "../style/symbols.js";
import { svg } from "./dom.js";
import { ESTIMATE } from "./vineshader.js";

/**
 * The parts of a mark in a square from -1 to 1.
 * @param {string} symbol name in the legend
 * @param {string} colour of the class
 * @param {import("../style/ground.js").Ground} inks
 * @returns {SVGElement[]}
 */
export function markParts(symbol, colour, inks) {
	/** @type {Record<import("../style/symbols.js").Paint, string>} */
	const paints = { class: colour, ink: inks.ink, ground: inks.ground, tick: inks.tick, glyph: GLYPH.ink, halo: GLYPH.halo };
	return SYMBOLS[shapeOf(symbol)].parts.map((part) =>
		svg("path", {
			d: part.d,
			fill: part.fill ? paints[part.fill] : "none",
			stroke: part.stroke ? paints[part.stroke] : null,
			"stroke-width": part.width ?? null,
			"stroke-linecap": "round",
			"stroke-linejoin": "round",
		}),
	);
}

/**
 * How a vine looks whose value was measured (1), calibrated (2) or estimated (3).
 * @param {number} basis
 * @param {import("../style/ground.js").Ground} inks
 */
export function basisMark(basis, inks) {
	const r = basis === 3 ? ESTIMATE : 1;
	return svg("svg", { viewBox: "-1.6 -1.6 3.2 3.2", class: "mark", "aria-hidden": "true" },
		svg("circle", { r, fill: inks.faint, stroke: inks.ink, "stroke-width": 0.16 }),
		basis === 1 ? svg("circle", { r: 0.31, fill: GLYPH.ink, stroke: GLYPH.halo, "stroke-width": 0.18 }) : null);
}

/**
 * A mark by itself.
 * @param {import("../lib/model.js").LegendClass} cls
 * @param {import("../style/ground.js").GroundName} ground
 * @param {import("../style/ground.js").Ground} inks
 */
export function markOf(cls, ground, inks) {
	return svg("svg", { viewBox: "-1.6 -1.6 3.2 3.2", class: "mark", "aria-hidden": "true" }, ...markParts(cls.symbol, cls[ground], inks));
}
