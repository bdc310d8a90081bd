// Rows done and left: what the chart and the tables of the page say.

import assert from "node:assert/strict";
import { test } from "node:test";
import { systemWord } from "../../work/rates.js";
import { rowSums, rowsByCrew, rowsByDay } from "../../work/rowdays.js";

const one = (/** @type {string} */ day, /** @type {string} */ crew, /** @type {number} */ done, /** @type {number} */ left, code = "H3") => ({ day, crew, block: 7, code, done, left });
const rows = [one("2027-01-12", "South", 2, 0), one("2027-01-11", "North", 3, 0), one("2027-01-11", "North", 1, 0, "B1"), one("2027-01-11", "", 1, 0), one("2027-01-12", "North", 1, 4), one("", "South", 0, 2), one("", "", 0, 6)];

test("rows done and left add up to all; what no order names is counted apart", () => {
	assert.deepEqual(rowSums(rows), { rows: 20, done: 8, left: 12, unordered: 6 });
	assert.deepEqual(rowSums([]), { rows: 0, done: 0, left: 0, unordered: 0 });
});

test("by day: whose rows, and how many are left of all after it", () => {
	assert.deepEqual(rowsByDay(rows), {
		crews: ["North", "South", ""],
		days: [{ day: "2027-01-11", done: [4, 0, 1], together: 5, left: 15 }, { day: "2027-01-12", done: [1, 2, 0], together: 3, left: 12 }],
	});
	assert.deepEqual(rowsByDay([one("", "", 0, 6)]), { crews: [], days: [] });
});

test("by crew: most done first, nobody last", () => {
	assert.deepEqual(rowsByCrew(rows), [{ crew: "North", done: 5, left: 4 }, { crew: "South", done: 2, left: 2 }, { crew: "", done: 1, left: 6 }]);
});

test("a training system is named in words", () => {
	assert.equal(systemWord("double_guyot"), "Double guyot");
	assert.equal(systemWord(), "");
});
