// What can be measured on a vine: in which unit it is kept, in which units it may
// be written, what is impossible and what is only unlikely. Impossible values are
// those the server refuses; the marks of unlikely ones are those it asks about.

/**
 * @typedef {object} Quantity
 * @property {string} unit in which it is kept
 * @property {[number, number]} range beyond which it is impossible, in that unit
 * @property {Record<string, number>} entered units it may be written in, with what each is in the unit kept
 * @property {import("./units.js").Amount} [amount] how it is written where the estate's unit is wanted
 * @property {{least: number, most: number, perMetre?: boolean}} [usual] in the unit kept, or per metre of row
 * @property {boolean} [whole] counts
 */

/** Exact by definition: 1 lb = 453.59237 g, 1 oz = a sixteenth of it, 1 in = 25.4 mm. */
const POUND_G = 453.59237;
const INCH_MM = 25.4;

/** @type {Record<string, Quantity>} */
export const QUANTITIES = {
	pruning_weight: { unit: "g", range: [0, 20_000], entered: { kg: 1000, g: 1, lb: POUND_G, oz: POUND_G / 16 }, amount: "weight", usual: { least: 0, most: 2_000, perMetre: true } },
	cane_count: { unit: "canes", range: [0, 300], entered: { canes: 1 }, usual: { least: 0, most: 60, perMetre: true }, whole: true },
	shoot_count: { unit: "shoots", range: [0, 300], entered: { shoots: 1 }, whole: true },
	cane_diameter: { unit: "mm", range: [0, 60], entered: { mm: 1, in: INCH_MM }, amount: "diameter", usual: { least: 3, most: 20 } },
	shoot_length: { unit: "cm", range: [0, 1_000], entered: { cm: 1, m: 100, in: INCH_MM / 10 }, amount: "shoot", usual: { least: 10, most: 400 } },
	trunk_girth: { unit: "mm", range: [0, 3_000], entered: { mm: 1, cm: 10, in: INCH_MM }, amount: "diameter", usual: { least: 20, most: 800 } },
	visual_score: { unit: "score", range: [0, 100], entered: { score: 1 } },
	yield: { unit: "g", range: [0, 200_000], entered: { kg: 1000, g: 1, lb: POUND_G }, amount: "weight", usual: { least: 0, most: 40_000 } },
	canopy_index: { unit: "index", range: [-1_000_000, 1_000_000], entered: { index: 1 } },
};

/** The unit that is offered first. @param {string} quantity @param {boolean} us */
export function firstUnit(quantity, us) {
	const units = Object.keys(QUANTITIES[quantity].entered);
	return (us && units.find((u) => u === "lb" || u === "in")) || units[0];
}

/**
 * A number as written, in the unit kept, without the digits that arithmetic adds.
 * @param {string} quantity
 * @param {number} typed
 * @param {string} unit
 */
export function kept(quantity, typed, unit) {
	return Number((typed * QUANTITIES[quantity].entered[unit]).toPrecision(10));
}

/**
 * The body of a measure; a unit other than the one kept stays with it.
 * @param {string} quantity
 * @param {number} typed
 * @param {string} unit it was written in
 * @param {string} [scale] of a score or an index
 */
export function measureOf(quantity, typed, unit, scale) {
	const base = QUANTITIES[quantity].unit;
	const word = scale || (unit === base ? "" : unit);
	return { quantity, unit: base, ...(word ? { scale: word } : {}), value: kept(quantity, typed, unit) };
}

/**
 * Between what a value usually lies, in the unit kept; null where it does or where
 * nothing is known.
 * @param {string} quantity
 * @param {number} value in the unit kept
 * @param {{vineSpacingM?: number, scale?: string}} [about] metres of row a vine has; the scale of a score or index
 * @returns {{least: number, most: number} | null}
 */
export function unlikely(quantity, value, { vineSpacingM = 0, scale = "" } = {}) {
	const usual = usualOf(quantity, vineSpacingM, scale);
	return usual && (value < usual.least || value > usual.most) ? usual : null;
}

/** @param {string} quantity @param {number} vineSpacingM @param {string} scale */
function usualOf(quantity, vineSpacingM, scale) {
	const { usual } = QUANTITIES[quantity];
	if (quantity === "visual_score") return scaleEnds(scale);
	if (quantity === "canopy_index") return /^ndvi$/i.test(scale.trim()) ? { least: -1, most: 1 } : null;
	if (!usual) return null;
	if (!usual.perMetre) return usual;
	return vineSpacingM > 0 ? { least: usual.least * vineSpacingM, most: usual.most * vineSpacingM } : null;
}

/** The ends of a scale such as 1-5. @param {string} scale */
function scaleEnds(scale) {
	const ends = /^\s*(\d+(?:\.\d+)?)\s*(?:-|–|to|…)\s*(\d+(?:\.\d+)?)\s*$/.exec(scale);
	return ends ? { least: Number(ends[1]), most: Number(ends[2]) } : null;
}
