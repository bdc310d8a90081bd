// Texts of sheets on paper in a crew's language: the phone's words and those that
// only sheets have.

import { textsIn } from "../lib/text.js";
import { LANGUAGES } from "../text/field/index.js";
import { en } from "../text/sheet/en.js";
import { es } from "../text/sheet/es.js";
import { fr } from "../text/sheet/fr.js";
import { pt } from "../text/sheet/pt.js";

/** @type {Record<string, import("../lib/text.js").Table>} */
export const SHEETS = { en, es, fr, pt };

/** The usual one where a crew has none of its own. */
const USUAL = "en";

/** @param {string} language */
export function sheetTexts(language) {
	const known = SHEETS[language] ? language : USUAL;
	return textsIn({ ...LANGUAGES[known].table, ...SHEETS[known] }, known);
}
