import assert from "node:assert/strict";
import { test } from "node:test";
import { createDraft } from "../../lib/draft.js";
import { freshArm, nextName, tidyArm, totalsOf } from "../../lib/left.js";
import { Previewer } from "../../lib/previewer.js";
import { barsOf, meanOfCounts, ranked, runsPath } from "../../lib/pruning.js";
import { readPruning, writePruning } from "../../lib/pruninghash.js";
import { settle } from "./make.js";

test("the address of a plan: what it says wrongly is left out, what it says comes back", () => {
	const about = { block: "B/3 ü", season: 2027, part: /** @type {const} */ ("runs"), compared: 12 };
	assert.deepEqual(readPruning(writePruning(about)), about);
	assert.deepEqual(readPruning("#block=B3&season=20270&show=nothing&with=-1"), { block: "B3" });
	assert.equal(writePruning({ block: "B3", season: 2027, part: "plan", compared: null }), "#block=B3&season=2027");
});

test("bars of a histogram: every vine once, empty ends left out, wider where there are many", () => {
	assert.deepEqual(barsOf([0, 0, 3, 0, 5], 30), [{ from: 2, to: 2, n: 3 }, { from: 3, to: 3, n: 0 }, { from: 4, to: 4, n: 5 }]);
	const wide = barsOf(Array.from({ length: 100 }, (_, k) => (k > 10 ? k : 0)), 30);
	assert.ok(wide.length <= 31);
	assert.equal(wide.reduce((n, b) => n + b.n, 0), Array.from({ length: 100 }, (_, k) => (k > 10 ? k : 0)).reduce((a, b) => a + b, 0));
	wide.forEach((b, k) => k && assert.equal(b.from, wide[k - 1].to + 1));
	assert.deepEqual(barsOf([], 30), []);
	assert.deepEqual(barsOf(null, 30), []);
	assert.equal(meanOfCounts([0, 1, 0, 3]), 2.5);
	assert.equal(meanOfCounts([0, 0]), null);
});

test("tallies by falling number", () => {
	assert.deepEqual(ranked({ leaf: 2, growth: 9, floor: 2 }), [["growth", 9], ["floor", 2], ["leaf", 2]]);
	assert.deepEqual(ranked(null), []);
});

test("runs are asked for by their goal's own number", () => {
	const wish = { change: 6, limit: 2 };
	assert.equal(runsPath("B 3", 2027, { ...wish, goal: "balance" }), "/api/blocks/B%203/pruning/runs?season=2027&goal=balance&change=6");
	assert.equal(runsPath(3, 2027, { ...wish, goal: "greatest" }, ".csv"), "/api/blocks/3/pruning/runs.csv?season=2027&goal=greatest&limit=2");
});

test("what was left: sums over arms, names not taken twice, nothing empty recorded", () => {
	const arms = [{ ...freshArm("left"), canes: [{ nodes: 8, length_mm: 640 }] }, freshArm("right")];
	assert.deepEqual(totalsOf(arms), { nodes: 12, canes: 1, spurs: 2 });
	assert.equal(nextName(arms), "head");
	assert.equal(nextName([...arms, freshArm("head")]), "4");
	assert.deepEqual(tidyArm({ name: "left", canes: [], spurs: [{ nodes: 2 }], large_cuts: [], climb_mm: 0 }), { name: "left", spurs: [{ nodes: 2 }] });
	assert.deepEqual(tidyArm({ name: "left", climb_mm: -5 }), { name: "left", climb_mm: -5 });
});

/** A previewer whose pauses end when told, and whose answers come when told. */
function desk() {
	/** @type {{then: () => void, off: boolean}[]} */
	const pauses = [];
	/** @type {{wish: string, signal: AbortSignal, give: (a: string) => void, fail: (e: Error) => void}[]} */
	const asked = [];
	/** @type {any[]} */
	const states = [];
	const previewer = /** @type {Previewer<string, string>} */ (new Previewer({
		ask: (wish, signal) => new Promise((give, fail) => asked.push({ wish, signal, give, fail })),
		onChange: (now) => states.push(now),
		later: (ms, then) => pauses[pauses.push({ then, off: false }) - 1],
		never: (p) => p && (p.off = true),
	}));
	return { previewer, asked, states, pass: () => pauses.splice(0).forEach((p) => p.off || p.then()) };
}

test("typing asks once after a pause; an answer to an older wish is not shown", async () => {
	const { previewer, asked, pass } = desk();
	previewer.want("1");
	previewer.want("15");
	pass();
	assert.deepEqual(asked.map((a) => a.wish), ["15"]);
	previewer.want("16");
	assert.ok(asked[0].signal.aborted);
	asked[0].give("old");
	await settle();
	assert.equal(previewer.now.good, null);
	pass();
	asked[1].give("new");
	await settle();
	assert.deepEqual([previewer.now.state, previewer.now.good, previewer.now.of], ["ready", "new", "16"]);
});

test("after a refusal the last good one stays, until a better one is there", async () => {
	const { previewer, asked, pass } = desk();
	previewer.want("a");
	pass();
	asked[0].give("good");
	await settle();
	previewer.want("b");
	pass();
	asked[1].fail(new Error("no"));
	await settle();
	assert.deepEqual([previewer.now.state, previewer.now.good, String(previewer.now.error)], ["failed", "good", "Error: no"]);
	previewer.want("c");
	pass();
	asked[2].give("better");
	await settle();
	assert.deepEqual([previewer.now.state, previewer.now.good, previewer.now.error], ["ready", "better", null]);
});

const estate = { vigour: { limits_kg_m: [1, 2, 3, 4] }, patches: {}, pruning: { system: { key: "single" }, wood: { gap_m: 0.1 } } };
const settled = (/** @type {boolean} */ own, /** @type {any} */ standards) => /** @type {any} */ ({ block: 3, own, standards, systems: [] });

test("a draft keeps for the block only what differs, and no system that was read from its words", () => {
	const byWords = { ...estate, pruning: { ...estate.pruning, system: { key: "double", name: "double Guyot" } } };
	const draft = createDraft(settled(false, byWords), estate, null);
	assert.equal(draft.changed(), false);
	draft.set("pruning.wood.gap_m", 0.2);
	assert.equal(draft.changed(), true);
	assert.deepEqual(draft.forBlock(), { pruning: { wood: { gap_m: 0.2 } } });
	draft.set("pruning.system", { key: "cordon" });
	assert.deepEqual(draft.forBlock().pruning.system, { key: "cordon" });
	draft.undo();
	assert.equal(draft.changed(), false);
	assert.equal(draft.apart(), false);
	assert.equal(createDraft(settled(true, byWords), estate, null, "bush vines").apart(), true);
	const named = { ...estate, pruning: { ...estate.pruning, system: { key: "double", name: "double Guyot" } } };
	assert.equal(createDraft(settled(true, named), estate, null, "Double Guyot").apart(), false);
});

test("a draft goes on with the options of the plan there is", () => {
	const draft = createDraft(settled(false, estate), estate, /** @type {any} */ ({ plan: { options: { drought: true, untreated_every: 4 } } }));
	assert.deepEqual(draft.wish().options, { drought: true, untreated_every: 4 });
	draft.options({ untreated_every: 0 });
	assert.deepEqual(draft.wish().options, { drought: true, untreated_every: 0 });
});
