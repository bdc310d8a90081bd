// The outbox on a bad line: every end of a try plans the next, and nothing keeps
// records from being sent for long.

import assert from "node:assert/strict";
import { test } from "node:test";
import { onePage } from "../../lib/alone.js";
import { ApiError } from "../../lib/api.js";
import { Outbox, memoryStore } from "../../lib/outbox.js";
import { Stream } from "../../lib/stream.js";
import { settle } from "./make.js";

const draft = (/** @type {string} */ id) => ({ id, device: "d", seq: 0, at: "2027-01-10T08:00:00Z", season: 2027, block: 1, kind: "note", value: { text: id } });
const away = () => new ApiError("the server cannot be reached", 0);
const taken = (/** @type {any[]} */ events) => ({ received_at: "", skew_ms: 0, results: events.map((e) => ({ id: e.id, result: "stored" })) });

/** An outbox whose timers are run by hand and tell how long they would have waited. @param {(events: any[]) => Promise<any>} postEvents */
function outbox(postEvents, store = memoryStore()) {
	/** @type {{ms: number, then: () => void}[]} */
	const timers = [];
	const box = new Outbox({ store, api: /** @type {any} */ ({ postEvents }), later: (ms, then) => timers.push({ ms, then }) });
	return { box, timers, fire: async () => { timers.splice(0).forEach((t) => t.then()); await settle(); } };
}

test("when the line may be there again, earlier failures do not lengthen the wait", async () => {
	let broken = true;
	const { box, timers, fire } = outbox(async (events) => { if (broken) throw away(); return taken(events); });
	await box.add([draft("a")]);
	await settle();
	for (let i = 0; i < 6; i++) await fire();
	assert.ok(timers[0].ms > 15_000, `${timers[0].ms} ms after many failures`);
	await box.hurry();
	assert.ok(timers.at(-1).ms < 2_000, `${timers.at(-1)?.ms} ms after the line came back and failed once more`);
	broken = false;
	await box.hurry();
	assert.equal(box.waiting.length, 0);
});

test("a record kept in the very moment in which a try ends is sent at once", async () => {
	for (let turns = 0; turns < 60; turns++) {
		const { box } = outbox(async (events) => taken(events));
		await box.add([draft("a")]);
		for (let i = 0; i < turns; i++) await null;
		await box.add([draft("b")]);
		await settle(60);
		assert.equal(box.waiting.length, 0, `after ${turns} turns`);
	}
});

test("a fault in what is shown does not keep records from being sent", async (t) => {
	t.mock.method(console, "error", () => {});
	const { box } = outbox(async (events) => taken(events));
	box.on(() => { throw new Error("the bar is broken"); });
	await box.add([draft("a")]);
	await settle();
	assert.equal(box.waiting.length, 0);
});

test("after a failure with nothing waiting, the next record has its try planned", async () => {
	const store = memoryStore();
	const { box, timers, fire } = outbox(async (events) => taken(events), { ...store, list: async () => { throw new Error("the store is away"); } });
	await box.kick();
	assert.match(box.state.trouble ?? "", /store is away/);
	box.readAt = Date.now(); // from now on the store need not be read again
	await box.add([draft("a")]);
	await settle();
	assert.equal(timers.length, 1, "a try is planned");
	await fire();
	assert.equal(box.waiting.length, 0);
});

test("on a line too slow for many records, fewer are sent at once", async () => {
	/** @type {number[]} */
	const sizes = [];
	const { box, fire } = outbox(async (events) => {
		sizes.push(events.length);
		if (events.length > 30) throw away();
		return taken(events);
	});
	await box.add(Array.from({ length: 150 }, (_, i) => draft(`e${i}`)));
	await settle();
	for (let i = 0; i < 40 && box.waiting.length; i++) await fire();
	assert.equal(box.waiting.length, 0, sizes.join());
	assert.ok(sizes.filter((n) => n > 30).length < 10, sizes.join());
});

/** Locks as the browser has them; one page of ours, another that may hold the lock. */
function locks() {
	const state = { held: false, stolen: 0 };
	/** @type {any} */
	const request = async (/** @type {string} */ _name, /** @type {any} */ how, /** @type {any} */ work) => {
		if (how.steal) {
			state.held = false;
			state.stolen++;
		}
		return work(state.held ? null : {});
	};
	return { state, request };
}

test("a page that sleeps with the lock in hand does not keep the others from sending", async () => {
	const l = locks();
	let clock = 0;
	let ran = 0;
	const alone = onePage(l, { now: () => clock, heldMs: 45_000 });
	const work = async () => void ran++;
	l.state.held = true;
	for (clock = 0; clock <= 45_000; clock += 5_000) await alone(work);
	assert.equal(ran, 0, "another page is at it");
	await alone(work);
	assert.deepEqual([ran, l.state.stolen], [1, 1], "it holds the lock for longer than any request lasts");
	await alone(work);
	assert.deepEqual([ran, l.state.stolen], [2, 1]);
	l.state.held = true;
	clock += 100_000;
	await alone(work);
	assert.equal(ran, 2, "the wait begins anew");
});

test("where the browser gives no lock, or takes it away meanwhile, the work is done all the same", async () => {
	assert.equal(await onePage(undefined)(async () => 1), 1);
	assert.equal(await onePage(/** @type {any} */ ({ request: async () => { throw new Error("not allowed here"); } }))(async () => 2), 2);
	const stolen = { request: async (/** @type {string} */ _n, /** @type {any} */ _h, /** @type {any} */ work) => { void work({}); throw new Error("stolen"); } };
	assert.equal(await onePage(/** @type {any} */ (stolen))(async () => 3), 3);
	await assert.rejects(onePage(locks())(async () => { throw away(); }), /reached/, "what goes wrong in the work is told");
});

test("on another line the connection for changes is made anew, though the old one never said that it is dead", () => {
	/** @type {any[]} */
	const sources = [];
	/** @type {boolean[]} */
	const again = [];
	const stream = new Stream({
		connect: () => { const s = Object.assign(new EventTarget(), { closed: false, close() { this.closed = true; } }); sources.push(s); return /** @type {any} */ (s); },
		onChange: () => {}, onState: () => {}, onHello: (_version, a) => again.push(a), later: () => 0,
	});
	const greet = () => sources.at(-1).dispatchEvent(Object.assign(new Event("hello"), { data: '{"version":"1"}' }));
	stream.open();
	greet();
	stream.hurry();
	assert.equal(sources.length, 1, "as far as anybody knows it is alive");
	stream.renew();
	greet();
	assert.deepEqual([sources.length, sources[0].closed, again], [2, true, [false, true]], "and what was missed is asked for");
	stream.close();
	stream.renew();
	assert.equal(sources.length, 2);
});
