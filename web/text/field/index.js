// The languages of the phone page, each by its own name.

import { en } from "./en.js";
import { es } from "./es.js";
import { fr } from "./fr.js";
import { pt } from "./pt.js";

/** @type {Record<string, {name: string, table: import("../../lib/text.js").Table}>} */
export const LANGUAGES = {
	en: { name: "English", table: en },
	es: { name: "Español", table: es },
	fr: { name: "Français", table: fr },
	pt: { name: "Português", table: pt },
};
