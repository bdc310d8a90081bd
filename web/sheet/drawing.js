// Draws the plan of a sheet: all rows thin, those ordered thick, with their
// number in walking order where each is begun. Black and white.

import { svg } from "../map/dom.js";
import { words } from "../report/chart.js";

const WIDTH = 720;
const TOP = 46;
const BOTTOM = 60;
const LONG = 88;
const EDGE = 14;
/** Row labels are written every so many rows, and for those that are ordered where there is room. */
const EVERY = 5;
const LABEL_WIDE = 20;
/** Rows nearer to each other than this have their numbers on two levels. */
const CLOSE = 18;

/**
 * @param {import("../work/walkplan.js").WalkPlan} plan
 * @param {{label: string, up: string, down: string}} text what it shows, in a sentence; the names of both edges
 */
export function planDrawing(plan, { label, up, down }) {
	const height = TOP + LONG + BOTTOM;
	const root = svg("svg", { viewBox: `0 0 ${WIDTH} ${height}`, role: "img", "aria-label": label, class: "sheet-plan" });
	const pitch = Math.min(34, (WIDTH - 2 * EDGE) / Math.max(1, plan.rows.length));
	const left = (WIDTH - pitch * plan.rows.length) / 2;
	const x = (/** @type {number} */ place) => left + (place + 0.5) * pitch;
	const y = (/** @type {number} */ at) => TOP + LONG * (1 - at);
	root.append(words(WIDTH / 2, 13, up, { "text-anchor": "middle", class: "plan-edge" }), words(WIDTH / 2, height - 4, down, { "text-anchor": "middle", class: "plan-edge" }));
	let free = -Infinity;
	for (const row of plan.rows) {
		const at = x(row.place);
		const low = Math.min(...row.near);
		root.append(svg("line", { x1: at.toFixed(1), x2: at.toFixed(1), y1: y(row.near[0]).toFixed(1), y2: y(row.near[1]).toFixed(1), class: "plan-row" }));
		if (row.piece) root.append(...orderedRow(row, at, y, pitch));
		const wanted = row.step > 0 || (row.place + 1) % EVERY === 0;
		if (wanted && at - free >= LABEL_WIDE) {
			root.append(words(at, Math.min(height - 20, y(low) + (row.piece ? (pitch < CLOSE ? 40 : 28) : 16)), row.label, { "text-anchor": "middle", class: "plan-label" }));
			free = at;
		}
	}
	return root;
}

/** @param {import("../work/walkplan.js").PlanRow} row @param {number} x @param {(at: number) => number} y @param {number} pitch */
function orderedRow(row, x, y, pitch) {
	const [from, to] = /** @type {[number, number]} */ (row.piece);
	const up = to >= from;
	const tip = y(to);
	const wing = Math.min(5, pitch / 2.6);
	const back = tip + (up ? 9 : -9);
	// Numbers of rows that lie close together stand on two levels, so that they can be read.
	const level = pitch < CLOSE && row.step % 4 >= 2 ? 13 : 0;
	const at = y(from) + (up ? 13 + level : -5 - level);
	return [
		svg("line", { x1: x.toFixed(1), x2: x.toFixed(1), y1: y(from).toFixed(1), y2: back.toFixed(1), class: "plan-ordered" }),
		svg("polygon", { points: `${x.toFixed(1)},${tip.toFixed(1)} ${(x - wing).toFixed(1)},${back.toFixed(1)} ${(x + wing).toFixed(1)},${back.toFixed(1)}`, class: "plan-tip" }),
		words(x, at, String(row.step), { "text-anchor": "middle", class: "plan-step" }),
	];
}
