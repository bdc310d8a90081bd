// Answers that overtake one another, and changes that come while an answer is on
// its way: what is shown in the end is what the server holds.

import assert from "node:assert/strict";
import { test } from "node:test";
import { BlockLists } from "../../lib/blocklists.js";
import { Findings } from "../../lib/findingstore.js";
import { Stands } from "../../lib/stands.js";
import { bytesOfStand, settle } from "./make.js";

/** A server whose answers are worked out when it is asked, and arrive when they are let through. */
function slowServer() {
	/** @type {(() => void)[]} */
	const held = [];
	const later = (/** @type {any} */ answer) => new Promise((resolve) => held.push(() => resolve(answer)));
	return { held, later, async letThrough() { held.shift()?.(); await settle(); } };
}
const delta = (/** @type {number} */ revision, /** @type {boolean} */ whole = false) => ({ block: 7, season: 2027, revision, whole, index: [] });

test("a change while a stand is on its way is asked for after it", async () => {
	const server = slowServer();
	let revision = 4;
	const stands = new Stands(/** @type {any} */ ({
		stand: () => server.later(bytesOfStand({ revision })),
		standSince: async () => delta(revision),
	}));
	const loading = stands.load(7, 2027);
	revision = 5; // the answer was worked out before
	await stands.refresh(7);
	await server.letThrough();
	assert.equal((await loading).revision, 5);
});

test("rows that change while a stand is on its way are fetched after it", async () => {
	const server = slowServer();
	let rows = 3;
	const stands = new Stands(/** @type {any} */ ({ stand: () => server.later(bytesOfStand({ rows })), standSince: async () => delta(4) }));
	void stands.load(7, 2027);
	rows = 4;
	void stands.refresh(7, true);
	await server.letThrough();
	assert.equal(server.held.length, 1, "asked once more");
	await server.letThrough();
	assert.equal(stands.peek(7, 2027)?.rows.length, 4);
});

test("a change while a stand is fetched anew is asked of the new one", async () => {
	const server = slowServer();
	let revision = 4;
	let whole = false;
	const stands = new Stands(/** @type {any} */ ({
		stand: () => server.later(bytesOfStand({ revision })),
		standSince: async () => delta(revision, whole),
	}));
	void stands.load(7, 2027);
	await server.letThrough();
	[revision, whole] = [5, true];
	void stands.refresh(7);
	await settle();
	[revision, whole] = [6, false];
	void stands.refresh(7);
	await server.letThrough();
	assert.equal(stands.peek(7, 2027)?.revision, 6);
});

test("details that were asked for before a finding are shown but not kept", async () => {
	const server = slowServer();
	let stamp = "old";
	const store = new Findings(/** @type {any} */ ({ blockFindings: () => server.later({ state: "ready", found: stamp }) }));
	const first = store.load(7, 2027);
	stamp = "new";
	store.forget(7);
	const second = store.load(7, 2027);
	await server.letThrough();
	assert.equal((await first).found, "old");
	assert.equal(store.peek(7, 2027), undefined);
	await server.letThrough();
	await second;
	assert.equal(store.peek(7, 2027)?.found, "new");
});

test("what is found while the summaries are on their way is read after them", async () => {
	const server = slowServer();
	let stamp = "old";
	const store = new Findings(/** @type {any} */ ({ findings: () => server.later({ blocks: [{ block: 7, state: "ready", found: stamp }] }) }));
	void store.read(2027);
	stamp = "new";
	void store.read(2027);
	await server.letThrough();
	await server.letThrough();
	assert.equal(store.summary(7, 2027)?.found, "new");
});

test("each season under way is asked about again by itself", async () => {
	/** @type {(() => void)[]} */
	const timers = [];
	/** @type {number[]} */
	const asked = [];
	let shown = 2026;
	const store = new Findings(/** @type {any} */ ({ findings: async (/** @type {number} */ season) => (asked.push(season), { blocks: [{ block: 7, state: "running" }] }) }), { later: (_, then) => timers.push(then) });
	await store.read(2026, () => shown);
	shown = 2027;
	await store.read(2027, () => shown);
	for (const timer of timers.splice(0)) timer();
	await settle();
	assert.deepEqual(asked, [2026, 2027, 2027]);
});

test("of two answers on one block the higher revision counts, in whichever order they come", () => {
	const block = (/** @type {number} */ id, /** @type {number} */ revision) => /** @type {any} */ ({ id, code: `B${id}`, revision });
	const lists = new BlockLists();
	lists.putOne(2027, block(7, 6), 1); // the list is still on its way
	assert.equal(lists.get(2027), undefined);
	lists.put(2027, [block(7, 5), block(8, 3)], 2);
	const revisions = () => lists.get(2027)?.blocks.map((b) => b.revision);
	assert.deepEqual(revisions(), [6, 3]);
	lists.putOne(2027, block(8, 2), 3);
	assert.deepEqual(revisions(), [6, 3]);
	lists.putOne(2027, block(6, 1), 4);
	assert.deepEqual(lists.get(2027)?.blocks.map((b) => b.code), ["B6", "B7", "B8"]);
	lists.keepOnly(2026);
	assert.equal(lists.get(2027), undefined);
	lists.clear();
	lists.put(2027, [block(7, 1)], 5);
	assert.deepEqual(revisions(), [1], "another server, or its data put back: nothing of before counts");
});
