// The fields of a measure: what was measured, in which unit, and its value, kept
// as it was written. Canes may be counted by thickness.

import { QUANTITIES, firstUnit, kept, measureOf } from "../lib/measures.js";
import { readNumber } from "../lib/units.js";
import { keptText } from "./app.js";
import { h } from "./dom.js";
import { Slip, field, rawOf, select, text, whole } from "./field.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./field.js").Field} Field
 * @typedef {import("../lib/records.js").Fact} Fact
 */

/** Canes counted by thickness: not a quantity of its own, but two. */
export const BY_CLASS = "canes_by_class";

/** Classes of diameters, mm, and what a cane of each counts for in the mean: its middle. */
const CLASSES = /** @type {const} */ ([[4, 6], [6, 8], [8, 10], [10, 12], [12, 15]]);

/** Which unit was chosen last for a quantity; kept by the browser. @param {string} quantity */
const keptUnit = (quantity) => keptText(`courson.unit.${quantity}`);

/** @param {App} app @param {string} id @param {() => void} redraw @param {Field[]} before @returns {Field[]} */
export function measureFields(app, id, redraw, before) {
	const { t } = app;
	const chosen = rawOf(before, "quantity") ?? "pruning_weight";
	const single = id === "vine";
	const names = [...Object.keys(QUANTITIES), ...(single ? [BY_CLASS] : [])].map((q) => /** @type {[string, string]} */ ([q, t(`quantity.${q}`)]));
	const quantity = field(app, id, "quantity", t("record.quantity"), select(names, chosen, redraw), text);
	if (chosen === BY_CLASS) return [quantity, ...classFields(app, id)];
	return [quantity, ...unitField(app, id, chosen, rawOf(before, "unit")), valueField(app, id, chosen), ...scaleField(app, id, chosen)];
}

/** @param {App} app @param {string} id */
function classFields(app, id) {
	return CLASSES.map(([from, to], k) =>
		field(app, id, `class${k}`, app.t("record.canes_between", { from: app.units.text("diameter", from), to: app.units.text("diameter", to) }), h("input", { inputmode: "numeric" }), whole(app, 0, 300, 4)));
}

/** @param {App} app @param {string} id @param {string} quantity @param {string | undefined} before @returns {Field[]} */
function unitField(app, id, quantity, before) {
	const units = Object.keys(QUANTITIES[quantity].entered);
	if (units.length < 2) return [];
	const last = before ?? keptUnit(quantity).get();
	const control = select(units.map((u) => /** @type {[string, string]} */ ([u, app.t(`unit.${u}`)])), units.includes(last) ? last : firstUnit(quantity, app.units.us));
	control.addEventListener("change", () => keptUnit(quantity).set(control.value));
	return [field(app, id, "unit", app.t("record.unit"), control, text)];
}

/** @param {App} app @param {string} id @param {string} quantity */
function valueField(app, id, quantity) {
	const { t } = app;
	const control = h("input", { inputmode: "decimal" });
	return field(app, id, "value", t("record.value"), control, (typed) => {
		if (!typed) throw new Slip(t("record.missing"));
		const n = readNumber(typed);
		if (n === null) throw new Slip(t("record.wrong_number", { example: t.number(1.25, 2) }));
		const { range, whole: counts, entered } = QUANTITIES[quantity];
		if (counts && !Number.isInteger(n)) throw new Slip(t("record.wrong_whole", { example: 12 }));
		const unit = unitIn(id, quantity);
		const value = kept(quantity, n, unit);
		if (value < range[0] || value > range[1]) throw new Slip(t("record.wrong_range", { from: t.number(range[0] / entered[unit], 1), to: t.number(range[1] / entered[unit], 1) }));
		return n;
	});
}

/** The unit chosen in the form. @param {string} id @param {string} quantity */
function unitIn(id, quantity) {
	const control = /** @type {HTMLSelectElement | null} */ (document.getElementById(`${id}-unit`));
	return control?.value ?? Object.keys(QUANTITIES[quantity].entered)[0];
}

/** @param {App} app @param {string} id @param {string} quantity @returns {Field[]} */
function scaleField(app, id, quantity) {
	if (quantity !== "visual_score" && quantity !== "canopy_index") return [];
	const control = h("input", { maxlength: "40" });
	control.value = quantity === "visual_score" ? app.estate.score_scale : "NDVI";
	return [field(app, id, "scale", app.t(`record.scale_${quantity}`), control, (typed) => {
		if (!typed) throw new Slip(app.t("record.missing"));
		return typed;
	})];
}

/**
 * What is in the fields as facts.
 * @param {Record<string, any>} read by field
 * @returns {Fact[]}
 */
export function measureFacts(read) {
	const { quantity, unit, value, scale } = read;
	if (quantity !== BY_CLASS) return [{ kind: "measure", value: measureOf(quantity, value, unit ?? Object.keys(QUANTITIES[quantity].entered)[0], scale) }];
	const counts = CLASSES.map((_, k) => read[`class${k}`]);
	return counts.some((n) => n !== undefined) ? canesByClass(counts.map((n) => n ?? 0)) : [];
}

/**
 * Canes counted by thickness: how many there are, as they were counted, and their
 * mean diameter from the middles of the classes.
 * @param {number[]} counts
 * @returns {Fact[]}
 */
export function canesByClass(counts) {
	const all = counts.reduce((a, b) => a + b, 0);
	/** @type {Fact[]} */
	const facts = [{ kind: "measure", value: { quantity: "cane_count", unit: "canes", classes: CLASSES.map(([from, to]) => `${from}-${to} mm`), counts: [counts], values: [all] } }];
	if (!all) return facts;
	const mean = counts.reduce((sum, n, k) => sum + (n * (CLASSES[k][0] + CLASSES[k][1])) / 2, 0) / all;
	facts.push({ kind: "measure", value: { quantity: "cane_diameter", unit: "mm", scale: "from classes", value: Number(mean.toFixed(2)) } });
	return facts;
}
