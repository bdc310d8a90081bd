// How blocks and rows look by the jobs that wait for shoot thinning.

import { byte } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const followUps = {
	rowClass: byte("follow"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};
