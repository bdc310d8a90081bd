// Makes records (events) for the vines a person chose.

import { living } from "./model.js";
import { rowOf } from "./stand.js";

/**
 * @typedef {import("./model.js").FieldEvent} FieldEvent
 * @typedef {import("./model.js").Place} Place
 * @typedef {import("./stand.js").Stand} Stand
 * @typedef {{kind: string, value: Record<string, any>}} Fact
 */

/**
 * @param {object} parts
 * @param {() => string} parts.id makes a UUIDv7
 * @param {string} parts.device
 * @param {() => string} parts.by who records
 * @param {() => Date} [parts.now]
 */
export function recorder({ id, device, by, now = () => new Date() }) {
	/**
	 * @param {Place} place
	 * @param {number} season
	 * @param {Fact} fact
	 * @returns {FieldEvent} the number in the device's sequence is given when it is kept
	 */
	const record = (place, season, fact) => {
		/** @type {FieldEvent} */
		const event = { id: id(), device, seq: 0, at: now().toISOString(), season, block: place.block, kind: fact.kind, value: fact.value };
		if (by()) event.by = by();
		if (place.row) event.row = place.row;
		if (place.vines?.length) event.vines = place.vines;
		return event;
	};
	return {
		record,
		/**
		 * Takes a record back.
		 * @param {FieldEvent} event
		 * @param {string} reason
		 */
		takeBack: (event, reason) => record(event, event.season, { kind: "void", value: { event: event.id, ...(reason ? { reason } : {}) } }),
	};
}

/** @typedef {ReturnType<typeof recorder>} Recorder */

/**
 * One place per row for chosen vines of a stand.
 * @param {Stand} stand
 * @param {Iterable<number>} indexes
 * @returns {Place[]}
 */
export function placesOf(stand, indexes) {
	/** @type {Map<number, number[]>} */
	const rows = new Map();
	for (const i of [...indexes].sort((a, b) => a - b)) {
		const r = rowOf(stand, i);
		const vines = rows.get(r) ?? [];
		vines.push(stand.id[i]);
		rows.set(r, vines);
	}
	return [...rows].map(([r, vines]) => ({ block: stand.block, row: stand.rows[r].id, vines }));
}

/**
 * Facts of pruning are recorded for places with a living vine only.
 * @param {Fact} fact
 */
export function livingOnly(fact) {
	return fact.kind === "pruned" || fact.kind === "work" || fact.kind === "measure";
}

/**
 * @param {Stand} stand
 * @param {Iterable<number>} indexes
 * @param {Fact} fact
 * @returns {number[]} those the fact can be recorded for
 */
export function eligible(stand, indexes, fact) {
	return [...indexes].filter((i) => !livingOnly(fact) || living(stand.condition[i]));
}
