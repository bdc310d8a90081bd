import assert from "node:assert/strict";
import { test } from "node:test";
import { ApiError, createApi } from "../../lib/api.js";
import { onceAtATime, sending } from "../../lib/once.js";
import { settle } from "./make.js";

test("what runs is not begun again; after it, also after a failure, it may", async () => {
	/** @type {((fail: boolean) => void)[]} */
	const ends = [];
	const work = onceAtATime((/** @type {number} */ n) => new Promise((resolve, reject) => ends.push((fail) => (fail ? reject(new Error("no")) : resolve(n)))));
	const first = work(1);
	assert.equal(await work(2), undefined);
	ends[0](false);
	assert.equal(await first, 1);
	const third = work(3);
	ends[1](true);
	await assert.rejects(third, /no/);
	void work(4);
	assert.equal(ends.length, 3);
});

test("a form that is sent twice while it is being sent sends once", async () => {
	let sent = 0;
	let stopped = 0;
	const listener = sending(async () => { sent++; await settle(); });
	const press = () => listener(/** @type {any} */ ({ preventDefault: () => stopped++ }));
	press();
	press();
	assert.deepEqual([sent, stopped], [1, 2]);
	await settle(40);
	press();
	assert.equal(sent, 2);
});

test("an answer that breaks off, or is none, is told as a line that failed", async () => {
	const broken = (/** @type {any} */ error) => createApi(/** @type {any} */ (async () => ({ ok: true, json: async () => { throw error; }, arrayBuffer: async () => { throw error; } })));
	const passing = (/** @type {RegExp} */ words) => (/** @type {any} */ e) => e instanceof ApiError && e.passing && words.test(e.message);
	await assert.rejects(broken(new TypeError("network error")).estate(), passing(/cannot be reached/));
	await assert.rejects(broken(new TypeError("network error")).stand(1, 2027), passing(/cannot be reached/));
	await assert.rejects(broken(new DOMException("timed out", "TimeoutError")).postEvents([]), passing(/cannot be reached/));
	await assert.rejects(broken(new SyntaxError("Unexpected end")).estate(), passing(/cannot be understood/));
});
