// A proposal of orders while it is changed, on an invented block of six rows.

import assert from "node:assert/strict";
import { test } from "node:test";
import { dropRows, entriesOf, moveRows, ordersOf, taken, totalsOf, walked, weighed } from "../../work/proposal.js";

/** @typedef {import("../../work/proposal.js").Draft} Draft */

const row = (/** @type {number} */ n, start = "near") => ({ row: 100 + n, label: String(n), from: 1, to: 50, start: /** @type {"near" | "far"} */ (start), side: "" });
/** @param {string} crew @param {string} day @param {import("../../work/proposal.js").OrderRow[]} rows @returns {Draft} */
const order = (crew, day, rows) => ({ season: 2027, operation: "pruning", block: 7, code: "H3", crew, day, note: "", sick: false, rows });
const lineOf = (/** @type {number} */ _block, /** @type {number} */ r) => ({ index: r - 101, dx: 0, dy: -1 });
const list = () => entriesOf(
	[order("North", "2027-01-11", [row(1), row(2, "far")]), order("North", "2027-01-12", [row(3)]), order("South", "2027-01-11", [row(4), row(5, "far"), row(6)])],
	[{ name: "North", vines: 150, hours: 7.5, rows: 3 }, { name: "South", vines: 90, hours: 6, rows: 3 }], () => 50);
const keyOf = (/** @type {number} */ n) => `7.${100 + n}.0.1`;
const walk = (/** @type {Draft | undefined} */ o) => o?.rows.map((r) => `${r.label} ${r.start}`);

test("sums are the server's until rows move", () => {
	assert.deepEqual(totalsOf(list(), ["North", "South", "East"]), [
		{ name: "North", rows: 3, vines: 150, hours: 7.5, days: 2 },
		{ name: "South", rows: 3, vines: 90, hours: 6, days: 1 },
		{ name: "East", rows: 0, vines: 0, hours: 0, days: 0 },
	]);
});

test("each row has what the server counts in it, whichever order it has moved to", () => {
	const moved = moveRows(list(), new Set([keyOf(5)]), { crew: "North" }, lineOf, false);
	const orders = ordersOf(moved);
	const work = orders.map((o) => ({ vines: 0, hours: 0, rows: o.rows.map((r) => ({ row: r.row, vines: r.row - 60, hours: (r.row - 100) / 2 })) }));
	const [north, south] = totalsOf(weighed(moved, orders, work), ["North", "South"]);
	assert.deepEqual([north.vines, north.hours], [41 + 42 + 43 + 45, (1 + 2 + 3 + 5) / 2]);
	assert.deepEqual([south.vines, south.hours], [44 + 46, (4 + 6) / 2]);
});

test("the orders come back as they were proposed", () => {
	assert.deepEqual(ordersOf(list()), [order("North", "2027-01-11", [row(1), row(2, "far")]), order("North", "2027-01-12", [row(3)]), order("South", "2027-01-11", [row(4), row(5, "far"), row(6)])]);
});

test("a row that moves takes its work along, and both lists are walked up and down again", () => {
	const moved = moveRows(list(), new Set([keyOf(5)]), { crew: "North" }, lineOf, false);
	const [north, south] = totalsOf(moved, ["North", "South"]);
	assert.deepEqual([north.rows, north.vines, north.hours], [4, 180, 9.5]);
	assert.deepEqual([south.rows, south.vines, south.hours], [2, 60, 4]);
	const orders = ordersOf(moved);
	assert.deepEqual(walk(orders.find((o) => o.crew === "North" && o.day === "2027-01-11")), ["1 near", "2 far", "5 near"]);
	assert.deepEqual(walk(orders.find((o) => o.crew === "South")), ["4 near", "6 far"]);
});

test("a day may be added, and a crew may lose all", () => {
	const moved = moveRows(list(), new Set([1, 2, 3].map(keyOf)), { crew: "South", day: "2027-01-13" }, lineOf, false);
	assert.deepEqual(ordersOf(moved).map((o) => [o.crew, o.day, walk(o)]), [["South", "2027-01-11", ["4 near", "5 far", "6 near"]], ["South", "2027-01-13", ["1 near", "2 far", "3 near"]]]);
	assert.equal(totalsOf(moved, ["North", "South"])[0].rows, 0);
});

test("nothing is lost or doubled by any move", () => {
	let entries = list();
	const names = ["North", "South"];
	for (let k = 0; k < 60; k++) {
		const keys = new Set([1, 2, 3, 4, 5, 6].filter((n) => (k * n) % 4 === 1).map(keyOf));
		entries = moveRows(entries, keys, k % 3 ? { crew: names[k % 2] } : { day: `2027-01-${11 + (k % 5)}` }, lineOf, k % 2 === 0);
		assert.deepEqual(entries.map((e) => e.row.label).sort(), ["1", "2", "3", "4", "5", "6"]);
		assert.equal(Math.round(entries.reduce((s, e) => s + e.vines, 0)), 240);
	}
});

test("rows that are left out are gone, and the walk closes up", () => {
	const kept = dropRows(list(), new Set([keyOf(5), keyOf(3)]), lineOf, false);
	assert.deepEqual(ordersOf(kept).map(walk), [["1 near", "2 far"], ["4 near", "6 far"]]);
});

// Headlands too tight to turn into the next row: rows are skipped on the way out
// and taken on the way back (doi 10.1007/s11119-017-9531-8).
test("every other row: out by every other, back by those between", () => {
	const entries = entriesOf([order("North", "2027-01-11", [1, 2, 3, 4, 5].map((n) => row(n)))], [], () => 50);
	assert.deepEqual(walked(entries, lineOf, true).map((e) => `${e.row.label} ${e.row.start}`), ["1 near", "3 far", "5 near", "4 far", "2 near"]);
});

test("a row numbered the other way is entered at its other numbered end", () => {
	const turned = (/** @type {number} */ _b, /** @type {number} */ r) => ({ index: r - 101, dx: 0, dy: r === 102 ? 1 : -1 });
	const entries = entriesOf([order("North", "2027-01-11", [row(1), row(2), row(3)])], [], () => 50);
	assert.deepEqual(walked(entries, turned, false).map((e) => e.row.start), ["near", "near", "near"]);
});

test("rows in open orders of the same operation are told", () => {
	const open = (/** @type {any} */ more) => ({ operation: "pruning", block: 7, state: "open", rows: [{ row: 102, from: 1, to: 20 }], ...more });
	assert.deepEqual([...taken(list(), [open({})])], [keyOf(2)]);
	for (const other of [{ operation: "tying" }, { block: 8 }, { state: "withdrawn" }, { rows: [{ row: 102, from: 51, to: 60 }] }]) assert.equal(taken(list(), [open(other)]).size, 0, JSON.stringify(other));
});
