import assert from "node:assert/strict";
import { test } from "node:test";
import { Stands } from "../../lib/stands.js";
import { Stream } from "../../lib/stream.js";
import { bytesOfStand } from "./make.js";

const empty = { block: 7, season: 2027, whole: false, index: [] };
const deltaOf = (/** @type {number} */ i, /** @type {number} */ revision, /** @type {any} */ more = {}) => ({
	...empty, revision, index: [i], condition: [1], leaf: [0], vigour: [0], progress: [2], flags: [0], nodes: [255], left: [255], totals: { vines: 15 }, ...more,
});
const pruned = (/** @type {string} */ id, /** @type {number[]} */ vines) => ({ id, device: "d", seq: 1, at: "", season: 2027, block: 7, kind: "pruned", value: {}, vines });

function fake() {
	const calls = /** @type {string[]} */ ([]);
	const api = {
		calls,
		delta: /** @type {any} */ ({ ...empty, revision: 4 }),
		async stand(/** @type {number} */ block, /** @type {number} */ season) {
			calls.push(`stand ${block} ${season}`);
			return bytesOfStand({ block, season });
		},
		async standSince(/** @type {number} */ block, /** @type {number} */ season, /** @type {number} */ since) {
			calls.push(`since ${since}`);
			return api.delta;
		},
	};
	return api;
}

test("a stand is fetched once, however often it is wanted at a time", async () => {
	const api = fake();
	const stands = new Stands(api);
	const [a, b] = await Promise.all([stands.load(7, 2027), stands.load(7, 2027)]);
	assert.equal(a, b);
	assert.equal(await stands.load(7, 2027), a);
	assert.deepEqual(api.calls, ["stand 7 2027"]);
});

test("another operation is another stand: what is held goes, and what was under way comes as it is now wanted", async () => {
	const asked = /** @type {string[]} */ ([]);
	const api = { ...fake(), async stand(/** @type {number} */ block, /** @type {number} */ season, operation = "") {
		asked.push(operation);
		await null;
		return bytesOfStand({ block, season });
	} };
	const stands = new Stands(api);
	const waiting = stands.load(7, 2027);
	stands.setOperation("tying");
	const stand = await stands.load(7, 2027);
	assert.equal(await waiting, stand, "whoever waited has the one that is shown");
	assert.deepEqual(asked, ["", "tying"]);
	stands.setOperation("tying");
	assert.equal(stands.peek(7, 2027), stand, "nothing is lost where nothing changes");
	stands.setWaiting([pruned("e", [1003]), { ...pruned("f", [1004]), kind: "work", value: { operation: "tying", progress: "done" } }]);
	assert.deepEqual([stand.progress[3], stand.progress[4]], [0, 2], "only what is about tying shows");
	stands.setOperation("");
	assert.equal(stands.peek(7, 2027), undefined);
	const back = await stands.load(7, 2027);
	assert.deepEqual([back.progress[3], back.progress[4]], [2, 0]);
});

test("a failed load can be tried again", async () => {
	const api = fake();
	const { stand } = api;
	api.stand = async () => { throw new Error("down"); };
	const stands = new Stands(api);
	await assert.rejects(stands.load(7, 2027), /down/);
	api.stand = stand;
	assert.equal((await stands.load(7, 2027)).count, 15);
});

test("a change is asked for since the revision held, and told by vine", async () => {
	const api = fake();
	const stands = new Stands(api);
	const stand = await stands.load(7, 2027);
	/** @type {any[]} */
	const told = [];
	stands.on((c) => told.push(c));
	api.delta = deltaOf(3, 6);
	await stands.refresh(7);
	assert.equal(stand.progress[3], 2);
	assert.deepEqual(told.map((c) => [c.fresh, c.indexes, c.totals.vines]), [[false, [3], 15]]);
	await stands.refresh(7);
	assert.deepEqual(api.calls.slice(1), ["since 4", "since 6"]);
});

test("where the ground changed all is fetched anew", async () => {
	const api = fake();
	const stands = new Stands(api);
	const old = await stands.load(7, 2027);
	api.delta = { ...empty, revision: 9, whole: true };
	await stands.refresh(7);
	assert.notEqual(stands.peek(7, 2027), old);
});

test("a waiting record shows, stays shown once acknowledged, and gives way to the server's word", async () => {
	const api = fake();
	const stands = new Stands(api, { settleMs: 400 });
	const stand = await stands.load(7, 2027);
	const event = pruned("e", [1003]);
	stands.setWaiting([event]);
	assert.equal(stand.progress[3], 2);
	stands.settle([event]); // the server has said "stored"
	stands.setWaiting([]);
	assert.equal(stand.progress[3], 2, "no flicker before the new bytes are there");
	api.delta = deltaOf(3, 5, { progress: [3] });
	await stands.refresh(7);
	assert.equal(stand.progress[3], 3, "the server decides");
	stands.setWaiting([event]);
	stands.setWaiting([]);
	assert.equal(stand.progress[3], 3);
});

test("an overlay comes down to the base when a record is taken back before it was sent", async () => {
	const stands = new Stands(fake());
	const stand = await stands.load(7, 2027);
	const event = pruned("e", [1003]);
	stands.setWaiting([event]);
	stands.setWaiting([event, { ...event, id: "v", kind: "void", value: { event: "e" } }]);
	assert.equal(stand.progress[3], 0);
});

test("the longest unused stands are let go beyond the limit", async () => {
	const stands = new Stands(fake(), { limit: 40 });
	await stands.load(1, 2027);
	await stands.load(2, 2027);
	stands.peek(1, 2027);
	await stands.load(3, 2027);
	assert.deepEqual([stands.held.has("1/2027"), stands.held.has("2/2027"), stands.held.has("3/2027")], [true, false, true]);
});

/** An EventSource played by hand. */
class Line extends EventTarget {
	readyState = 1;
	/** @type {(() => void) | null} */
	onerror = null;
	close() {
		this.readyState = 2;
	}
	/** @param {string} name @param {any} data */
	say(name, data) {
		this.dispatchEvent(Object.assign(new Event(name), { data: JSON.stringify(data) }));
	}
}

test("the line: live after hello, back with patience, changes told once each", () => {
	/** @type {Line[]} */
	const lines = [];
	/** @type {{ms: number, then: () => void}[]} */
	const timers = [];
	/** @type {any[]} */
	const told = [];
	const stream = new Stream({
		connect: () => /** @type {any} */ (lines[lines.push(new Line()) - 1]),
		onChange: (c) => told.push(c.block),
		onHello: (version, again) => told.push(`${version}${again ? " again" : ""}`),
		onState: (s) => told.push(s),
		later: (ms, then) => timers.push({ ms, then }),
	});
	stream.open();
	lines[0].say("hello", { version: "1" });
	lines[0].say("change", { block: 5, revision: 2 });
	lines[0].onerror?.();
	lines[0].onerror?.();
	timers.at(-1)?.then();
	lines[1].onerror?.();
	assert.ok(timers[1].ms > timers[0].ms, "it waits longer");
	timers.at(-1)?.then();
	lines[2].say("hello", { version: "2" });
	assert.deepEqual(told, ["connecting", "live", "1", 5, "reconnecting", "reconnecting", "reconnecting", "reconnecting", "live", "2 again"]);
	assert.ok(lines.slice(0, 2).every((l) => l.readyState === 2), "old lines are closed");
});
