// A few rounds of field-faults.mjs; run more by hand.

import assert from "node:assert/strict";
import { test } from "node:test";
import { faultRounds } from "../field-faults.mjs";

test("a few rounds of faults at random lose nothing and double nothing", async () => {
	const sum = await faultRounds({ rounds: 3, seed: 11 });
	assert.equal(sum.rounds, 3);
	assert.ok(sum.records > 12);
});
