// How blocks and rows look by gaps and their replacement.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const replants = {
	rowClass: byte("replant"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
