// Places that are filled with answers of the server, read again by news meanwhile.

import assert from "node:assert/strict";
import { test } from "node:test";
import { settle } from "./make.js";

/** As much of a page as these modules need. */
class Node {
	/** @type {any[]} */
	kids = [];
	dataset = {};
	scrollTop = 0;
	isConnected = true;
	contains() { return false; }
	querySelector() { return null; }
	setAttribute() {}
	addEventListener() {}
	replaceChildren() { this.kids = []; }
	append(/** @type {any} */ kid) { this.kids.push(kid); }
	/** @returns {string} */
	get text() { return this.kids.map((k) => (k instanceof Node ? k.text : k)).join(""); }
}
const globals = /** @type {any} */ (globalThis);
globals.Node = Node;
globals.document = { activeElement: null, createElement: () => new Node(), documentElement: new Node() };
const mark = globals.document.documentElement.dataset;

const { reading: ofWork } = await import("../../work/reading.js");
const { reading: ofPlans } = await import("../../pruning/reading.js");
const { reading: ofPeople } = await import("../../people/pieces.js");

/** A server that answers when it is told to. */
function server() {
	/** @type {((answer: any) => void)[]} */
	const asked = [];
	return { asked, ask: () => new Promise((resolve) => asked.push(resolve)), async answer(/** @type {any} */ a) { asked.shift()?.(a); await settle(); } };
}
const app = /** @type {any} */ ({ t: (/** @type {string} */ key) => key });
const draw = (/** @type {any} */ answer) => /** @type {any} */ ([answer.text]);

for (const [name, reading] of /** @type {const} */ ([["work", ofWork], ["plans", ofPlans]]))
	test(`news that overtake a reading leave no “loading” behind, ${name}`, async () => {
		const { asked, ask, answer } = server();
		const place = new Node();
		const parts = reading(app, /** @type {any} */ (place), { ask, draw, loading: "loading" });
		void parts.read(true);
		await answer({ text: "same" });
		assert.equal(place.text, "same");
		void parts.read(true);
		assert.equal(place.text, "loading");
		void parts.read(false); // news
		await answer({ text: "same" }); // to the first, which is given up
		assert.equal(asked.length, 1);
		await answer({ text: "same" });
		assert.equal(place.text, "same");
	});

test("news that were on their way when somebody began to type wait until they are done", async () => {
	const { ask, answer } = server();
	const place = new Node();
	let typing = false;
	const parts = ofWork(app, /** @type {any} */ (place), { ask, draw, loading: "loading", typing: () => typing });
	void parts.read(true);
	await answer({ text: "old" });
	parts.news();
	typing = true;
	await answer({ text: "new" });
	assert.equal(place.text, "old", "the form is still there");
	void parts.read(false); // what was typed is sent
	await answer({ text: "new" });
	assert.equal(place.text, "new");
});

test("an answer for a part that was left says nothing of the part that is shown", async () => {
	const { ask, answer } = server();
	const place = new Node();
	const read = ofPeople(/** @type {any} */ (app), /** @type {any} */ (place), ask, draw);
	void read();
	place.isConnected = false;
	mark.people = "loading";
	await answer({ text: "late" });
	assert.equal(mark.people, "loading");
});
