// The name of the block in the middle of the map, where its own label is not to be
// seen any more.

import { h, show } from "./dom.js";
import { VINE_ZOOM } from "./vinelayer.js";

/**
 * @param {import("./app.js").App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {HTMLElement} place
 */
export function mountWhere(app, map, place) {
	const name = h("p", { class: "where", hidden: true });
	place.append(name);
	const draw = () => {
		const { lng, lat } = map.getCenter();
		const far = (/** @type {import("../lib/model.js").Block} */ b) => (b.center ? Math.hypot(b.center[0] - lng, b.center[1] - lat) : Infinity);
		const [block] = app.blocks.get().list
			.filter((b) => b.bounds && lng >= b.bounds[0] && lng <= b.bounds[2] && lat >= b.bounds[1] && lat <= b.bounds[3])
			.sort((a, b) => far(a) - far(b));
		name.hidden = !block || map.getZoom() < VINE_ZOOM + 0.5;
		if (block) show(name, [block.code, block.name].filter(Boolean).join(" · "), block.variety && h("span", {}, ` · ${block.variety}`));
	};
	map.on("moveend", draw);
	app.blocks.on(draw);
	draw();
}
