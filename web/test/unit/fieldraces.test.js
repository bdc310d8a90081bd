// What happens on the phone page while something else is under way.

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { settle } from "./make.js";

/** The little that these modules need of a browser. @type {any} */
const globals = globalThis;
globals.document = { documentElement: { dataset: {} }, visibilityState: "visible", addEventListener() {}, getElementById: () => null };
globals.location = { hash: "" };
const browser = /** @type {any} */ ({});
Object.defineProperty(globals, "navigator", { configurable: true, value: browser });

const { keeping } = await import("../../field/acts.js");
const { refresh } = await import("../../field/bundle.js");
const { Ledger } = await import("../../field/ledger.js");
const { awake } = await import("../../field/wake.js");
const { createSignal } = await import("../../lib/signal.js");

/** Work that ends when it is told to. */
function slow() {
	let end = () => {};
	const done = new Promise((resolve) => (end = () => resolve(undefined)));
	const log = { begun: 0, end };
	return { log, work: async () => { log.begun++; await done; } };
}
beforeEach(() => (globals.location.hash = ""));

test("a second tap on the same screen does nothing; a tap on the next screen waits its turn and counts", async () => {
	const app = /** @type {any} */ ({});
	globals.location.hash = "#row=1";
	const undo = slow();
	const first = keeping(app, undo.work);
	assert.equal(await keeping(app, async () => assert.fail("the screen does not show the first yet")), false);
	globals.location.hash = "#row=1&at=mark";
	let marked = 0;
	const mark = keeping(app, async () => void marked++);
	await settle();
	assert.equal(marked, 0, "one record after the other");
	assert.equal(globals.document.documentElement.dataset.keeping, "true");
	undo.log.end();
	assert.deepEqual([await first, await mark, marked], [true, true, 1]);
	assert.equal(globals.document.documentElement.dataset.keeping, undefined);
});

/** A phone that asks a server which answers when it is told to. */
function phone() {
	/** @type {{crew: string, answer: () => void}[]} */
	const asked = [];
	globals.fetch = (/** @type {string} */ path) => new Promise((resolve) => {
		const crew = new URLSearchParams(path.split("?")[1]).get("crew") ?? "";
		asked.push({ crew, answer: () => resolve(new Response(JSON.stringify({ orders: [{ id: crew }], texts: [] }))) });
	});
	const app = /** @type {any} */ ({
		settings: { crew: "North" }, kept: null, ledger: new Ledger([]), net: createSignal({ loading: false, trouble: "", status: 0 }),
		db: { write: async () => {} }, news: () => {},
	});
	return { app, asked };
}

test("the list of a crew chosen while another's is on its way is asked for, and the other's is not shown", async () => {
	const { app, asked } = phone();
	const first = refresh(app);
	assert.equal(refresh(app), first, "one question at a time");
	await settle();
	app.settings.crew = "South";
	const second = refresh(app);
	asked[0].answer();
	await first;
	assert.equal(app.kept, null, "North's list came too late");
	await settle();
	asked[1].answer();
	await second;
	assert.deepEqual(asked.map((a) => a.crew), ["North", "South"]);
	assert.equal(app.kept.bundle.orders[0].id, "South");
	assert.equal(app.net.get().loading, false);
});

test("a record that came by way of the outbox already is in the log once", () => {
	const event = /** @type {any} */ ({ id: "a", seq: 1, row: 7, vines: [3], kind: "pruned", value: {} });
	const ledger = new Ledger([]);
	assert.equal(ledger.add([event], 1).length, 1);
	assert.equal(ledger.add([event], 2).length, 0);
	assert.equal(ledger.rows.get(7)?.length, 1);
	ledger.forget("a");
	assert.equal(ledger.last(7), null, "let go is gone");
});

test("drawn twice in a moment, the screen is kept on by one lock, and goes off with the row", async () => {
	let held = 0;
	browser.wakeLock = { request: async () => (held++, { addEventListener() {}, release: async () => void held-- }) };
	awake(true);
	awake(true);
	await settle();
	assert.equal(held, 1);
	awake(false);
	await settle();
	assert.equal(held, 0);
});
