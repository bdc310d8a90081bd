// How blocks and rows look by the nodes that the plan leaves.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const load = {
	rowClass: byte("load"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
