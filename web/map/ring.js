// A ring around the vine that is looked at. It stays until the vine is dismissed;
// the arrow keys walk it along the row and to the rows beside.

import { lonOf, latOf, neighbourTowards } from "../lib/ground.js";
import { lookAt, vineInHand } from "./acts.js";
import { h } from "./dom.js";
import { Marker } from "./maplibre.js";

/** @typedef {import("./app.js").App} App */

/** @type {Record<string, [east: number, south: number]>} on the screen */
const ARROWS = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] };

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 */
export function mountRing(app, map) {
	const marker = new Marker({ element: h("div", { class: "ring", "aria-hidden": "true" }), opacityWhenCovered: "1" });
	let shown = false;
	const place = () => {
		const hand = vineInHand(app);
		if (hand) marker.setLngLat([lonOf(hand.stand.wx[hand.index]), latOf(hand.stand.wy[hand.index])]);
		if (hand && !shown) marker.addTo(map);
		if (!hand && shown && app.view.get().vine === null) marker.remove();
		shown = hand !== null || (shown && app.view.get().vine !== null);
	};
	app.view.on((now, old) => {
		if (now.vine !== old.vine) place();
	});
	app.stands.on(({ fresh }) => {
		if (fresh) place();
	});
	map.on("load", place);
	map.getCanvas().addEventListener("keydown", (e) => walk(app, map, e), { capture: true });
	return {
		/** For a vine whose block is not loaded yet. @param {number} lon @param {number} lat */
		placeAt(lon, lat) {
			marker.setLngLat([lon, lat]);
			if (!shown) marker.addTo(map);
			shown = true;
		},
	};
}

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {KeyboardEvent} e
 */
function walk(app, map, e) {
	const arrow = ARROWS[e.key];
	const hand = arrow && vineInHand(app);
	if (!hand || e.ctrlKey || e.altKey || e.metaKey) return;
	e.preventDefault();
	e.stopPropagation();
	const turn = (map.getBearing() * Math.PI) / 180;
	const east = arrow[0] * Math.cos(turn) - arrow[1] * Math.sin(turn);
	const south = arrow[0] * Math.sin(turn) + arrow[1] * Math.cos(turn);
	const to = neighbourTowards(hand.stand, hand.index, east, south);
	if (to >= 0) lookAt(app, hand.stand.id[to]);
}
