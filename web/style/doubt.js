// How blocks and rows look by how sure their vigour is.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const doubt = {
	rowClass: byte("doubt"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
