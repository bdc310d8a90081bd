import assert from "node:assert/strict";
import { test } from "node:test";
import { sidesOf } from "../../lib/compass.js";

/** @type {[string, [number, number][], string[]][]} */
const cases = [
	["a line to the north", [[8, 49], [8, 49.01]], ["E", "W"]],
	["a line to the south", [[8, 49.01], [8, 49]], ["E", "W"]],
	["a line to the east", [[8, 49], [8.01, 49]], ["N", "S"]],
	["a line to the west, below the equator", [[20.01, -33], [20, -33]], ["N", "S"]],
	["a line to the north-east: as far north as east on the ground", [[8, 49], [8.01, 49.00656]], ["NW", "SE"]],
	["a line to the south-east, with a bend", [[8, 49], [9, 50], [8.01, 48.99344]], ["NE", "SW"]],
];

for (const [what, line, sides] of cases) test(`sides of ${what}`, () => assert.deepEqual(sidesOf(line), sides));
