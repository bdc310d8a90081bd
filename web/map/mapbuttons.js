// Buttons over the map.

import { rowBearing } from "../lib/ground.js";
import { button, h, icon } from "./dom.js";

/**
 * @param {import("./app.js").App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {HTMLElement} place
 */
export function mountMapButtons(app, map, place) {
	const { t } = app;
	const choose = button(t("map.choose"), () => app.choosing.set({ way: app.choosing.get().way === "look" ? "run" : "look", anchor: null }), {
		icon: icon("M4 4h6v2H6v4H4zM14 4h6v6h-2V6h-4zM4 14h2v4h4v2H4zM18 14h2v6h-6v-2h4zM9 9h6v6H9z"), "aria-pressed": "false",
	});
	app.choosing.on(({ way }) => choose.setAttribute("aria-pressed", String(way !== "look")));
	place.append(
		h(
			"div",
			{ class: "map-buttons" },
			button(t("map.zoom_in"), () => void map.zoomIn(), { icon: icon("M11 5h2v6h6v2h-6v6h-2v-6H5v-2h6z") }),
			button(t("map.zoom_out"), () => void map.zoomOut(), { icon: icon("M5 11h14v2H5z") }),
			button(t("map.fit"), () => app.estate.bounds && app.camera.fit(app.estate.bounds), { icon: icon("M3 10l9-7 9 7v11h-6v-6H9v6H3z") }),
			button(t("map.rows_up"), () => rowsUp(app, map), { icon: icon("M5 3h2v18H5zM11 3h2v18h-2zM17 3h2v18h-2z") }),
			button(t("map.north_up"), () => void map.easeTo({ bearing: 0 }), { icon: icon("M12 2l5 9h-4v11h-2V11H7z") }),
			choose,
		),
	);
}

/**
 * Turns the map so that the rows in the middle stand upright, by the lesser turn.
 * @param {import("./app.js").App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 */
async function rowsUp(app, map) {
	const { lng, lat } = map.getCenter();
	const distance = (/** @type {any} */ b) => (b.center ? Math.hypot((b.center[0] - lng) * Math.cos((lat * Math.PI) / 180), b.center[1] - lat) : Infinity);
	const { list } = app.blocks.get();
	const chosen = list.find((b) => b.id === app.view.get().block);
	const block = chosen ?? [...list].sort((a, b) => distance(a) - distance(b))[0];
	if (!block) return;
	const stand = await app.stands.load(block.id, app.view.get().season);
	let bearing = rowBearing(stand);
	const turn = ((bearing - map.getBearing() + 540) % 360) - 180;
	if (Math.abs(turn) > 90) bearing += 180;
	map.easeTo({ bearing });
}
