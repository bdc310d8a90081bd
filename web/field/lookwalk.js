// The arithmetic of going from one place to be looked at to the next. Pure: what the
// server said, under what this phone has recorded.

/**
 * @typedef {import("./types.js").LookList} LookList
 * @typedef {import("./types.js").LookRow} LookRow
 * @typedef {import("./types.js").LookPlace} LookPlace
 * @typedef {import("./types.js").FieldEvent} FieldEvent
 * @typedef {{state: string, look_again: string, how: LookPlace["how"]}} Stands state "" where a word was taken back
 * @typedef {LookPlace & {row: LookRow, mine: boolean}} LookSpot mine: this phone said so, and the list does not know of it yet
 */

/**
 * All places of a list in walking order.
 * @param {LookList} list
 * @param {import("./ledger.js").Ledger} ledger
 * @returns {LookSpot[]}
 */
export function lookSpots(list, ledger) {
	return list.rows.flatMap((row) => {
		const over = saidHere(row.row, ledger);
		return row.places.map((p) => ({ ...p, row, mine: over.has(p.id), ...over.get(p.id) }));
	});
}

/** @param {number} row @param {import("./ledger.js").Ledger} ledger */
function saidHere(row, ledger) {
	/** @type {Map<number, Stands>} */
	const over = new Map();
	for (const e of ledger.rows.get(row) ?? []) {
		if (e.covered || ledger.refused.has(e.id)) continue;
		if (e.event.kind === "void") {
			// A word that the list shows, taken back since: open until the next list says what holds.
			const first = ledger.entries.get(e.event.value.event);
			if (first?.covered && isAnswer(first.event)) for (const id of first.event.vines ?? []) if (!over.has(id)) over.set(id, { state: "", look_again: "", how: "open" });
		} else if (isAnswer(e.event) && !ledger.taken.has(e.id)) for (const id of e.event.vines ?? []) over.set(id, meaning(e.event.value));
	}
	return over;
}

/** A word that decides, or that puts the place off. @param {FieldEvent} e */
export function isAnswer(e) {
	return e.kind === "condition" && (e.value.confirmed === true || (e.value.condition === "doubtful" && !!e.value.look_again));
}

/** @param {Record<string, any>} value @returns {Stands} */
function meaning({ condition, cause, look_again }) {
	if (condition === "doubtful") return { state: "doubtful", look_again: String(look_again).slice(0, 10), how: "later" };
	const state = condition === "missing" ? "missing" : condition !== "dead" ? "living" : cause === "above graft" ? "dead above graft" : "dead standing";
	return { state, look_again: "", how: "settled" };
}

/** @param {LookSpot[]} spots */
export function lookTally(spots) {
	const count = { number: spots.length, settled: 0, later: 0, open: 0 };
	for (const s of spots) count[s.how]++;
	return count;
}

/** The next open place from an index on, once round the list; -1 where none is open. @param {LookSpot[]} spots @param {number} from */
export function nextToLook(spots, from) {
	for (let k = 0; k < spots.length; k++) {
		const i = (from + k) % spots.length;
		if (spots[i].how === "open") return i;
	}
	return -1;
}
