// A few rounds of field-faults.mjs on either store; run more by hand.

import assert from "node:assert/strict";
import { test } from "node:test";
import { faultRounds } from "../field-faults.mjs";
import { postgisServer } from "./postgis.js";

/** @param {string | null} postgis */
async function fewRounds(postgis) {
	const sum = await faultRounds({ rounds: 3, seed: 11, postgis });
	assert.equal(sum.rounds, 3);
	assert.ok(sum.records > 12);
	assert.ok(sum.serverKills > 0 && sum.kills > 0 && sum.lost > 0, JSON.stringify(sum));
}

test("a few rounds of faults at random lose nothing and double nothing, the estate in a GeoPackage", () => fewRounds(null));

test("a few rounds of faults at random lose nothing and double nothing, the estate in PostGIS", async (t) => {
	const server = postgisServer();
	if (!server) return t.skip("COURSON_TEST_POSTGIS is not set: it names a PostGIS server where databases may be made");
	await fewRounds(server);
});
