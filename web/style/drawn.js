// How blocks and rows that are being drawn look on the map, over everything else:
// strong lines with an edge, so that they stand out against any ground.

import { byZoom, get } from "./expr.js";
import { GROUNDS } from "./ground.js";

/** @typedef {import("../map/maplibre.js").LayerSpecification} Layer */

/** Lines that somebody draws; the colour of links on each ground. */
const PEN = { light: "#0b5fa5", dark: "#8cc4ff" };
const FONT = ["Noto Sans"];

/** @param {string} kind */
const only = (kind) => /** @type {any} */ (["==", ["get", "kind"], kind]);

/** @param {import("./ground.js").GroundName} ground @returns {Layer[]} */
export function drawnLayers(ground) {
	const inks = GROUNDS[ground];
	const pen = PEN[ground];
	const text = { "text-color": inks.ink, "text-halo-color": inks.ground, "text-halo-width": 2 };
	const round = /** @type {const} */ ({ "line-join": "round", "line-cap": "round" });
	return [
		{ id: "made-goes", type: "fill", source: "made", filter: only("goes"), paint: { "fill-color": pen, "fill-opacity": 0.3 } },
		{ id: "made-outline", type: "line", source: "made", filter: only("outline"), layout: round, paint: { "line-color": inks.ink, "line-width": 2 } },
		{ id: "made-rows", type: "line", source: "made", filter: only("row"), layout: round, paint: { "line-color": pen, "line-width": byZoom([14, 0.6], [17, 1.4], [20, 2.5]) } },
		{ id: "made-vines", type: "circle", source: "made", filter: only("vine"), minzoom: 17.5, paint: { "circle-color": pen, "circle-radius": byZoom([17.5, 1.6], [21, 5]), "circle-stroke-color": inks.ground, "circle-stroke-width": 0.8 } },
		{ id: "made-first", type: "circle", source: "made", filter: only("first"), minzoom: 16, paint: { "circle-color": inks.ground, "circle-radius": byZoom([16, 2.5], [20, 6]), "circle-stroke-color": inks.ink, "circle-stroke-width": 1.6 } },
		{ id: "made-labels", type: "symbol", source: "made", filter: only("first"), minzoom: 16, layout: { "text-field": get("label"), "text-font": FONT, "text-size": byZoom([16, 10], [20, 15]), "text-anchor": "bottom", "text-offset": [0, -0.5], "text-padding": 1 }, paint: text },
		{ id: "made-codes", type: "symbol", source: "made", filter: only("code"), layout: { "text-field": get("label"), "text-font": FONT, "text-size": 20, "text-allow-overlap": true }, paint: text },
		{ id: "pen-area", type: "fill", source: "pen", filter: only("area"), paint: { "fill-color": pen, "fill-opacity": 0.18 } },
		{ id: "pen-casing", type: "line", source: "pen", filter: only("line"), layout: round, paint: { "line-color": inks.ground, "line-width": 6 } },
		{ id: "pen-line", type: "line", source: "pen", filter: only("line"), layout: round, paint: { "line-color": pen, "line-width": 3 } },
		{ id: "pen-points", type: "circle", source: "pen", filter: only("point"), paint: { "circle-color": pen, "circle-radius": 6, "circle-stroke-color": inks.ground, "circle-stroke-width": 2 } },
		{ id: "pen-numbers", type: "symbol", source: "pen", filter: only("point"), layout: { "text-field": get("number"), "text-font": FONT, "text-size": 13, "text-anchor": "bottom", "text-offset": [0, -0.7], "text-allow-overlap": true }, paint: text },
	];
}
