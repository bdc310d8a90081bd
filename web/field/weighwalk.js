// The arithmetic of going from one vine to be weighed to the next. Pure: what the
// server said, under what this phone has recorded.

import { WEIGHING } from "./ledger.js";
import { DONE, SKIPPED, alive } from "./walk.js";

/**
 * @typedef {import("./types.js").WeighList} WeighList
 * @typedef {import("./types.js").WeighRow} WeighRow
 * @typedef {object} WeighSpot one vine of the list
 * @property {number} id
 * @property {number} number
 * @property {WeighRow} row
 * @property {number} condition
 * @property {number} grams -1 where it has no weight
 * @property {number} progress
 */

/**
 * All vines of a list in walking order.
 * @param {WeighList} list
 * @param {import("./ledger.js").Ledger} ledger
 * @returns {WeighSpot[]}
 */
export function weighSpots(list, ledger) {
	return list.rows.flatMap((row) => {
		const over = ledger.over(row, WEIGHING);
		return row.vines.map(([number, id, condition, grams, progress]) => {
			const mine = over.get(id);
			return { id, number, row, condition: mine?.condition ?? condition, grams: mine?.grams ?? grams, progress: mine?.progress ?? progress };
		});
	});
}

/** How a vine of the list stands. @param {WeighSpot} s @returns {"weighed" | "missing" | "dead" | "pruned" | "open"} */
export function standing(s) {
	if (s.grams >= 0) return "weighed";
	if (!alive(s)) return s.condition === DEAD ? "dead" : "missing";
	return s.progress === SKIPPED || s.progress === DONE ? "pruned" : "open";
}
const DEAD = 5;

/** @param {WeighSpot[]} spots */
export function weighTally(spots) {
	const count = { number: spots.length, weighed: 0, cannot: 0, open: 0 };
	for (const s of spots) {
		const how = standing(s);
		if (how === "weighed") count.weighed++;
		else if (how === "open") count.open++;
		else count.cannot++;
	}
	return count;
}

/** The next open vine from an index on, once round the list; -1 where none is open. @param {WeighSpot[]} spots @param {number} from */
export function nextToWeigh(spots, from) {
	for (let k = 0; k < spots.length; k++) {
		const i = (from + k) % spots.length;
		if (standing(spots[i]) === "open") return i;
	}
	return -1;
}

/**
 * Post section and slot counted from the end where the walk enters the row, in the
 * form that slotOf takes.
 * @param {Pick<WeighRow, "start" | "section" | "last">} row
 */
export const walkOfWeighRow = (row) => ({ spots: [], index: new Map(), far: row.start === "far", section: row.section, last: row.last });

/** How many places a vine is from the end where the walk enters. @param {{row: Pick<WeighRow, "start" | "last">, number: number}} s */
export const placesIn = (s) => (s.row.start === "far" ? s.row.last - s.number + 1 : s.number);
