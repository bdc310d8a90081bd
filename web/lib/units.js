// Units at the edge of the page. Everything inside is metric; an estate that
// works in US customary units sees feet, pounds and acres. Factors are exact by
// definition (international yard and pound agreement of 1959; NIST Special
// Publication 811, appendix B): 1 ft = 0.3048 m, 1 lb = 453.59237 g,
// 1 acre = 43,560 square feet; a US ton is 2000 lb. Crops are kept in kg/ha.

const FOOT_M = 0.3048;
const INCH_MM = 25.4;
const POUND_G = 453.59237;
const ACRE_M2 = 43_560 * FOOT_M * FOOT_M;
const HECTARE_M2 = 10_000;

/** @typedef {"area" | "length" | "spacing" | "weight" | "weight_per_m" | "per_area" | "diameter" | "shoot" | "crop"} Amount */

/**
 * What a stored number is multiplied with, and the unit to write after it.
 * @type {Record<Amount, {metric: [number, string, number], us: [number, string, number]}>} factor, unit, decimals
 */
const SCALES = {
	area: { metric: [1 / HECTARE_M2, "ha", 2], us: [1 / ACRE_M2, "ac", 2] },
	length: { metric: [1, "m", 0], us: [1 / FOOT_M, "ft", 0] },
	spacing: { metric: [1, "m", 2], us: [1 / FOOT_M, "ft", 2] },
	weight: { metric: [1 / 1000, "kg", 2], us: [1 / POUND_G, "lb", 2] },
	weight_per_m: { metric: [1 / 1000, "kg/m", 2], us: [FOOT_M / POUND_G, "lb/ft", 2] },
	per_area: { metric: [HECTARE_M2, "/ha", 0], us: [ACRE_M2, "/ac", 0] },
	diameter: { metric: [1, "mm", 1], us: [1 / INCH_MM, "in", 2] },
	crop: { metric: [1 / 1000, "t/ha", 1], us: [ACRE_M2 / HECTARE_M2 / (2 * POUND_G), "tons/ac", 1] },
	shoot: { metric: [1, "cm", 0], us: [10 / INCH_MM, "in", 0] },
};

/**
 * Writes and reads amounts for one estate.
 * @param {{us: boolean, language?: string}} setting
 */
export function unitsFor({ us, language = "en" }) {
	/** @param {Amount} amount */
	const scale = (amount) => SCALES[amount][us ? "us" : "metric"];
	return {
		us,
		/** @param {Amount} amount @returns {string} */
		unit: (amount) => scale(amount)[1],
		/**
		 * The stored number in the estate's unit.
		 * @param {Amount} amount
		 * @param {number} value stored
		 */
		shown: (amount, value) => value * scale(amount)[0],
		/**
		 * What a person typed, in the stored unit.
		 * @param {Amount} amount
		 * @param {number} typed
		 */
		stored: (amount, typed) => typed / scale(amount)[0],
		/**
		 * Number and unit as text, "–" where there is no number.
		 * @param {Amount} amount
		 * @param {number | null | undefined} value stored
		 */
		text(amount, value) {
			if (value === null || value === undefined || !Number.isFinite(value)) return "–";
			const [factor, unit, digits] = scale(amount);
			const number = new Intl.NumberFormat(language, { maximumFractionDigits: digits, minimumFractionDigits: digits });
			return `${number.format(value * factor)}${unit.startsWith("/") ? "" : "\u00a0"}${unit}`;
		},
	};
}

/** @typedef {ReturnType<typeof unitsFor>} Units */

/**
 * A round length for a scale bar that is at most `metres` long.
 * @param {number} metres
 * @param {boolean} us
 * @returns {{metres: number, label: string}}
 */
export function scaleStep(metres, us) {
	let size = us ? metres / FOOT_M : metres;
	let unit = us ? "ft" : "m";
	let inMetres = us ? FOOT_M : 1;
	if (us && size >= 5280) [size, unit, inMetres] = [size / 5280, "mi", FOOT_M * 5280];
	else if (!us && size >= 1000) [size, unit, inMetres] = [size / 1000, "km", 1000];
	const power = 10 ** Math.floor(Math.log10(size));
	const lead = size / power;
	const round = (lead >= 5 ? 5 : lead >= 2 ? 2 : 1) * power;
	return { metres: round * inMetres, label: `${Number(round.toPrecision(3))}\u00a0${unit}` };
}

/**
 * Reads a number as a person types it, with either decimal mark; null where the
 * text is no number. Grouping marks are refused rather than guessed at.
 * @param {string} text
 */
export function readNumber(text) {
	const trimmed = text.trim();
	if (!/^-?\d+([.,]\d+)?$/.test(trimmed)) return null;
	return Number(trimmed.replace(",", "."));
}
