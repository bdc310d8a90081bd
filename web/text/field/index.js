// The languages of the phone page, each by its own name.

import { en } from "./en.js";
import { es } from "./es.js";
import { fr } from "./fr.js";
import { pt } from "./pt.js";
import { WEIGHING_TEXTS as more } from "./weighing.js";

/** @type {Record<string, {name: string, table: import("../../lib/text.js").Table}>} */
export const LANGUAGES = {
	en: { name: "English", table: { ...en, ...more.en } },
	es: { name: "Español", table: { ...es, ...more.es } },
	fr: { name: "Français", table: { ...fr, ...more.fr } },
	pt: { name: "Português", table: { ...pt, ...more.pt } },
};
