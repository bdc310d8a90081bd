// Drawings for reports. A chart is drawn for the width it has, so that letters
// keep their size; what it says stands beside it as a table. Colours are set for
// light and dark at once, and print takes the light ones.

import { h, svg } from "../map/dom.js";

/** @typedef {{left: number, right: number, top: number, bottom: number}} Frame */

/**
 * A place that draws its chart anew whenever its width changes.
 * @param {string} label what the chart says, in a sentence
 * @param {number} height
 * @param {(root: SVGElement, width: number, height: number) => void} draw
 */
export function chart(label, height, draw) {
	const place = h("div", { class: "chart" });
	let drawn = 0;
	const redraw = () => {
		const width = Math.round(Math.max(260, place.clientWidth || 640));
		if (width === drawn) return;
		drawn = width;
		const root = svg("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": label });
		draw(root, width, height);
		place.replaceChildren(root);
	};
	redraw();
	new ResizeObserver(redraw).observe(place);
	return place;
}

/**
 * A colour for both grounds.
 * @template {SVGElement} T
 * @param {T} element
 * @param {{light: string, dark: string}} colour
 * @param {"fill" | "stroke"} [what]
 * @returns {T}
 */
export function coloured(element, { light, dark }, what = "fill") {
	element.style[what] = `light-dark(${light}, ${dark})`;
	return element;
}

/**
 * Round steps for an axis, from 0 or below to at least the greatest value.
 * @param {number} most
 * @param {number} steps about how many
 */
export function niceSteps(most, steps) {
	if (!(most > 0)) return [0, 1];
	const raw = most / steps;
	const power = 10 ** Math.floor(Math.log10(raw));
	const lead = raw / power;
	const step = (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 2.5 ? 2.5 : lead <= 5 ? 5 : 10) * power;
	const list = [];
	for (let k = 0; k * step < most + step * 0.999; k++) list.push(Number((k * step).toPrecision(12)));
	return list;
}

/** @param {number} x @param {number} y @param {string} text @param {Record<string, any>} [more] */
export function words(x, y, text, more = {}) {
	return svg("text", { x: x.toFixed(1), y: y.toFixed(1), ...more }, text);
}

/** @param {number} x1 @param {number} y1 @param {number} x2 @param {number} y2 @param {string} kind class */
export function line(x1, y1, x2, y2, kind) {
	return svg("line", { x1: x1.toFixed(1), y1: y1.toFixed(1), x2: x2.toFixed(1), y2: y2.toFixed(1), class: kind });
}

/**
 * The axis of values at the left, with lines across.
 * @param {SVGElement} root
 * @param {number[]} steps
 * @param {(value: number) => number} y
 * @param {Frame} frame
 * @param {(value: number) => string} write
 */
export function leftAxis(root, steps, y, frame, write) {
	for (const v of steps) root.append(line(frame.left, y(v), frame.right, y(v), v === 0 ? "axis" : "across"), words(frame.left - 6, y(v) + 4, write(v), { "text-anchor": "end" }));
}
