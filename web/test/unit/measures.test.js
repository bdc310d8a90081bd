import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";
import { QUANTITIES, firstUnit, kept, measureOf, unlikely } from "../../lib/measures.js";
import { canesByClass } from "../../map/measurefields.js";

// NIST Special Publication 811 (2008), appendix B.8: 1 lb = 453.59237 g and
// 1 oz = 28.34952 g (avoirdupois), 1 in = 25.4 mm.
test("what is written in other units is kept by the published factors", () => {
	assert.equal(kept("pruning_weight", 1, "lb"), 453.59237);
	assert.equal(kept("pruning_weight", 1, "oz").toFixed(5), "28.34952");
	assert.equal(kept("pruning_weight", 0.85, "kg"), 850);
	assert.equal(kept("cane_diameter", 0.375, "in"), 9.525);
	assert.equal(kept("trunk_girth", 15, "in"), 381);
	assert.equal(kept("shoot_length", 40, "in"), 101.6);
	assert.equal(kept("shoot_length", 1.2, "m"), 120);
});

test("the unit written in stays with the value, the kept one goes without saying", () => {
	assert.deepEqual(measureOf("pruning_weight", 1.5, "lb"), { quantity: "pruning_weight", unit: "g", scale: "lb", value: 680.388555 });
	assert.deepEqual(measureOf("pruning_weight", 320, "g"), { quantity: "pruning_weight", unit: "g", value: 320 });
	assert.deepEqual(measureOf("visual_score", 3, "score", "1-5"), { quantity: "visual_score", unit: "score", scale: "1-5", value: 3 });
});

test("units and impossible values are those of the server", () => {
	const go = readFileSync(new URL("../../../geo/vine/measure.go", import.meta.url), "utf8");
	const name = Object.fromEntries([...go.matchAll(/^\t(\w+)\s+Quantity = "(\w+)"/gm)].map((m) => [m[1], m[2]]));
	const limits = [...go.matchAll(/case (\w+):\n\t\treturn limit\{"(\w+)", (-?[\d_]+), ([\d_]+)\}/g)];
	assert.equal(limits.length, Object.keys(QUANTITIES).length);
	const number = (/** @type {string} */ s) => Number(s.replaceAll("_", ""));
	for (const [, q, unit, least, most] of limits) {
		assert.equal(QUANTITIES[name[q]].unit, unit, q);
		assert.deepEqual(QUANTITIES[name[q]].range, [number(least), number(most)], q);
	}
});

test("the marks of unlikely values are those the server asks about", () => {
	const go = readFileSync(new URL("../../../geo/vigour/unlikely.go", import.meta.url), "utf8");
	const found = [...go.matchAll(/case vine\.(\w+):\n\t\treturn usual\{([\d_]+), ([\d_]+), "[^"]+", (true|false)\}/g)];
	assert.ok(found.length >= 6, `${found.length} quantities`);
	const names = /** @type {Record<string, string>} */ ({ PruningWeight: "pruning_weight", CaneCount: "cane_count", CaneDiameter: "cane_diameter", ShootLength: "shoot_length", TrunkGirth: "trunk_girth", Yield: "yield" });
	for (const [, q, least, most, perMetre] of found) {
		const { usual } = QUANTITIES[names[q]];
		assert.deepEqual([usual?.least, usual?.most, usual?.perMetre ?? false], [Number(least.replaceAll("_", "")), Number(most.replaceAll("_", "")), perMetre === "true"], q);
	}
});

test("a vine with more room may have more wood; without its room nothing is said", () => {
	assert.equal(unlikely("pruning_weight", 1_900, { vineSpacingM: 1 }), null);
	assert.deepEqual(unlikely("pruning_weight", 2_100, { vineSpacingM: 1 }), { least: 0, most: 2_000, }, "over 2 kg/m");
	assert.equal(unlikely("pruning_weight", 2_100, { vineSpacingM: 2 }), null);
	assert.equal(unlikely("pruning_weight", 19_000), null);
	assert.ok(unlikely("cane_diameter", 25));
	assert.ok(unlikely("visual_score", 7, { scale: "1-5" }));
	assert.equal(unlikely("visual_score", 7, { scale: "by Anna" }), null);
	assert.ok(unlikely("canopy_index", 1.2, { scale: "NDVI" }));
	assert.equal(unlikely("canopy_index", 1.2, { scale: "EVI2" }), null);
});

test("canes by thickness are a count as it was made, and a mean diameter from the middles", () => {
	const [count, diameter] = canesByClass([0, 4, 6, 2, 0]);
	assert.deepEqual(count.value, { quantity: "cane_count", unit: "canes", classes: ["4-6 mm", "6-8 mm", "8-10 mm", "10-12 mm", "12-15 mm"], counts: [[0, 4, 6, 2, 0]], values: [12] });
	// 4 × 7 + 6 × 9 + 2 × 11 = 104 over 12 canes.
	assert.equal(diameter.value.value, 8.67);
	assert.equal(canesByClass([0, 0, 0, 0, 0]).length, 1, "no canes have no diameter");
});

test("a US estate is offered pounds and inches first", () => {
	assert.deepEqual(["pruning_weight", "yield", "cane_diameter", "cane_count"].map((q) => firstUnit(q, true)), ["lb", "lb", "in", "canes"]);
	assert.deepEqual(["pruning_weight", "cane_diameter"].map((q) => firstUnit(q, false)), ["kg", "mm"]);
});
