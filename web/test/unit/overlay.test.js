import assert from "node:assert/strict";
import { test } from "node:test";
import { overlay, targetOf } from "../../lib/overlay.js";
import { eligible, placesOf, recorder } from "../../lib/records.js";
import { Selection, rowIndexes, runOf } from "../../lib/selection.js";
import { decodeStand } from "../../lib/stand.js";
import { bytesOfStand } from "./make.js";

const make = () => decodeStand(bytesOfStand({ rows: 3, vines: 5 }));
let n = 0;
const event = (/** @type {any} */ more) => ({ id: `e${++n}`, device: "d", seq: n, at: "2027-01-10T08:00:00Z", season: 2027, block: 7, value: {}, kind: "pruned", ...more });

test("an event is about listed vines, a row or the whole block", () => {
	const stand = make();
	assert.deepEqual(targetOf(stand, { block: 7, row: 101, vines: [1006, 1008, 5] }), [6, 8]);
	assert.deepEqual(targetOf(stand, { block: 7, row: 101 }), [5, 6, 7, 8, 9]);
	assert.equal(targetOf(stand, { block: 7 }).length, 15);
	assert.deepEqual(targetOf(stand, { block: 8 }), []);
});

test("waiting records show at once, each in its own way", () => {
	const stand = make();
	const touched = overlay(stand, [
		event({ vines: [1000, 1001], value: { nodes: 12 } }),
		event({ kind: "work", vines: [1001], value: { operation: "pruning", progress: "to_redo" } }),
		event({ kind: "condition", vines: [1002], value: { condition: "missing" } }),
		event({ kind: "note", vines: [1003], value: { text: "x" } }),
		event({ kind: "work", vines: [1004], value: { operation: "tying", progress: "done" } }),
		event({ season: 2026, vines: [1005] }),
	], new Map());
	assert.deepEqual([stand.progress[0], stand.left[0], stand.progress[1], stand.condition[2], stand.flags[3], stand.progress[4], stand.progress[5]], [2, 12, 3, 6, 2, 0, 0]);
	assert.deepEqual([...touched].sort(), [0, 1, 2, 3, 4]);
	assert.equal(stand.base.progress[0], 0, "the base is the server's");
});

// The same rule as the server's fold (vine.Pruned.FollowUp).
test("what was left with its first bud on top asks for a job, until shoot thinning is done", () => {
	const stand = make();
	const spur = (/** @type {number} */ nodes, first_bud_faces = "above") => ({ name: "left", spurs: [{ nodes, first_bud_faces }] });
	const thinned = (/** @type {number} */ id) => event({ kind: "work", vines: [id], value: { operation: "shoot thinning", progress: "done" } });
	overlay(stand, [
		event({ vines: [1000], value: { arms: [spur(1), spur(3)] } }),
		event({ vines: [1001], value: { arms: [spur(1)] } }),
		event({ vines: [1002], value: { arms: [spur(2, "below")] } }),
		event({ vines: [1003], value: { arms: [spur(3)] } }), thinned(1003), thinned(1004),
	], new Map());
	assert.deepEqual([...stand.follow.slice(0, 5)], [1, 2, 0, 3, 0]);
});

test("a void takes out what waits, and brings back what was sent before", () => {
	const stand = make();
	const journal = new Map();
	const first = event({ vines: [1000] });
	overlay(stand, [first, event({ kind: "void", vines: [1000], value: { event: first.id } })], journal);
	assert.equal(stand.progress[0], 0);
	overlay(stand, [first], journal);
	assert.equal(stand.progress[0], 2);
	// Sent meanwhile: the server's base has it, the void waits.
	stand.base.progress[0] = 2;
	overlay(stand, [event({ kind: "void", vines: [1000], value: { event: first.id } })], journal);
	assert.equal(stand.progress[0], 0);
});

test("one place per row, vines in order", () => {
	assert.deepEqual(placesOf(make(), [8, 1, 6, 0]), [{ block: 7, row: 100, vines: [1000, 1001] }, { block: 7, row: 101, vines: [1006, 1008] }]);
});

test("pruning is recorded for living vines, a condition for any place", () => {
	const stand = make();
	stand.condition[1] = 6;
	stand.condition[2] = 5;
	assert.deepEqual(eligible(stand, [0, 1, 2, 3], { kind: "pruned", value: {} }), [0, 3]);
	assert.deepEqual(eligible(stand, [0, 1, 2, 3], { kind: "condition", value: {} }), [0, 1, 2, 3]);
});

test("records name device, person, season and place; a void repeats the place", () => {
	const make = recorder({ id: () => "i", device: "page-1", by: () => "Ana", now: () => new Date("2027-01-10T08:00:00Z") });
	const e = make.record({ block: 7, row: 101, vines: [1006] }, 2027, { kind: "note", value: { text: "x" } });
	assert.deepEqual(e, { id: "i", device: "page-1", seq: 0, at: "2027-01-10T08:00:00.000Z", by: "Ana", season: 2027, block: 7, row: 101, vines: [1006], kind: "note", value: { text: "x" } });
	const v = make.takeBack({ ...e, id: "old" }, "slip");
	assert.deepEqual([v.kind, v.value, v.block, v.row, v.vines, v.season], ["void", { event: "old", reason: "slip" }, 7, 101, [1006], 2027]);
});

test("runs, rows and the choice", () => {
	const stand = make();
	assert.deepEqual(runOf(stand, 8, 6), [6, 7, 8]);
	assert.deepEqual(runOf(stand, 1, 8), [1, 2, 3, 6, 7, 8], "over two rows: the numbers between");
	assert.deepEqual(rowIndexes(stand, 2), [10, 11, 12, 13, 14]);
	const choice = new Selection();
	/** @type {number[]} */
	const told = [];
	choice.on((b) => told.push(b));
	choice.set(stand, [1, 2]);
	choice.toggle(stand, [1, 2, 3]);
	assert.equal(choice.count, 3);
	choice.toggle(stand, [1, 2, 3]);
	assert.equal(choice.count, 0);
	choice.set(stand, [4]);
	const anew = make();
	anew.groundRevision = 2;
	choice.set(anew, [0]);
	assert.deepEqual([...choice.of(7)], [0], "rows changed: old indexes mean nothing");
	choice.clear();
	assert.deepEqual(told, [7, 7, 7, 7, 7, 7]);
});
