// The rows of a block as a plan for a sheet: side by side at even distance, so
// that numbers can be read, each as long as it is. Not to scale across the rows.

/**
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {object} PlanRow
 * @property {number} id
 * @property {string} label
 * @property {number} place 0, 1, 2 … from the left
 * @property {[number, number]} near along the rows, 0 at the lower edge, 1 at the upper, where the numbers begin
 * @property {[number, number] | null} piece what is ordered of it, from where the walk begins to where it ends; null: not in the order
 * @property {number} step 1, 2, 3 … in walking order, 0 not in the order
 *
 * @typedef {object} WalkPlan
 * @property {PlanRow[]} rows
 * @property {boolean} whole false: only the part of the block around the ordered rows
 * @property {string} up where the upper edge lies: n, ne, e …
 * @property {string} down
 * @property {"up" | "down" | "both"} near the edge at which the numbers of all rows begin; both: they begin at one in some rows, at the other in others
 */

/** More rows than this are not drawn: the numbers would run into each other. */
const MOST_ROWS = 64;
/** Rows drawn beside those ordered where the block is cut. */
const BESIDE = 6;

const WAYS = ["n", "ne", "e", "se", "s", "sw", "w", "nw"];

/** The quarter of the compass that a step points to. @param {number} east @param {number} north */
export function wayOf(east, north) {
	const turn = Math.atan2(east, north) / (Math.PI / 4);
	return WAYS[(Math.round(turn) + 8) % 8];
}

/**
 * @param {Stand} stand
 * @param {{row: number, from: number, to: number, start: "near" | "far"}[]} ordered in walking order
 * @returns {WalkPlan}
 */
export function walkPlan(stand, ordered) {
	const rows = stand.rows.filter((r) => r.count > 0);
	const { ax, ay } = alongOf(stand, rows);
	const along = (/** @type {number} */ i) => stand.wx[i] * ax + stand.wy[i] * ay;
	// To the right of someone who looks along the rows; y runs to the south.
	const across = (/** @type {number} */ i) => -stand.wx[i] * ay + stand.wy[i] * ax;
	const sorted = [...rows].sort((a, b) => across(a.first) + across(a.first + a.count - 1) - across(b.first) - across(b.first + b.count - 1));
	const shown = cut(sorted, ordered);
	const ends = shown.flatMap((r) => [along(r.first), along(r.first + r.count - 1)]);
	const low = Math.min(...ends);
	const span = Math.max(...ends) - low || 1;
	const at = (/** @type {number} */ i) => (along(i) - low) / span;
	const upward = shown.filter((r) => along(r.first + r.count - 1) >= along(r.first)).length;
	return {
		whole: shown.length === sorted.length,
		up: wayOf(ax, -ay),
		down: wayOf(-ax, ay),
		near: upward === shown.length ? "down" : upward === 0 ? "up" : "both",
		rows: shown.map((r, place) => {
			const step = ordered.findIndex((o) => o.row === r.id);
			const last = r.first + r.count - 1;
			return { id: r.id, label: r.label, place, near: /** @type {[number, number]} */ ([at(r.first), at(last)]), step: step + 1, piece: step < 0 ? null : pieceOf(stand, r, ordered[step], at) };
		}),
	};
}

/** The way along the rows, from the numbering end of the first. @param {Stand} stand @param {import("../lib/stand.js").StandRow[]} rows */
function alongOf(stand, rows) {
	let x = 0;
	let y = 0;
	for (const r of rows) {
		const last = r.first + r.count - 1;
		const dx = stand.wx[last] - stand.wx[r.first];
		const dy = stand.wy[last] - stand.wy[r.first];
		const same = x * dx + y * dy >= 0 ? 1 : -1;
		x += same * dx;
		y += same * dy;
	}
	const long = Math.hypot(x, y);
	return long > 0 ? { ax: x / long, ay: y / long } : { ax: 0, ay: -1 };
}

/**
 * @template {{id: number}} R
 * @param {R[]} rows
 * @param {{row: number}[]} ordered
 * @returns {R[]}
 */
function cut(rows, ordered) {
	if (rows.length <= MOST_ROWS) return rows;
	const places = ordered.map((o) => rows.findIndex((r) => r.id === o.row)).filter((k) => k >= 0);
	if (!places.length) return rows.slice(0, MOST_ROWS);
	return rows.slice(Math.max(0, Math.min(...places) - BESIDE), Math.max(...places) + BESIDE + 1);
}

/**
 * @param {Stand} stand
 * @param {import("../lib/stand.js").StandRow} row
 * @param {{from: number, to: number, start: "near" | "far"}} order
 * @param {(i: number) => number} at
 * @returns {[number, number] | null}
 */
function pieceOf(stand, row, { from, to, start }, at) {
	const own = [];
	for (let i = row.first; i < row.first + row.count; i++) if (stand.number[i] >= from && stand.number[i] <= to) own.push(i);
	if (!own.length) return null;
	const ends = /** @type {[number, number]} */ ([at(own[0]), at(own[own.length - 1])]);
	return start === "near" ? ends : [ends[1], ends[0]];
}

/** @type {WeakMap<Stand, Map<number, import("./proposal.js").RowLine>>} */
const lines = new WeakMap();

/** Where a row lies in its block's order, and which way its numbers run. @param {Stand} stand @param {number} row @returns {import("./proposal.js").RowLine} */
export function lineOfRow(stand, row) {
	let map = lines.get(stand);
	if (!map) {
		map = new Map(stand.rows.map((r, index) => {
			const last = r.first + Math.max(0, r.count - 1);
			return [r.id, { index, dx: r.count ? stand.wx[last] - stand.wx[r.first] : 0, dy: r.count ? stand.wy[last] - stand.wy[r.first] : 0 }];
		}));
		lines.set(stand, map);
	}
	return map.get(row) ?? { index: 0, dx: 0, dy: 0 };
}
