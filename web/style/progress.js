// How blocks and rows look by the progress of an operation.

import { classColour, get } from "./expr.js";

const NOT_STARTED = 0;
const STARTED = 1;
const DONE = 2;

/** @type {import("./theme.js").ThemeStyle} */
export const progress = {
	rowClass: get("progress"),
	blockColour: (legend, ground, inks) => classColour(state(), legend, ground, inks.raised),
	blockLine: (t) => ["concat", ["to-string", ["floor", ["/", ["*", 100, get("done")], ["max", 1, get("to_prune")]]]], `% ${t("map.done")}`],
};

/** A block is done when every living vine is. @returns {import("./expr.js").Expression} */
function state() {
	return ["case", ["<=", get("done"), 0], NOT_STARTED, [">=", get("done"), get("to_prune")], DONE, STARTED];
}
