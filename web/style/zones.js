// How blocks and rows look by the zones for rates.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const zones = {
	rowClass: byte("zone"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
