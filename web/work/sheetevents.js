// A filled paper sheet as records: rows that are done, and the vines that were
// otherwise.

import { CONDITIONS, living } from "../lib/model.js";

/**
 * @typedef {"missing" | "dead" | "sick" | "undone" | "nodes"} What
 * @typedef {{row: number, number: number, what: What, nodes: number | null}} Exception nodes: how many were left
 * @typedef {{k: number, why: "no_row" | "no_vine" | "twice" | "no_nodes"}} Fault of exception k
 * @typedef {{row: number, label: string, from: number, to: number, start?: "near" | "far"}} RunOfRow
 * @typedef {Map<number, number | null>} DoneRows by row: the number of the last vine done, null for the whole row
 */

const SICK = CONDITIONS.indexOf("diseased");

/** The most count nodes that are recorded of one vine, as on the map. */
const MOST_NODES = 400;

/**
 * What is wrong with what was typed.
 * @param {import("../lib/stand.js").Stand} stand
 * @param {RunOfRow[]} rows of the order
 * @param {Exception[]} exceptions
 * @returns {Fault[]}
 */
export function faultsOf(stand, rows, exceptions) {
	/** @type {Fault[]} */
	const faults = [];
	const seen = new Set();
	exceptions.forEach((e, k) => {
		const run = rows.find((r) => r.row === e.row);
		const twice = `${e.row}.${e.number}`;
		if (!run) faults.push({ k, why: "no_row" });
		else if (vineAt(stand, run, e.number) < 0) faults.push({ k, why: "no_vine" });
		else if (seen.has(twice)) faults.push({ k, why: "twice" });
		else if (e.what === "nodes" && !(Number.isInteger(e.nodes) && /** @type {number} */ (e.nodes) >= 0 && /** @type {number} */ (e.nodes) <= MOST_NODES)) faults.push({ k, why: "no_nodes" });
		seen.add(twice);
	});
	return faults;
}

/** Indexes of the vines of a run, in order of number. @param {import("../lib/stand.js").Stand} stand @param {RunOfRow} run */
export function vinesOfRun(stand, run) {
	const row = stand.rows.find((r) => r.id === run.row);
	const list = [];
	for (let i = row?.first ?? 0; row && i < row.first + row.count; i++) if (stand.number[i] >= run.from && stand.number[i] <= run.to) list.push(i);
	return list;
}

/** @param {import("../lib/stand.js").Stand} stand @param {RunOfRow} run @param {number} number */
function vineAt(stand, run, number) {
	return vinesOfRun(stand, run).find((i) => stand.number[i] === number) ?? -1;
}

/**
 * Places and facts to be recorded. A row that is done from end to end is one
 * record; where vines of it were found missing or dead, not done, or with another
 * number of nodes, the record names the vines it is about.
 * @param {import("../lib/stand.js").Stand} stand
 * @param {string} operation
 * @param {RunOfRow[]} rows of the order
 * @param {DoneRows} done
 * @param {Exception[]} exceptions without faults
 * @param {boolean} [sick] the order is for the sick vines only, which are done last of all
 * @returns {{place: import("../lib/model.js").Place, fact: import("../lib/records.js").Fact}[]}
 */
export function sheetRecords(stand, operation, rows, done, exceptions, sick = false) {
	const { block } = stand;
	/** @type {{place: import("../lib/model.js").Place, fact: import("../lib/records.js").Fact}[]} */
	const out = [];
	for (const run of rows) {
		const own = exceptions.filter((e) => e.row === run.row);
		const vines = vinesOfRun(stand, run);
		const last = done.get(run.row);
		if (last !== undefined) {
			const not = new Set(own.filter((e) => e.what !== "sick").map((e) => e.number));
			const whole = last === null && stand.rows.find((r) => r.id === run.row)?.count === vines.length;
			const ids = walkedTo(stand, run, vines, last).filter((i) => (sick ? stand.condition[i] === SICK : living(stand.condition[i])) && !not.has(stand.number[i])).map((i) => stand.id[i]);
			if (whole && !not.size && !sick) out.push({ place: { block, row: run.row }, fact: doneFact(operation) });
			else if (ids.length) out.push({ place: { block, row: run.row, vines: ids }, fact: doneFact(operation) });
		}
		for (const e of own) {
			const fact = factOf(e);
			if (fact) out.push({ place: { block, row: run.row, vines: [stand.id[vineAt(stand, run, e.number)]] }, fact });
		}
	}
	return out;
}

/** The vines from where the walk begins to the last one done. @param {import("../lib/stand.js").Stand} stand @param {RunOfRow} run @param {number[]} vines @param {number | null} last */
function walkedTo(stand, run, vines, last) {
	if (last === null) return vines;
	return vines.filter((i) => (run.start === "far" ? stand.number[i] >= last : stand.number[i] <= last));
}

/** @param {string} operation @returns {import("../lib/records.js").Fact} */
function doneFact(operation) {
	return operation === "pruning" ? { kind: "pruned", value: {} } : { kind: "work", value: { operation, progress: "done" } };
}

/** @param {Exception} e @returns {import("../lib/records.js").Fact | null} */
function factOf({ what, nodes }) {
	if (what === "undone") return null;
	if (what === "nodes") return { kind: "pruned", value: { nodes } };
	return { kind: "condition", value: { condition: what === "sick" ? "diseased" : what } };
}

/** Vines of a run that can be worked on. @param {import("../lib/stand.js").Stand} stand @param {RunOfRow} run @param {boolean} [sick] only the sick ones */
export function livingIn(stand, run, sick = false) {
	return sick ? sickIn(stand, run).length : vinesOfRun(stand, run).filter((i) => living(stand.condition[i])).length;
}

/** Numbers of the sick vines of a run. @param {import("../lib/stand.js").Stand} stand @param {RunOfRow} run */
export function sickIn(stand, run) {
	return vinesOfRun(stand, run).filter((i) => stand.condition[i] === SICK).map((i) => stand.number[i]);
}
