import assert from "node:assert/strict";
import { test } from "node:test";
import { BY_HAND, amountText, decimal, judge, numberOf, pressed, unitFor, unitsOf } from "../../field/amount.js";
import { Ledger } from "../../field/ledger.js";
import { textsFor } from "../../field/texts.js";
import { slotOf } from "../../field/walk.js";
import { nextToWeigh, placesIn, standing, walkOfWeighRow, weighSpots, weighTally } from "../../field/weighwalk.js";
import { QUANTITIES } from "../../lib/measures.js";
import { LANGUAGES } from "../../text/field/index.js";

const en = textsFor("en");
const type = (/** @type {string} */ keys) => keys.split("").reduce((typed, k) => pressed(typed, k === "<" ? "back" : k), "");
/** @param {any} [more] */
const weight = (more = {}) => ({ quantity: "pruning_weight", unit: "kg", spacingM: 1.2, scale: "", ...more });

test("digits with one mark; a mark first means nought before it; back takes the last away", () => {
	assert.equal(type("0.45"), "0.45");
	assert.equal(type(".4.5"), "0.45");
	assert.equal(type("045"), "45");
	assert.equal(type("12<3"), "13");
	assert.equal(type("<"), "");
	assert.equal(type("123456789"), "1234567", "more than any scales show");
	assert.equal(numberOf("5."), 5);
	assert.equal(numberOf(""), null);
});

// 1 lb = 453.59237 g, 1 oz = 1/16 lb: international yard and pound agreement of 1959 (NIST SP 811, appendix B).
test("a weight is kept in grams with the unit it was written in", () => {
	const body = (/** @type {string} */ typed, /** @type {string} */ unit) => /** @type {any} */ (judge(en, weight({ unit }), typed, false)).value;
	assert.deepEqual(body("0.45", "kg"), { quantity: "pruning_weight", unit: "g", scale: "kg", value: 450 });
	assert.deepEqual(body("450", "g"), { quantity: "pruning_weight", unit: "g", value: 450 });
	assert.deepEqual(body("1", "lb"), { quantity: "pruning_weight", unit: "g", scale: "lb", value: 453.59237 });
	assert.deepEqual(body("16", "oz"), { quantity: "pruning_weight", unit: "g", scale: "oz", value: 453.59237 });
	assert.deepEqual(body("0", "kg"), { quantity: "pruning_weight", unit: "g", scale: "kg", value: 0 }, "nothing cut off is a weight too");
});

test("impossible is refused, unlikely is asked about once, by the limits of the other pages", () => {
	const [, most] = QUANTITIES.pruning_weight.range;
	const over = judge(en, weight(), String(most / 1000 + 1), true);
	assert.ok("fault" in over, "sure or not");
	assert.deepEqual(over.fault, { key: "amount.impossible", words: { least: "0", most: "20\u00a0kg" } });
	// Usual is up to 2 kg a metre of row: 2.4 kg at 1.2 m.
	const odd = judge(en, weight(), "2.5", false);
	assert.ok("ask" in odd);
	assert.deepEqual(odd.ask.words, { value: "2.5\u00a0kg", least: "0", most: "2.4\u00a0kg" });
	assert.ok("value" in judge(en, weight(), "2.5", true));
	assert.ok("value" in judge(en, weight(), "2.4", false));
	assert.ok("value" in judge(en, weight({ spacingM: 0 }), "2.5", false), "without a spacing nobody knows");
	assert.deepEqual(judge(en, weight(), "", false), { fault: { key: "amount.wanted", words: {} } });
});

test("counts are whole, scores stay on their scale", () => {
	const canes = { quantity: "cane_count", unit: "canes", spacingM: 1.2, scale: "" };
	assert.ok("fault" in judge(en, canes, "7.5", false));
	assert.deepEqual(judge(en, canes, "7", false), { value: { quantity: "cane_count", unit: "canes", value: 7 } });
	const score = { quantity: "visual_score", unit: "score", spacingM: 0, scale: "1-5" };
	assert.deepEqual(judge(en, score, "4", false), { value: { quantity: "visual_score", unit: "score", scale: "1-5", value: 4 } });
	assert.ok("ask" in judge(en, score, "6", false));
	assert.equal(decimal("cane_count"), false);
	assert.equal(decimal("yield"), true);
});

