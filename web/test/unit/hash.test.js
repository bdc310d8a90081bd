import assert from "node:assert/strict";
import { test } from "node:test";
import { readHash, writeHash } from "../../lib/hash.js";

const view = { season: 2027, theme: /** @type {const} */ ("vigour"), only: 3, at: { lon: -66.4157846, lat: -38.9136976, zoom: 18.25, bearing: -12.5 }, block: 4, row: 17, vine: 4711, pane: /** @type {const} */ ("table") };

test("a view comes back from its address", () => {
	const back = readHash(writeHash(view));
	assert.deepEqual({ ...back, at: undefined }, { ...view, at: undefined });
	assert.ok(back.at && Math.abs(back.at.lon - view.at.lon) < 1e-6 && Math.abs(back.at.lat - view.at.lat) < 1e-6);
	assert.equal(back.at.zoom, 18.25);
	assert.equal(back.at.bearing, -12.5);
});

test("an operation other than pruning stands in the address", () => {
	const address = writeHash({ ...view, theme: "progress", operation: "shoot thinning" });
	assert.match(address, /&operation=shoot%20thinning/);
	assert.equal(readHash(address).operation, "shoot thinning");
	assert.equal(readHash(`#operation=${"x".repeat(61)}`).operation, undefined);
});

test("the short form", () => {
	assert.equal(writeHash({ ...view, only: null, at: null, block: null, row: null, vine: null, pane: "map" }), "#season=2027&theme=vigour");
});

test("what is wrong is left out", () => {
	for (const hash of ["", "#", "#season=abc&theme=none&vine=-1&at=1,2&only=1.5&show=x", "#at=999,0,3", "#at=0,0,99", "#at=a,b,c", "#vine=99999999999999999999"]) assert.deepEqual(readHash(hash), {}, hash);
	assert.deepEqual(readHash("#season=2027&vine=x"), { season: 2027 });
});

test("the image under the rows stands in the address; what can be no id is left out", () => {
	const address = writeHash({ ...view, image: "0199-ab_c" });
	assert.match(address, /&image=0199-ab_c/);
	assert.equal(readHash(address).image, "0199-ab_c");
	assert.equal(readHash("#image=a/b").image, undefined);
});
