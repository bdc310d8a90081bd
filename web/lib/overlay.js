// What records that wait to be sent do to the columns that are shown. The
// server's fold decides in the end; this only shows at once what a person did.

import { CONDITIONS, DONE, FLAG, PROGRESS } from "./model.js";
import { indexOf } from "./stand.js";

/**
 * @typedef {import("./stand.js").Stand} Stand
 * @typedef {import("./model.js").FieldEvent} FieldEvent
 * @typedef {Map<string, Map<number, number[]>>} Journal per event id: the shown bytes of each vine before it
 */

/** The spring work that settles what the wood left asks for. */
const THINNING = "shoot thinning";
/** Jobs at shoot thinning, as the column has them. */
const JOB = { none: 0, rubOff: 1, bothPush: 2, done: 3 };

/** Columns that an overlay can touch. */
export const SHOWN = /** @type {const} */ (["condition", "progress", "left", "flags", "follow"]);

/**
 * The vines of a stand that an event is about, by index.
 * @param {Stand} stand
 * @param {{block: number, row?: number, vines?: number[]}} place
 * @returns {number[]}
 */
export function targetOf(stand, place) {
	if (place.block !== stand.block) return [];
	if (place.vines?.length) return place.vines.map((id) => indexOf(stand, id)).filter((i) => i >= 0);
	const rows = place.row ? stand.rows.filter((r) => r.id === place.row) : stand.rows;
	return rows.flatMap((r) => Array.from({ length: r.count }, (_, k) => r.first + k));
}

/**
 * Lays events over the shown columns, oldest first, and remembers what was there
 * before. A void takes its event out, or brings back what the journal remembers.
 * @param {Stand} stand
 * @param {FieldEvent[]} events
 * @param {Journal} journal
 * @returns {Set<number>} the vines touched, by index
 */
export function overlay(stand, events, journal) {
	const voided = new Set(events.filter((e) => e.kind === "void").map((e) => e.value.event));
	const present = new Set(events.map((e) => e.id));
	/** @type {Set<number>} */
	const touched = new Set();
	for (const event of events) {
		if (event.block !== stand.block || event.season !== stand.season || voided.has(event.id)) continue;
		if (event.kind === "void") {
			if (!present.has(event.value.event)) bringBack(stand, journal.get(event.value.event), touched);
			continue;
		}
		const target = targetOf(stand, event);
		if (!journal.has(event.id)) journal.set(event.id, new Map(target.map((i) => [i, SHOWN.map((c) => stand[c][i])])));
		for (const i of target) {
			apply(stand, i, event);
			touched.add(i);
		}
	}
	return touched;
}

/**
 * @param {Stand} stand
 * @param {Map<number, number[]> | undefined} before
 * @param {Set<number>} touched
 */
function bringBack(stand, before, touched) {
	for (const [i, bytes] of before ?? []) {
		SHOWN.forEach((column, k) => (stand[column][i] = bytes[k]));
		touched.add(i);
	}
}

/**
 * @param {Stand} stand
 * @param {number} i
 * @param {FieldEvent} event
 */
function apply(stand, i, event) {
	const { kind, value } = event;
	if (kind === "pruned") {
		stand.progress[i] = DONE;
		if (typeof value.nodes === "number") stand.left[i] = Math.min(value.nodes, 254);
		stand.follow[i] = jobOf(value.arms ?? []);
	} else if (kind === "work" && value.operation === THINNING) {
		if (value.progress === "done" && stand.follow[i] !== JOB.none) stand.follow[i] = JOB.done;
	} else if (kind === "work" && value.operation === "pruning") {
		stand.progress[i] = Math.max(0, PROGRESS.indexOf(value.progress));
	} else if (kind === "condition") {
		stand.condition[i] = Math.max(0, CONDITIONS.indexOf(value.condition));
		if (value.look_again) stand.flags[i] |= FLAG.lookAgain;
	} else if (kind === "note") {
		stand.flags[i] |= FLAG.note;
	}
}

/**
 * The job that the wood left asks for: a spur with its first bud on top was left
 * with three nodes, or with one and the base bud.
 * @param {{spurs?: {nodes: number, first_bud_faces?: string}[]}[]} arms
 */
function jobOf(arms) {
	const above = arms.flatMap((a) => a.spurs ?? []).filter((s) => s.first_bud_faces === "above");
	if (above.some((s) => s.nodes >= 3)) return JOB.rubOff;
	return above.some((s) => s.nodes === 1) ? JOB.bothPush : JOB.none;
}
