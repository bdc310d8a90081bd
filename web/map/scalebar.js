// The scale bar: metres, or feet where the estate works in them.

import { metresPerUnit, unitsPerPixel } from "../lib/ground.js";
import { scaleStep } from "../lib/units.js";
import { h } from "./dom.js";

const LONGEST_PX = 120;

/**
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {HTMLElement} place
 * @param {boolean} us
 */
export function mountScale(map, place, us) {
	const bar = h("div", { class: "scale" });
	place.append(bar);
	const draw = () => {
		const perPixel = unitsPerPixel(map.getZoom()) * metresPerUnit(map.getCenter().lat);
		const { metres, label } = scaleStep(LONGEST_PX * perPixel, us);
		bar.style.width = `${metres / perPixel}px`;
		bar.textContent = label;
	};
	map.on("move", draw);
	draw();
}
