// Days, clocks and addresses of the page of work, and the numbers of its chart.

import assert from "node:assert/strict";
import { test } from "node:test";
import { burnUp, byDay, byState, daySteps, verdictOf } from "../../work/burnup.js";
import { addDays, dayIn, dayWords, daysBetween, instantOf, isDay } from "../../work/days.js";
import { mapPath, readWork, sheetsPath, writeWork } from "../../work/hash.js";

test("days of the calendar", () => {
	for (const day of ["2027-01-12", "2028-02-29"]) assert.ok(isDay(day), day);
	for (const text of ["", "2027-1-2", "2027-02-29", "2027-13-01", "12.01.2027", "2027-01-12T00:00"]) assert.ok(!isDay(text), text);
	assert.equal(addDays("2026-12-30", 3), "2027-01-02");
	assert.equal(addDays("2028-03-01", -1), "2028-02-29"); // a leap year
	assert.equal(daysBetween("2026-12-30", "2027-01-02"), 3);
	assert.equal(dayWords("en", "2026-12-18"), "Dec 18");
	assert.equal(dayWords("en", "2026-12-18", "long"), "Friday, December 18, 2026");
});

// Offsets from the IANA time zone database: Vienna UTC+1, in summer UTC+2; Salta
// UTC-3 all year.
test("clocks of a zone", () => {
	assert.equal(instantOf("2027-01-12", 12, "Europe/Vienna").toISOString(), "2027-01-12T11:00:00.000Z");
	assert.equal(instantOf("2027-07-12", 12, "Europe/Vienna").toISOString(), "2027-07-12T10:00:00.000Z");
	assert.equal(instantOf("2026-07-08", 12, "America/Argentina/Salta").toISOString(), "2026-07-08T15:00:00.000Z");
	assert.equal(instantOf("2026-07-08", 12, "No/Where").toISOString(), "2026-07-08T12:00:00.000Z");
	assert.equal(dayIn("America/Argentina/Salta", new Date("2026-07-09T02:59:00Z")), "2026-07-08");
	assert.equal(dayIn("Europe/Vienna", new Date("2026-07-08T22:30:00Z")), "2026-07-09");
});

test("the address comes back, and what is wrong in it is left out", () => {
	const about = { season: 2027, operation: "shoot thinning", part: /** @type {const} */ ("sheet"), order: "01a22387-eff3-7068-948e-91ff49f9a1d0" };
	assert.deepEqual(readWork(writeWork(about)), about);
	assert.equal(writeWork({ ...about, operation: "pruning", part: "progress" }), "#season=2027&operation=pruning");
	for (const hash of ["", "#season=x&show=none&order=../..", `#operation=${"a".repeat(61)}`]) assert.deepEqual(readWork(hash), {}, hash);
	assert.equal(sheetsPath(2027, { day: "2027-01-12", crew: "North & Co" }), "/print/orders?season=2027&day=2027-01-12&crew=North%20%26%20Co");
	assert.equal(mapPath(2027, 4, { row: 17, at: [-66.4157846, -38.9136976, 18.25] }), "/#season=2027&theme=progress&block=4&row=17&at=-66.415785,-38.913698,18.3");
});

const progress = () => ({
	operation: "pruning", rates: [], clashes: [],
	blocks: [{ block: 1, code: "A1", vines: 60, done: 60, rows: 2, rows_done: 2 }, { block: 2, code: "A10", vines: 40, done: 0, rows: 1, rows_done: 0 }, { block: 3, code: "A2", vines: 100, done: 30, rows: 3, rows_done: 1 }],
	days: [{ day: "2027-01-11", done: 50, total: 50 }, { day: "2027-01-13", done: 40, total: 90 }],
	crews: [{ crew: "South", day: "2027-01-11", done: 50 }, { crew: "North", day: "2027-01-13", done: 30 }, { crew: "", day: "2027-01-13", done: 10 }],
	forecast: { left_hours: 8, early: "2027-01-15", likely: "2027-01-16", late: "2027-01-19", level: 0.8, deadline: "2027-01-24", within: /** @type {boolean | null} */ (true), why: "" },
});

test("the chart begins at nothing the day before, and reaches to the finish and the deadline", () => {
	const burn = burnUp(progress(), "2027-01-14");
	assert.ok(burn);
	assert.deepEqual([burn.first, burn.last, burn.vines, burn.done], ["2027-01-10", "2027-01-24", 200, 90]);
	assert.deepEqual(burn.line, [{ day: "2027-01-10", total: 0 }, { day: "2027-01-11", total: 50 }, { day: "2027-01-13", total: 90 }]);
	assert.deepEqual(burn.ahead, { from: "2027-01-14", total: 90, early: "2027-01-15", likely: "2027-01-16", late: "2027-01-19" });
});

test("nothing done and nothing foreseen: no chart; all done: nothing ahead", () => {
	assert.equal(burnUp({ ...progress(), days: [], forecast: null }, "2027-01-14"), null);
	assert.equal(burnUp({ ...progress(), blocks: [] }, "2027-01-14"), null);
	const all = progress();
	for (const b of all.blocks) b.done = b.vines;
	assert.equal(burnUp(all, "2027-01-14")?.ahead, null);
});

test("whether the deadline is kept", () => {
	const { forecast } = progress();
	assert.equal(verdictOf(forecast), "kept");
	assert.equal(verdictOf({ ...forecast, within: false }), "missed");
	assert.equal(verdictOf({ ...forecast, within: null }), "doubt");
	assert.equal(verdictOf({ ...forecast, deadline: "" }), "none");
	assert.equal(verdictOf(null), "none");
});

test("blocks under way first, then those to come, then those done; A10 after A2", () => {
	assert.deepEqual(byState(progress().blocks).map((b) => b.code), ["A2", "A10", "A1"]);
	const { blocks } = progress();
	for (const b of blocks) b.done = 0;
	assert.deepEqual(byState(blocks).map((b) => b.code), ["A1", "A2", "A10"]);
});

test("days and crews add up to what the server says", () => {
	const { crews, days } = byDay(progress().crews, ["North", "South"]);
	assert.deepEqual(crews, ["North", "South", ""]);
	assert.deepEqual(days, [{ day: "2027-01-13", done: [30, 0, 10] }, { day: "2027-01-11", done: [0, 50, 0] }]);
});

test("dates under the chart are no more than there is room for", () => {
	assert.deepEqual(daySteps("2027-01-10", "2027-01-12", 8), ["2027-01-10", "2027-01-11", "2027-01-12"]);
	for (const most of [1, 3, 8]) assert.ok(daySteps("2026-06-02", "2026-12-21", most).length <= most + 1);
	assert.equal(daysBetween(daySteps("2026-06-02", "2026-12-21", 8)[0], daySteps("2026-06-02", "2026-12-21", 8)[1]) % 7, 0);
});
