// How blocks and rows look by condition.

import { get } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const condition = {
	rowClass: get("condition"),
	// A block's word is how many places are empty: one colour for the whole would
	// have to hide most of its vines.
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t) => ["concat", get("gaps"), ` ${t("map.gaps")}`],
};
