// Small things that the phone remembers: language, name, crew, hand, position, units.

/** @typedef {{language: string, name: string, crew: string | null, hand: "right" | "left", gps: boolean, code: string, units: Record<string, string>, scale: string}} Settings units: chosen last, by quantity; scale: of scores, where the estate has none */

const KEY = "courson.field";
/** @type {Settings} */
const FIRST = { language: "", name: "", crew: null, hand: "right", gps: false, code: "", units: {}, scale: "" };

/** @returns {Settings} */
export function readSettings() {
	try {
		return { ...FIRST, ...JSON.parse(localStorage.getItem(KEY) ?? "{}") };
	} catch {
		return { ...FIRST };
	}
}

/** @param {Settings} settings @returns {boolean} false where the browser keeps nothing */
export function keepSettings(settings) {
	try {
		localStorage.setItem(KEY, JSON.stringify(settings));
		return true;
	} catch {
		return false;
	}
}

/** A text kept under a name; "" where there is none. @param {string} key */
export function keptWord(key) {
	try {
		return localStorage.getItem(key) ?? "";
	} catch {
		return "";
	}
}

/** @param {string} key @param {string} word */
export function keepWord(key, word) {
	try {
		localStorage.setItem(key, word);
	} catch {
		// It lasts as long as the page then.
	}
}

/** This phone's name among all that record; one for all pages of this browser. */
export function deviceName() {
	const known = keptWord("courson.device");
	if (known) return known;
	const made = `page-${Array.from(crypto.getRandomValues(new Uint8Array(6)), (b) => b.toString(16).padStart(2, "0")).join("")}`;
	keepWord("courson.device", made);
	return made;
}
