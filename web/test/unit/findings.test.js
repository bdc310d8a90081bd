import assert from "node:assert/strict";
import { test } from "node:test";
import { Findings } from "../../lib/findingstore.js";
import { readHash, writeHash } from "../../lib/hash.js";
import { readAbout, writeAbout, zoomFor } from "../../lib/reporthash.js";
import { FOUND_COLUMNS, decodeStand } from "../../lib/stand.js";
import { Stands } from "../../lib/stands.js";
import { Stream } from "../../lib/stream.js";
import { niceSteps } from "../../report/chart.js";
import { bytesOfStand, settle } from "./make.js";

test("what was worked out is read with its stamp; a stand without it has none", () => {
	const plain = decodeStand(bytesOfStand());
	assert.equal(plain.found, "");
	for (const name of FOUND_COLUMNS) assert.equal(plain[name].reduce((a, b) => a + b, 0), 0, name);
	const stand = decodeStand(bytesOfStand({ found: "abc", basis: [1, 2, 3], patch: [2, 4] }));
	assert.equal(stand.found, "abc");
	assert.deepEqual([...stand.basis.slice(0, 4)], [1, 2, 3, 0]);
	assert.deepEqual([...stand.patch.slice(0, 3)], [2, 4, 0]);
});

test("the stamp goes along with the question what changed; another one brings the whole stand", async () => {
	const asked = /** @type {any[]} */ ([]);
	let stamp = "one";
	const stands = new Stands({
		stand: async () => bytesOfStand({ found: stamp, basis: stamp === "one" ? [3] : [1] }),
		standSince: async (...args) => {
			asked.push(args);
			return { block: 7, season: 2027, revision: 4, whole: stamp !== args[3], found: stamp, index: [] };
		},
	});
	const first = await stands.load(7, 2027);
	assert.equal(first.basis[0], 3);
	await stands.refresh(7, false, 2027);
	assert.deepEqual(asked, [[7, 2027, 4, "one", ""]]);
	assert.equal(stands.peek(7, 2027), first);
	stamp = "two";
	await stands.refresh(7, false, 2026);
	assert.equal(asked.length, 1, "another season was meant");
	await stands.refresh(7, false, 2027);
	assert.equal(stands.peek(7, 2027)?.basis[0], 1);
});

test("the line tells of findings", () => {
	/** @type {EventTarget & Record<string, any>} */
	const line = Object.assign(new EventTarget(), { close() {}, readyState: 1 });
	/** @type {any[]} */
	const told = [];
	new Stream({ connect: () => /** @type {any} */ (line), onChange: () => {}, onFound: (f) => told.push(f), onHello: () => {}, onState: () => {} }).open();
	line.dispatchEvent(Object.assign(new Event("found"), { data: '{"block":7,"season":2027,"found":"abc","state":"ready"}' }));
	assert.deepEqual(told, [{ block: 7, season: 2027, found: "abc", state: "ready" }]);
});

function fakeFindings() {
	const fake = {
		calls: /** @type {string[]} */ ([]), state: "running", timers: /** @type {(() => void)[]} */ ([]),
		/** @returns {Promise<any>} */
		async findings(/** @type {number} */ season) {
			fake.calls.push(`all ${season}`);
			return { season, since: 0, blocks: [{ block: 7, code: "H3", state: fake.state, progress: 0.5, found: "" }] };
		},
		/** @returns {Promise<any>} */
		async blockFindings(/** @type {number} */ block, /** @type {number} */ season) {
			fake.calls.push(`${block} ${season}`);
			return { block, season, state: fake.state };
		},
	};
	return fake;
}

test("findings under way are asked about again until they are ready, and only while looked at", async () => {
	const api = fakeFindings();
	const store = new Findings(api, { later: (_, then) => api.timers.push(then) });
	await store.read(2027, () => 2027);
	assert.equal(store.summary(7, 2027)?.state, "running");
	assert.equal(api.timers.length, 1);
	api.state = "ready";
	api.timers[0]();
	await settle();
	assert.equal(store.summary(7, 2027)?.state, "ready");
	assert.equal(api.timers.length, 1, "no more asking");
	api.state = "waiting";
	await store.read(2027, () => 2026);
	api.timers[1]();
	await settle();
	assert.deepEqual(api.calls, ["all 2027", "all 2027", "all 2027"], "another season is looked at by then");
});

test("details are kept once ready, and let go of when the block's findings are new", async () => {
	const api = fakeFindings();
	const store = new Findings(api);
	await Promise.all([store.load(7, 2027), store.load(7, 2027)]);
	assert.equal(store.peek(7, 2027), undefined, "not ready: not kept");
	api.state = "ready";
	await store.load(7, 2027);
	await store.load(7, 2027);
	store.forget(7);
	await store.load(7, 2027);
	assert.deepEqual(api.calls, ["7 2027", "7 2027", "7 2027"]);
});

test("without an answer the map goes on without findings", async () => {
	const store = new Findings({ findings: async () => { throw new Error("404"); }, blockFindings: async () => { throw new Error("404"); } });
	await store.read(2027);
	assert.equal(store.summary(7, 2027), undefined);
	await assert.rejects(store.load(7, 2027));
});

test("a patch with any name keeps its place in the address", () => {
	const view = { season: 2027, theme: /** @type {const} */ ("patches"), only: null, at: null, block: 7, row: null, vine: null, patch: "7.Ñ 3/4-2027-w1", outlines: true, pane: /** @type {const} */ ("map") };
	const back = readHash(writeHash(view));
	assert.equal(back.patch, view.patch);
	assert.equal(back.outlines, true);
	assert.equal(back.theme, "patches");
	assert.equal(readHash("#theme=doubt").theme, "doubt");
	assert.equal(readHash("#patch=x.1&theme=colour").patch, undefined);
});

test("a report's address says block, season, season compared with and part", () => {
	const about = { block: "H 3/é", season: 2027, since: 2025, part: /** @type {const} */ ("weighing") };
	assert.deepEqual(readAbout(writeAbout(about)), about);
	assert.equal(writeAbout({ block: "H3", season: 2027, since: null, part: "report" }), "#block=H3&season=2027");
	assert.deepEqual(readAbout("#season=27&since=abc&show=more"), {});
});

// MapLibre's zoom 0 shows 360° in 512 pixels, so zoom 10 shows 360 / 1024 degrees in as many.
test("a patch fills the map it is shown on", () => {
	assert.equal(zoomFor([0, 0, 360 / 1024, 0], 512).toFixed(6), "10.000000");
	assert.equal(zoomFor([10, 50, 10.0000001, 50.0000001]), 19, "never closer than single vines need");
});

test("axes have round steps that reach the greatest value", () => {
	assert.deepEqual(niceSteps(2300, 4), [0, 1000, 2000, 3000]);
	assert.deepEqual(niceSteps(0.83, 4), [0, 0.25, 0.5, 0.75, 1]);
	assert.deepEqual(niceSteps(0, 4), [0, 1]);
	for (const most of [0.07, 1, 9.99, 123, 1e6]) assert.ok((niceSteps(most, 4).at(-1) ?? 0) >= most, String(most));
});
