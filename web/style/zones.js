// How blocks and rows look by the zones for rates, and the ground of these: filled
// far out, only outlined where vines are told apart, with its number in it.

import { byZoom, byte, classColour, get } from "./expr.js";

/** @type {import("./theme.js").ThemeStyle} */
export const zones = {
	rowClass: byte("zone"),
	blockColour: (legend, ground, inks) => inks.raised,
	blockLine: (t, told) => told,
};

/** The tiles have the ground of zones from here on. */
const ZONES_FROM = 11;

/** @returns {import("../map/maplibre.js").LayerSpecification[]} */
export function zoneLayers(/** @type {Record<string, any>} */ paints, /** @type {string[]} */ font) {
	/** @type {any} */
	const of = { source: "estate", "source-layer": "zones" };
	return [
		{ id: "zone-areas", type: "fill", ...of, minzoom: ZONES_FROM, paint: paints["zone-areas"] },
		{ id: "zone-lines", type: "line", ...of, minzoom: 13, layout: { "line-join": "round" }, paint: paints["zone-lines"] },
		{ id: "zone-words", type: "symbol", ...of, minzoom: 15.5, layout: { "text-font": font, "text-size": byZoom([15.5, 11], [18, 16]), "text-field": ["to-string", get("zone")], "text-padding": 12 }, paint: paints["zone-words"] },
	];
}

/**
 * Paints of the ground of zones; not seen in other themes.
 * @param {boolean} shown
 * @param {import("./expr.js").Legend} legend
 * @param {import("./ground.js").GroundName} ground
 * @param {import("./ground.js").Ground} inks
 * @param {number | null} only the class that is looked at
 * @returns {Record<string, any>}
 */
export function zonePaints(shown, legend, ground, inks, only) {
	const of = (/** @type {number} */ most) => (!shown ? 0 : only === null ? most : ["case", ["==", get("zone"), only], most, 0]);
	/** Rows show over it, later vines. @type {any[]} */
	const fading = [[12.5, of(1)], [14.5, of(0.45)], [17, of(0.15)]];
	return {
		"zone-areas": { "fill-color": shown ? classColour(get("zone"), legend, ground, inks.raised) : inks.raised, "fill-opacity": byZoom(.../** @type {[number, any][]} */ (fading)) },
		"zone-lines": { "line-color": inks.ink, "line-opacity": of(1), "line-width": byZoom([13, 0.4], [16, 1], [19, 2]) },
		"zone-words": { "text-color": inks.ink, "text-halo-color": inks.ground, "text-halo-width": 2, "text-opacity": of(1) },
	};
}
