// How blocks and rows look by patches, and the outlines of these: a tested patch
// has an unbroken line or long dashes, an area that is only likely weak has dots.

import { byZoom, byte, get, pick } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const patches = {
	rowClass: byte("patch"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};

/** Dashes of outlines by the kind of patch, in line widths. @type {Record<string, number[]>} */
export const OUTLINES = { weak: [1, 0], strong: [4, 1.6], likely: [0.4, 1.8] };

/**
 * Paints of the outlines; not seen where they are not wanted.
 * @param {import("./ground.js").Ground} inks
 * @param {boolean} shown
 * @param {string | null} chosen the tiles' id of the patch looked at
 * @param {string | null} block its block's code
 * @returns {Record<string, any>}
 */
export function outlinePaints(inks, shown, chosen, block) {
	const opacity = shown ? 1 : 0;
	const mine = /** @type {any} */ (["all", ["==", ["to-string", get("id")], chosen ?? ""], ["==", get("block"), block ?? ""]]);
	/**
	 * Widths far out and near, of the patch looked at and of the others. Outlines
	 * follow single vines: thick lines would hide them until these are well apart.
	 * @param {...number} w
	 */
	const wide = (...w) => byZoom([16.5, /** @type {any} */ (["case", mine, w[0], w[2]])], [19, /** @type {any} */ (["case", mine, w[1], w[3]])]);
	return {
		"patch-areas": { "fill-color": inks.ink, "fill-opacity": ["case", mine, shown ? 0.12 : 0, 0] },
		"patch-casings": { "line-color": inks.ground, "line-opacity": opacity, "line-width": wide(3, 8, 1.2, 4.6) },
		"patch-lines": {
			"line-color": inks.ink, "line-opacity": opacity, "line-width": wide(1.4, 4, 0.6, 2.1),
			"line-dasharray": pick(get("kind"), Object.entries(OUTLINES).map(([kind, dashes]) => /** @type {any} */ ([kind, ["literal", dashes]])), ["literal", OUTLINES.weak]),
		},
		"patch-words": { "text-color": inks.ink, "text-halo-color": inks.ground, "text-halo-width": 2.5, "text-opacity": opacity },
	};
}
