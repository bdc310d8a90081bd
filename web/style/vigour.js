// How blocks and rows look by vigour: their mean class.

import { classColour, get } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const vigour = {
	rowClass: get("vigour"),
	blockColour: (legend, ground, inks) => classColour(["round", get("vigour")], legend, ground, inks.raised),
	blockLine: (t) => ["case", [">", get("vigour"), 0], ["concat", `${t("map.mean_class")} `, ["number-format", get("vigour"), { "max-fraction-digits": 1 }]], t("map.not_measured")],
};
