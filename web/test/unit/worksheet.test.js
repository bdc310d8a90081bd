// A filled sheet as records, and the plan that is drawn on it, on small stands
// written by hand.

import assert from "node:assert/strict";
import { test } from "node:test";
import { decodeStand } from "../../lib/stand.js";
import { CONDITIONS, MISSING } from "../../lib/model.js";
import { faultsOf, livingIn, sheetRecords, sickIn } from "../../work/sheetevents.js";
import { lineOfRow, walkPlan, wayOf } from "../../work/walkplan.js";
import { bytesOfStand } from "./make.js";

/** Three rows of five vines, 100 to 102; vine ids from 1000. Vine 3 of row 2 is missing. */
const stand = () => {
	const s = decodeStand(bytesOfStand());
	s.condition[7] = MISSING;
	return s;
};
const rows = [{ row: 100, label: "1", from: 1, to: 5 }, { row: 101, label: "2", from: 1, to: 5 }, { row: 102, label: "3", from: 2, to: 4 }];
const odd = (/** @type {number} */ row, /** @type {number} */ number, /** @type {any} */ what, nodes = /** @type {number | null} */ (null)) => ({ row, number, what, nodes });

const wholly = (/** @type {number[]} */ ...list) => new Map(list.map((r) => /** @type {[number, number | null]} */ ([r, null])));

test("a row that is done from end to end is one record for the row", () => {
	assert.deepEqual(sheetRecords(stand(), "pruning", rows, wholly(100), []), [{ place: { block: 7, row: 100 }, fact: { kind: "pruned", value: {} } }]);
	assert.deepEqual(sheetRecords(stand(), "tying", rows, wholly(100), [])[0].fact, { kind: "work", value: { operation: "tying", progress: "done" } });
});

test("part of a row names its vines", () => {
	assert.deepEqual(sheetRecords(stand(), "pruning", rows, wholly(102), []), [{ place: { block: 7, row: 102, vines: [1011, 1012, 1013] }, fact: { kind: "pruned", value: {} } }]);
});

test("vines that were otherwise are kept out of the row's record and have their own", () => {
	const got = sheetRecords(stand(), "pruning", rows, wholly(100), [odd(100, 2, "missing"), odd(100, 3, "undone"), odd(100, 4, "nodes", 6)]);
	assert.deepEqual(got, [
		{ place: { block: 7, row: 100, vines: [1000, 1004] }, fact: { kind: "pruned", value: {} } },
		{ place: { block: 7, row: 100, vines: [1001] }, fact: { kind: "condition", value: { condition: "missing" } } },
		{ place: { block: 7, row: 100, vines: [1003] }, fact: { kind: "pruned", value: { nodes: 6 } } },
	]);
});

test("a sick vine was done all the same, a gap known already is no vine to do", () => {
	const got = sheetRecords(stand(), "pruning", rows, wholly(100, 101), [odd(100, 5, "sick"), odd(101, 1, "dead")]);
	assert.deepEqual(got.map((r) => [r.place.row, r.place.vines, r.fact.kind, r.fact.value.condition]), [
		[100, undefined, "pruned", undefined], [100, [1004], "condition", "diseased"],
		[101, [1006, 1008, 1009], "pruned", undefined], [101, [1005], "condition", "dead"],
	]);
	for (const r of got) if (r.fact.value.condition) assert.ok(CONDITIONS.includes(r.fact.value.condition));
	assert.equal(livingIn(stand(), rows[1]), 4);
});

test("an order for sick vines is about them alone", () => {
	const s = stand();
	s.condition[1] = s.condition[3] = CONDITIONS.indexOf("diseased");
	assert.deepEqual(sheetRecords(s, "pruning", rows, wholly(100, 102), [], true), [{ place: { block: 7, row: 100, vines: [1001, 1003] }, fact: { kind: "pruned", value: {} } }]);
	assert.deepEqual([sickIn(s, rows[0]), livingIn(s, rows[0], true), livingIn(s, rows[0])], [[2, 4], 2, 5]);
});

test("what was seen counts although the row is not ticked; what was not done is no record then", () => {
	assert.deepEqual(sheetRecords(stand(), "pruning", rows, wholly(), [odd(100, 2, "dead"), odd(100, 3, "undone")]).map((r) => r.fact.value), [{ condition: "dead" }]);
});

test("a row that is done in part: from where the walk begins", () => {
	const half = (/** @type {any} */ start) => sheetRecords(stand(), "pruning", [{ ...rows[0], start }], new Map([[100, 2]]), [odd(100, 1, "undone"), odd(100, 5, "dead")]).map((r) => [r.place.vines, r.fact.kind]);
	assert.deepEqual(half("near"), [[[1001], "pruned"], [[1004], "condition"]]);
	assert.deepEqual(half("far"), [[[1001, 1002, 1003], "pruned"], [[1004], "condition"]]);
});

test("slips of the pen are told, by line", () => {
	assert.deepEqual(faultsOf(stand(), rows, [odd(100, 6, "dead"), odd(999, 1, "dead"), odd(102, 1, "dead"), odd(100, 1, "dead"), odd(100, 1, "sick"), odd(101, 1, "nodes"), odd(101, 2, "nodes", 401), odd(101, 4, "nodes", 0)]),
		[{ k: 0, why: "no_vine" }, { k: 1, why: "no_row" }, { k: 2, why: "no_vine" }, { k: 4, why: "twice" }, { k: 5, why: "no_nodes" }, { k: 6, why: "no_nodes" }]);
});

test("quarters of the compass", () => {
	assert.deepEqual([[0, 1], [1, 1], [1, 0], [1, -1], [0, -1], [-1, -1], [-1, 0], [-1, 1]].map(([e, n]) => wayOf(e, n)), ["n", "ne", "e", "se", "s", "sw", "w", "nw"]);
});

test("the plan: rows from left to right as one looks along them, numbers begin below", () => {
	const plan = walkPlan(stand(), [{ row: 102, from: 2, to: 4, start: "far" }, { row: 100, from: 1, to: 5, start: "near" }]);
	// The rows of the stand run north and lie one beside the other to the east.
	assert.deepEqual([plan.up, plan.down, plan.near, plan.whole], ["n", "s", "down", true]);
	assert.deepEqual(plan.rows.map((r) => [r.label, r.place, r.step]), [["1", 0, 2], ["2", 1, 0], ["3", 2, 1]]);
	assert.deepEqual(plan.rows.map((r) => r.piece), [[0, 1], null, [0.75, 0.25]]);
});

test("a block of many rows is cut to what is around the order", () => {
	const many = decodeStand(bytesOfStand({ rows: 90, vines: 3 }));
	const plan = walkPlan(many, [{ row: 140, from: 1, to: 3, start: "near" }]);
	assert.equal(plan.whole, false);
	assert.deepEqual([plan.rows[0].label, plan.rows.at(-1)?.label], ["35", "47"]);
	assert.deepEqual(lineOfRow(many, 140), { index: 40, dx: 0, dy: -260 });
});
