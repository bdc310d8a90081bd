// How blocks and rows look by how their vigour changed since an earlier season.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const change = {
	rowClass: byte("change"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
