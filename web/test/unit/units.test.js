import assert from "node:assert/strict";
import { test } from "node:test";
import { readNumber, scaleStep, unitsFor } from "../../lib/units.js";

const us = unitsFor({ us: true });
const metric = unitsFor({ us: false });

// Planting tables of extension handbooks: 8 × 4 ft 1,361 vines per acre, 10 × 6 ft 726,
// 12 × 8 ft 454 (shared sources as in testdata/vineyard; printed values, rounded to whole vines).
test("vines per acre of a handbook's planting table", () => {
	for (const [rowFt, vineFt, printed] of [[8, 4, 1361], [10, 6, 726], [12, 8, 454]]) {
		const perM2 = 1 / (us.stored("spacing", rowFt) * us.stored("spacing", vineFt));
		assert.equal(us.text("per_area", perM2), `${new Intl.NumberFormat("en").format(printed)}/ac`);
	}
});

// NIST SP 811 (2008), appendix B.8: 1 lb = 0.45359237 kg, 1 ft = 0.3048 m, 1 in = 25.4 mm (exact).
test("exact factors", () => {
	assert.equal(us.stored("weight", 1), 453.59237);
	assert.equal(us.stored("length", 1), 0.3048);
	assert.equal(us.stored("diameter", 1), 25.4);
	assert.ok(Math.abs(us.shown("area", 4046.8564224) - 1) < 1e-12);
	assert.ok(Math.abs(us.shown("weight_per_m", 1488.16394356955) - 1) < 1e-9, "1 lb/ft = 1.488 163 943 569 55 kg/m");
});

test("as text", () => {
	assert.equal(metric.text("weight", 892.7), "0.89\u00a0kg");
	assert.equal(us.text("weight", 2696.2), "5.94\u00a0lb");
	assert.equal(metric.text("area", 15052.7), "1.51\u00a0ha");
	assert.equal(metric.text("weight", null), "–");
	assert.equal(unitsFor({ us: false, language: "de" }).text("spacing", 1.2), "1,20\u00a0m");
});

test("typed and stored come back the same", () => {
	for (const amount of /** @type {const} */ (["weight", "length", "diameter", "shoot", "area"]))
		for (const units of [us, metric]) assert.ok(Math.abs(units.shown(amount, units.stored(amount, 12.5)) - 12.5) < 1e-12);
});

test("numbers as people type them; what could mean two things is refused", () => {
	assert.equal(readNumber(" 1,25 "), 1.25);
	assert.equal(readNumber("1.25"), 1.25);
	assert.equal(readNumber("7"), 7);
	for (const text of ["", "1.250,5", "1,250.5", "1 250", "abc", "1e5", "NaN", "--1", "."]) assert.equal(readNumber(text), null, text);
});

test("scale bar: a round length, at most as long as asked", () => {
	assert.deepEqual(scaleStep(137, false), { metres: 100, label: "100\u00a0m" });
	assert.deepEqual(scaleStep(4.9, false), { metres: 2, label: "2\u00a0m" });
	assert.deepEqual(scaleStep(2600, false), { metres: 2000, label: "2\u00a0km" });
	assert.equal(scaleStep(137, true).label, "200\u00a0ft");
	assert.equal(scaleStep(5000, true).label, "2\u00a0mi");
	for (let m = 0.3; m < 1e6; m *= 1.37) for (const u of [true, false]) assert.ok(scaleStep(m, u).metres <= m * 1.0001 && scaleStep(m, u).metres > m / 6);
});
