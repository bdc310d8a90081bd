// The style of the map: blocks, pieces of row and labels, for one theme on one
// ground. Vines are not in it; they have a layer of their own.

import { byZoom, classColour, get, pick } from "./expr.js";
import { GROUNDS } from "./ground.js";
import { outlinePaints } from "./patches.js";
import { THEME_STYLES } from "./theme.js";
import { zoneLayers, zonePaints } from "./zones.js";

/**
 * @typedef {import("../map/maplibre.js").StyleSpecification} Style
 * @typedef {import("../map/maplibre.js").LayerSpecification} Layer
 * @typedef {import("../lib/model.js").Theme} Theme
 *
 * @typedef {object} Look
 * @property {Theme} theme
 * @property {import("../lib/model.js").Legend} legend
 * @property {import("./ground.js").GroundName} ground
 * @property {number | null} only
 * @property {boolean} picture a base map lies under the blocks
 * @property {(key: string) => string} words
 * @property {[number, string][]} told what findings say of blocks, by block id
 * @property {boolean} outlines patches are outlined
 * @property {{id: string, block: string} | null} patch looked at
 */

const FONT = ["Noto Sans"];

/** Dashes of row lines by the legend's word, in line widths. */
const SOLID = [1, 0];
/** @type {Record<string, number[]>} */
const DASHES = { solid: SOLID, dashed: [3, 1.5], dotted: [0.6, 1.6], dashdot: [3, 1, 0.6, 1] };

/** Rows as coloured pieces up to here, single vines beyond. */
export const PIECES_UNTIL = 16;
const PIECES_FROM = 13;

/** Deeper tiles hold single vines, which this page draws from stands. */
export const TILES_UNTIL = 15;

/** No class of any theme has this byte: asked for alone, neither rows nor vines are drawn. */
export const NO_CLASS = 255;

/** The layer below which the vines are put in. */
export const VINES_BEFORE = "patch-areas";

/** Outlines of patches are in the tiles from here on. */
const PATCHES_FROM = 12;

/** They follow the ground of single vines: farther out they would be scribble over the rows, whose colour says it. */
const OUTLINES_FROM = 15.5;

/**
 * @param {string} tiles address of a season's tiles
 * @param {[number, number, number, number] | null} bounds
 * @param {import("../lib/model.js").BaseMap | null} base
 * @param {Look} look
 * @returns {Style}
 */
export function mapStyle(tiles, bounds, base, look) {
	const fonts = new URL("../vendor/noto-sans-5.3.0/", import.meta.url).href;
	/** @type {Style} */
	const style = {
		version: 8,
		"font-faces": {
			"Noto Sans": [
				{ url: `${fonts}noto-sans-latin-ext-400-normal.woff2`, "unicode-range": ["U+0100-02BA", "U+1E00-1E9F", "U+1EF2-1EFF", "U+20A0-20AB", "U+2C60-2C7F", "U+A720-A7FF"] },
				{ url: `${fonts}noto-sans-latin-400-normal.woff2`, "unicode-range": ["U+0000-00FF", "U+2000-206F", "U+20AC", "U+2212"] },
			],
		},
		sources: {
			estate: { type: "vector", tiles: [tiles], minzoom: 0, maxzoom: TILES_UNTIL, ...(bounds ? { bounds: widened(bounds) } : {}) },
			"patch-points": { type: "geojson", data: { type: "FeatureCollection", features: [] } },
			"row-ends": { type: "geojson", data: { type: "FeatureCollection", features: [] } },
		},
		layers: layers(look),
	};
	if (base) {
		style.sources.base = { type: "raster", tiles: [new URL(base.tiles, location.origin).href.replaceAll("%7B", "{").replaceAll("%7D", "}")], tileSize: 256, maxzoom: base.max_zoom ?? 19 };
	}
	return style;
}

/** @param {[number, number, number, number]} b @returns {[number, number, number, number]} */
function widened([w, s, e, n]) {
	return [w - 0.01, s - 0.01, e + 0.01, n + 0.01];
}

