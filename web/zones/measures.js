// Amounts of the page in the estate's units. Factors are exact by definition
// (NIST Special Publication 811, appendix B).

/** @typedef {import("../map/app.js").App} App */

const FOOT_M = 0.3048;
const POUND_KG = 0.45359237;
const GALLON_L = 3.785411784;

/** @param {App} app */
export const metres = (app) => (app.units.us ? { factor: 1 / FOOT_M, word: "ft" } : { factor: 1, word: "m" });
/** @param {App} app */
export const squares = (app) => (app.units.us ? { factor: 1 / FOOT_M ** 2, word: "sq ft" } : { factor: 1, word: "m²" });

/** The unit of totals: kg, l or pieces. @param {App} app @param {string} measure */
export function amountUnit(app, measure) {
	if (measure === "kg") return app.units.us ? { factor: 1 / POUND_KG, word: "lb" } : { factor: 1, word: "kg" };
	if (measure === "l") return app.units.us ? { factor: 1 / GALLON_L, word: "gal" } : { factor: 1, word: "l" };
	return { factor: 1, word: app.t("zones.pieces") };
}

/** What a rate of this unit measures out. @param {string} unit */
export function measureOf(unit) {
	if (/^(kg|t|g|lb|ton)\//.test(unit)) return "kg";
	if (/^(1\/|shoots)/.test(unit)) return "pieces";
	return "l";
}

/** A total as text. @param {App} app @param {number} n @param {string} measure */
export function amount(app, n, measure) {
	const { factor, word } = amountUnit(app, measure);
	const v = n * factor;
	return `${app.t.number(v, Math.abs(v) < 10 ? 2 : Math.abs(v) < 1000 ? 1 : 0).replace("-", "\u2212")}\u00a0${word}`;
}

/** A rate as text: four digits that count. @param {App} app @param {number} n @param {string} unit */
export function rateText(app, n, unit) {
	return `${rateNumber(app, n)}\u00a0${unit}`;
}

/** @param {App} app @param {number} n */
export function rateNumber(app, n) {
	return new Intl.NumberFormat(app.t.language, { maximumSignificantDigits: 4 }).format(n);
}
