import assert from "node:assert/strict";
import { test } from "node:test";
import { Ledger } from "../../field/ledger.js";
import { lookSpots, lookTally, nextToLook } from "../../field/lookwalk.js";
import { ANSWERS, daysBetween, dueOn, lookAgain } from "../../lib/gapanswers.js";
import { STATES, wordKey } from "../../lib/replants.js";
import { LANGUAGES } from "../../text/field/index.js";

const place = (/** @type {number} */ id, /** @type {string} */ state, /** @type {string} */ how, look_again = "") => ({ id, number: id - 100, state, how, look_again, differ: false, said: [] });
/** @type {any} */
const list = { id: "l", season: 2027, block: 1, code: "H3", crew: "", rows: [
	{ row: 7, label: "7", start: "near", last: 12, section: 5, places: [place(102, "missing", "open"), place(104, "doubtful", "later", "2027-02-01")] },
	{ row: 8, label: "8", start: "far", last: 12, section: 0, places: [place(209, "suspected", "open"), place(203, "missing", "settled")] }] };
let seq = 0;
/** @returns {any} */
const event = (/** @type {string} */ id, /** @type {number} */ row, /** @type {string} */ kind, /** @type {any} */ value, /** @type {number} */ vine) => ({ id, device: "d", seq: ++seq, at: "", season: 2027, block: 1, row, kind, value, vines: [vine] });
const hows = (/** @type {Ledger} */ ledger) => lookSpots(list, ledger).map((s) => s.how).join(" ");

test("a person's word on this phone lies over the list until it is taken back or refused", () => {
	const ledger = new Ledger([]);
	assert.equal(hows(ledger), "open later open settled");
	for (const [state, value] of ANSWERS) {
		const one = new Ledger([]);
		one.add([event("x", 7, "condition", value, 102)], 0);
		assert.deepEqual([lookSpots(list, one)[0].state, lookSpots(list, one)[0].how], [state, "settled"]);
	}
	ledger.add([event("a", 7, "condition", ANSWERS[1][1], 102), event("b", 8, "condition", lookAgain(new Date("2027-01-12T20:00:00")), 209)], 0);
	assert.equal(hows(ledger), "settled later later settled");
	assert.equal(lookSpots(list, ledger)[2].look_again, "2027-02-11");
	assert.deepEqual(lookTally(lookSpots(list, ledger)), { number: 4, settled: 2, later: 2, open: 0 });
	ledger.add([event("c", 7, "void", { event: "a" }, 102)], 0);
	ledger.refused.add("b");
	assert.equal(hows(ledger), "open later open settled");
	ledger.add([event("d", 7, "condition", { condition: "dead" }, 102), event("e", 7, "note", { text: "x" }, 102)], 0);
	assert.equal(hows(ledger), "open later open settled", "seen in passing, without a word that decides");
});

test("a word taken back after the list showed it leaves the place open until the next list", () => {
	const ledger = new Ledger([]);
	ledger.add([event("a", 8, "condition", ANSWERS[0][1], 203)], 0);
	ledger.sent(["a"]);
	ledger.cover(ledger.coverage(["a"], 1));
	assert.equal(hows(ledger), "open later open settled");
	ledger.add([event("v", 8, "void", { event: "a" }, 203)], 2);
	assert.deepEqual([lookSpots(list, ledger)[3].how, lookSpots(list, ledger)[3].state], ["open", ""]);
	ledger.add([event("b", 8, "condition", ANSWERS[3][1], 203)], 3);
	assert.equal(lookSpots(list, ledger)[3].state, "living");
});

test("the next place is the next open one, round the list once", () => {
	const spots = lookSpots(list, new Ledger([]));
	assert.deepEqual([nextToLook(spots, 0), nextToLook(spots, 1), nextToLook(spots, 3), nextToLook([spots[1]], 0)], [0, 2, 0, -1]);
});

test("a day to look again is later, today or overdue", () => {
	assert.deepEqual(["2027-01-13", "2027-01-12", "2026-12-31"].map((d) => dueOn(d, "2027-01-12")), ["later", "today", "overdue"]);
	assert.equal(daysBetween("2026-12-31", "2027-01-12"), 12);
	assert.equal(daysBetween("2027-03-27", "2027-03-29"), 2, "over the night on which clocks are put forward");
});

test("every state and source has its words in all languages", () => {
	for (const { table } of Object.values(LANGUAGES)) {
		for (const s of STATES) assert.ok(`state.${wordKey(s)}` in table, s);
		for (const s of ["crew sightings", "planting records", "surveyed trunks", "detections"]) assert.ok(`source.${wordKey(s)}` in table, s);
	}
});