test("every quantity has its words and units in all languages", () => {
	for (const { table } of Object.values(LANGUAGES))
		for (const q of BY_HAND) {
			assert.ok(`quantity.${q}` in table, q);
			for (const u of unitsOf(q)) assert.ok(u === "score" || `unit.${u}` in table, u);
		}
	assert.equal(unitFor("pruning_weight", "oz", false), "oz");
	assert.equal(unitFor("yield", "oz", true), "lb", "a unit that it has not: the estate's");
	assert.equal(unitFor("shoot_length", undefined, false), "cm");
	assert.equal(amountText(textsFor("fr"), "pruning_weight", 450, "kg"), "0,45\u00a0kg");
});

/** Row 7 walked from the far end, row 8 from the near one. @type {any} */
const list = { id: "l", season: 2027, block: 1, code: "H3", crew: "", unit: "kg", vine_spacing_m: 1.2, rows: [
	{ row: 7, label: "7", start: "far", last: 12, section: 5, vines: [[10, 110, 1, -1, 0], [4, 104, 6, -1, 0], [2, 102, 1, 300, 0]] },
	{ row: 8, label: "8", start: "near", last: 12, section: 0, vines: [[3, 203, 1, -1, 4], [9, 209, 1, -1, 0]] }] };
let seq = 0;
/** @returns {any} */
const event = (/** @type {string} */ id, /** @type {number} */ row, /** @type {string} */ kind, /** @type {any} */ value, /** @type {number} */ vine) => ({ id, device: "d", seq: ++seq, at: "", season: 2027, block: 1, row, kind, value, vines: [vine] });
const grams = (/** @type {string} */ id, /** @type {number} */ row, /** @type {number} */ vine, /** @type {number} */ value) => event(id, row, "measure", { quantity: "pruning_weight", unit: "g", value }, vine);
const stands = (/** @type {Ledger} */ ledger) => weighSpots(list, ledger).map(standing).join(" ");

test("what this phone weighed lies over what the server said, until it is taken back or refused", () => {
	const ledger = new Ledger([]);
	assert.equal(stands(ledger), "open missing weighed pruned open");
	ledger.add([grams("a", 7, 110, 410), event("b", 8, "condition", { condition: "dead" }, 209)], 0);
	assert.equal(stands(ledger), "weighed missing weighed pruned dead");
	assert.deepEqual(weighTally(weighSpots(list, ledger)), { number: 5, weighed: 2, cannot: 3, open: 0 });
	assert.equal(nextToWeigh(weighSpots(list, ledger), 0), -1);
	ledger.add([grams("c", 7, 110, 420)], 0);
	assert.equal(weighSpots(list, ledger)[0].grams, 420, "the newest");
	ledger.add([event("d", 7, "void", { event: "c" }, 110)], 0);
	assert.equal(weighSpots(list, ledger)[0].grams, 410);
	ledger.refused.add("a");
	assert.equal(stands(ledger), "open missing weighed pruned dead");
	ledger.add([event("e", 7, "measure", { quantity: "cane_count", unit: "canes", value: 9 }, 110), event("f", 7, "pruned", {}, 110)], 0);
	assert.equal(stands(ledger), "open missing weighed pruned dead", "another measure is no weight, and pruning is not asked about here");
});

test("a weight taken back after the list showed it is open until the next list", () => {
	const ledger = new Ledger([]);
	ledger.add([grams("a", 7, 102, 300)], 0);
	ledger.sent(["a"]);
	ledger.cover(ledger.coverage(["a"], 1));
	assert.equal(standing(weighSpots(list, ledger)[2]), "weighed", "by the list");
	ledger.add([event("v", 7, "void", { event: "a" }, 102)], 2);
	assert.equal(standing(weighSpots(list, ledger)[2]), "open");
});

test("the next one is the next open one, round the list once; counted from the end that is named", () => {
	const spots = weighSpots(list, new Ledger([]));
	assert.equal(nextToWeigh(spots, 1), 4);
	assert.equal(nextToWeigh(spots, 5), 0, "what was passed by comes last");
	assert.deepEqual(spots.map(placesIn), [3, 9, 11, 3, 9]);
	assert.deepEqual(slotOf(walkOfWeighRow(spots[0].row), 10), { section: 2, slot: 1, of: 5 });
	assert.equal(slotOf(walkOfWeighRow(spots[3].row), 3), null);
});