/** @param {Look} look @returns {Layer[]} */
function layers(look) {
	const paints = paintsOf(look);
	const [zoneAreas, zoneLines, zoneWords] = zoneLayers(paints, FONT);
	/** @type {Layer[]} */
	const list = [
		{ id: "ground", type: "background", paint: paints.ground },
		{ id: "blocks", type: "fill", source: "estate", "source-layer": "blocks", maxzoom: PIECES_FROM, paint: paints.blocks },
		{ id: "blocks-near", type: "fill", source: "estate", "source-layer": "blocks", minzoom: PIECES_FROM, paint: paints["blocks-near"] },
		zoneAreas,
		zoneLines,
		{ id: "block-lines", type: "line", source: "estate", "source-layer": "blocks", layout: { "line-join": "round" }, paint: paints["block-lines"] },
		{ id: "row-axes", type: "line", source: "estate", "source-layer": "rows", minzoom: PIECES_UNTIL, paint: paints["row-axes"] },
		{ id: "pieces", type: "line", source: "estate", "source-layer": "rows", minzoom: PIECES_FROM, maxzoom: PIECES_UNTIL, paint: paints.pieces },
		{ id: "pieces-waiting", type: "line", source: "estate", "source-layer": "rows", minzoom: PIECES_UNTIL, paint: paints["pieces-waiting"] },
		{ id: "patch-areas", type: "fill", source: "estate", "source-layer": "patches", minzoom: PATCHES_FROM, paint: paints["patch-areas"] },
		{ id: "patch-casings", type: "line", source: "estate", "source-layer": "patches", minzoom: OUTLINES_FROM, layout: { "line-join": "round" }, paint: paints["patch-casings"] },
		{ id: "patch-lines", type: "line", source: "estate", "source-layer": "patches", minzoom: OUTLINES_FROM, layout: { "line-join": "round" }, paint: paints["patch-lines"] },
		{
			id: "row-labels", type: "symbol", source: "row-ends", minzoom: 16.5,
			layout: { "text-field": get("label"), "text-font": FONT, "text-size": byZoom([16.5, 11], [19, 15]), "text-padding": 3, "text-anchor": "center" },
			paint: paints["row-labels"],
		},
		zoneWords,
		{
			id: "patch-words", type: "symbol", source: "patch-points", minzoom: 15.2,
			layout: { "text-font": FONT, "text-size": byZoom([15, 11], [18, 16]), "text-field": get("words"), "text-max-width": 9, "text-padding": 1 },
			paint: paints["patch-words"],
		},
		{
			// What stands later in this list takes its room first: codes always, then what the theme says of blocks, then patches.
			id: "block-words", type: "symbol", source: "estate", "source-layer": "block_labels", minzoom: 13.5, maxzoom: 16.5,
			layout: { "text-font": FONT, "text-size": byZoom([12, 10], [16, 15]), "text-padding": 1, "text-field": blockWords(look), "text-max-width": 14, "text-anchor": "top", "text-offset": [0, 0.4] },
			paint: paints["block-words"],
		},
		{
			id: "block-labels", type: "symbol", source: "estate", "source-layer": "block_labels", maxzoom: 16.5,
			layout: { "text-font": FONT, "text-size": byZoom([12, 12], [16, 17]), "text-field": get("code"), "text-anchor": "bottom", "text-offset": [0, 0.2], "text-allow-overlap": true, "text-padding": 0 },
			paint: paints["block-labels"],
		},
	];
	if (look.picture) list.splice(1, 0, { id: "base", type: "raster", source: "base" });
	return list;
}

/** @param {Look} look @returns {any} */
export function blockWords(look) {
	const told = look.told.length ? pick(get("id"), look.told, "") : "";
	return THEME_STYLES[look.theme].blockLine(look.words, told);
}

/**
 * The paint of every layer by its id.
 * @param {Look} look
 * @returns {Record<string, any>}
 */
export function paintsOf({ theme, legend, ground, only, picture, outlines, patch }) {
	const inks = GROUNDS[ground];
	const style = THEME_STYLES[theme];
	const shown = only === null ? 1 : /** @type {any} */ (["case", ["==", style.rowClass, only], 1, 0]);
	const halo = { "text-color": inks.ink, "text-halo-color": inks.ground, "text-halo-width": 2 };
	const pieces = {
		"line-color": classColour(style.rowClass, legend, ground, inks.muted),
		"line-width": byZoom([13, 0.5], [14, 0.9], [15, 1.6], [16, 2.8], [18, 6]),
		"line-dasharray": pick(style.rowClass, legend.classes.map((c) => [c.code, ["literal", DASHES[c.line] ?? SOLID]]), ["literal", SOLID]),
		"line-opacity": shown,
	};
	return {
		ground: { "background-color": inks.ground },
		blocks: { "fill-color": style.blockColour(legend, ground, inks) },
		"blocks-near": { "fill-color": inks.raised, "fill-opacity": picture ? 0 : 1 },
		"block-lines": { "line-color": inks.line, "line-width": byZoom([10, 0.6], [16, 1.4], [20, 2]) },
		"row-axes": { "line-color": inks.faint, "line-width": 1, "line-opacity": only === NO_CLASS ? 0 : 1 },
		pieces,
		"pieces-waiting": pieces,
		"row-labels": halo,
		"block-labels": halo,
		"block-words": halo,
		...zonePaints(theme === "zones", legend, ground, inks, only),
		...outlinePaints(inks, outlines, patch?.id ?? null, patch?.block ?? null),
	};
}
