import assert from "node:assert/strict";
import { test } from "node:test";
import { ApiError } from "../../lib/api.js";
import { Outbox, memoryStore } from "../../lib/outbox.js";
import { settle } from "./make.js";

const draft = (/** @type {string} */ id) => ({ id, device: "d", seq: 0, at: "2027-01-10T08:00:00Z", season: 2027, block: 1, kind: "note", value: { text: id } });

/** A server that keeps what it stores; `say` may change an answer or break the line. */
function server(say = (/** @type {any[]} */ results, /** @type {any[]} */ events) => results) {
	const stored = new Map();
	let calls = 0;
	return {
		stored,
		get calls() {
			return calls;
		},
		async postEvents(/** @type {any[]} */ events) {
			calls++;
			const results = events.map((e) => {
				const result = stored.has(e.id) ? "known" : "stored";
				stored.set(e.id, e);
				return { id: e.id, result };
			});
			return { received_at: "", skew_ms: 0, results: say(results, events) };
		},
	};
}

/** An outbox whose timers are run by hand. */
function outbox(/** @type {any} */ api, store = memoryStore()) {
	/** @type {(() => void)[]} */
	const timers = [];
	const box = new Outbox({ store, api, later: (_ms, then) => timers.push(then) });
	return { box, store, fire: async () => { timers.splice(0).forEach((f) => f()); await settle(); } };
}

test("records are numbered, sent in order, and gone only when acknowledged", async () => {
	const api = server();
	const { box } = outbox(api);
	await box.open();
	const events = await box.add([draft("a"), draft("b")]);
	assert.ok(events[1].seq > events[0].seq && events[0].seq > 0);
	await settle();
	assert.deepEqual([...api.stored.keys()], ["a", "b"]);
	assert.equal(box.waiting.length, 0);
});

test("an answer that is lost on the way loses and doubles nothing", async () => {
	let drop = 2;
	const api = server((results) => {
		if (drop-- > 0) throw new ApiError("the server cannot be reached", 0);
		return results;
	});
	const { box, fire } = outbox(api);
	await box.open();
	await box.add([draft("a"), draft("b"), draft("c")]);
	await settle();
	assert.equal(box.waiting.length, 3);
	assert.match(box.state.trouble ?? "", /reached/);
	await fire();
	await fire();
	assert.equal(box.waiting.length, 0);
	assert.equal(box.state.trouble, null);
	assert.equal(api.stored.size, 3);
});

test("an answer that leaves an id out leaves that record waiting", async () => {
	let short = true;
	const api = server((results) => (short ? results.slice(0, 1) : results));
	const { box, fire } = outbox(api);
	await box.open();
	await box.add([draft("a"), draft("b")]);
	short = false;
	await settle();
	await fire();
	assert.equal(box.waiting.length, 0);
	assert.deepEqual([...api.stored.keys()], ["a", "b"]);
});

test("a refused record stays with its reason until a person lets it go", async () => {
	const api = server((results) => results.map((r) => (r.id === "b" ? { ...r, result: "refused", reason: "no such row" } : r)));
	const { box, store } = outbox(api);
	await box.open();
	await box.add([draft("a"), draft("b")]);
	await settle();
	assert.equal(box.waiting.length, 0);
	assert.deepEqual(box.state.entries.map((e) => [e.event.id, e.refused]), [["b", "no such row"]]);
	assert.equal((await store.list()).length, 1);
	const calls = api.calls;
	await box.kick();
	assert.equal(api.calls, calls, "a refused record is not sent again");
	await box.letGo("b");
	assert.deepEqual(await store.list(), []);
});

test("a batch refused as a whole is split until the one to blame is found", async () => {
	const good = server();
	const api = {
		async postEvents(/** @type {any[]} */ events) {
			if (events.some((e) => e.id === "bad")) throw new ApiError("field seq: not a number", 400);
			return good.postEvents(events);
		},
	};
	const { box } = outbox(api);
	await box.open();
	await box.add([draft("a"), draft("b"), draft("bad"), draft("c")]);
	await settle(60);
	assert.deepEqual([...good.stored.keys()].sort(), ["a", "b", "c"]);
	assert.deepEqual(box.state.entries.map((e) => [e.event.id, e.refused]), [["bad", "field seq: not a number"]]);
});

test("no access, or a server in trouble, refuses no record", async () => {
	for (const status of [401, 403, 500, 503]) {
		const { box } = outbox({ postEvents: async () => { throw new ApiError("no", status); } });
		await box.open();
		await box.add([draft("a")]);
		await settle();
		assert.equal(box.waiting.length, 1, String(status));
		assert.equal(box.state.trouble, "no");
	}
});

test("batches keep within two hundred records", async () => {
	/** @type {number[]} */
	const sizes = [];
	const api = server((results, events) => (sizes.push(events.length), results));
	const { box } = outbox(api);
	await box.open();
	await box.add(Array.from({ length: 450 }, (_, i) => draft(`e${i}`)));
	await settle(60);
	assert.deepEqual(sizes, [200, 200, 50]);
});

test("what waits from an earlier page is sent at the start; another sender is left alone", async () => {
	const store = memoryStore();
	await store.add([draft("old")]);
	const api = server();
	let held = true;
	const box = new Outbox({ store, api, alone: async (work) => (held ? undefined : work()), later: () => 0 });
	await box.open();
	await settle();
	assert.equal(api.calls, 0);
	held = false;
	await box.kick();
	assert.deepEqual([...api.stored.keys()], ["old"]);
});
