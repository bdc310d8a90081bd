// An amount as it is typed on the phone: digits with one decimal mark, judged by
// the same limits as on the pages in the office. Pure.

import { QUANTITIES, firstUnit, kept, measureOf, unlikely } from "../lib/measures.js";
import { readNumber } from "../lib/units.js";

/**
 * @typedef {{quantity: string, unit: string, spacingM: number, scale: string}} What is typed: unit it is written in, metres of row a vine has, scale of a score
 * @typedef {{key: string, words: Record<string, string>}} Said a text with its words
 * @typedef {{value: Record<string, any>} | {fault: Said} | {ask: Said}} Judged the body of a measure, why there is none, or what is to be asked first
 */

/** So many digits are more than any scales show. */
const MOST_DIGITS = 7;

/** What was measured on a vine by hand or by eye, in the order of how often. */
export const BY_HAND = ["pruning_weight", "cane_count", "cane_diameter", "shoot_length", "trunk_girth", "visual_score", "yield"];

/** Scales that a score may be on where the estate has none. */
export const SCALES = ["1-5", "1-9", "0-10"];

/**
 * What is typed after one more key; "back" takes the last away.
 * @param {string} typed with a point as its mark
 * @param {string} key "0" to "9", "." or "back"
 */
export function pressed(typed, key) {
	if (key === "back") return typed.slice(0, -1);
	if (key === ".") return typed.includes(".") ? typed : `${typed || "0"}.`;
	if (typed.replace(".", "").length >= MOST_DIGITS) return typed;
	return typed === "0" ? key : typed + key;
}

/** The number typed; null where there is none yet. @param {string} typed */
export const numberOf = (typed) => readNumber(typed.replace(/\.$/, ""));

/**
 * @param {import("./texts.js").FieldTexts} t
 * @param {What} what
 * @param {string} typed
 * @param {boolean} sure asked before, and meant
 * @returns {Judged}
 */
export function judge(t, what, typed, sure) {
	const { quantity, unit, spacingM, scale } = what;
	const n = numberOf(typed);
	if (n === null) return { fault: { key: "amount.wanted", words: {} } };
	const q = QUANTITIES[quantity];
	if (q.whole && !Number.isInteger(n)) return { fault: { key: "amount.whole", words: {} } };
	const value = kept(quantity, n, unit);
	const [least, most] = q.range;
	if (value < least || value > most) return { fault: { key: "amount.impossible", words: { least: numberText(t, quantity, least, unit), most: amountText(t, quantity, most, unit) } } };
	const odd = sure ? null : unlikely(quantity, value, { vineSpacingM: spacingM, scale });
	if (odd) return { ask: { key: "amount.unlikely", words: { value: amountText(t, quantity, value, unit), least: numberText(t, quantity, odd.least, unit), most: amountText(t, quantity, odd.most, unit) } } };
	return { value: measureOf(quantity, n, unit, scale) };
}

/**
 * A value with its unit, as short as it tells.
 * @param {import("./texts.js").FieldTexts} t
 * @param {string} quantity
 * @param {number} value in the unit kept
 * @param {string} unit to write it in
 */
export function amountText(t, quantity, value, unit) {
	const text = numberText(t, quantity, value, unit);
	return unit === "score" ? text : `${text}\u00a0${t(`unit.${unit}`)}`;
}

/** @param {import("./texts.js").FieldTexts} t @param {string} quantity @param {number} value @param {string} unit */
function numberText(t, quantity, value, unit) {
	const n = value / QUANTITIES[quantity].entered[unit];
	return t.number(n, n >= 100 ? 0 : n >= 10 ? 1 : 2);
}

/** Units that a quantity may be written in. @param {string} quantity */
export const unitsOf = (quantity) => Object.keys(QUANTITIES[quantity].entered);

/** The unit chosen last, else the estate's. @param {string} quantity @param {string | undefined} last @param {boolean} us */
export const unitFor = (quantity, last, us) => (last && unitsOf(quantity).includes(last) ? last : firstUnit(quantity, us));

/** Whether a decimal mark can be meant. @param {string} quantity */
export const decimal = (quantity) => !QUANTITIES[quantity].whole;
