// The map of this page: the estate as it is, what is being drawn over it, and a
// cross in its middle for those who draw by keys.

import { boxOf, penShapes, rowShapes } from "../lib/drawnshapes.js";
import { drawnLayers } from "../style/drawn.js";
import { mapStyle } from "../style/map.js";
import { button, h, icon } from "../map/dom.js";
import { Map as MapLibre, setWorkerCount } from "../map/maplibre.js";
import { mountScale } from "../map/scalebar.js";

/** @typedef {import("./main.js").Ground} Ground */
/** @typedef {import("../lib/pen.js").LonLat} LonLat */

/** How near a press must be to the first corner to close the area, and to a point to take hold of it, pixels. */
const REACH_PX = 14;

/**
 * @param {Ground} page
 * @param {HTMLElement} place
 */
export function mountMap(page, place) {
	const { t, estate } = page;
	const box = h("div", { class: "map" });
	place.append(box, h("div", { class: "cross", "aria-hidden": "true" }));
	setWorkerCount(1);
	const map = new MapLibre({ container: box, style: styleOf(page), ...(estate.bounds ? { bounds: estate.bounds, fitBoundsOptions: { padding: 30 } } : { center: [0, 20], zoom: 2 }),
		maxPitch: 0, dragRotate: false, touchPitch: false, boxZoom: false, doubleClickZoom: false, fadeDuration: 0, attributionControl: false, renderWorldCopies: false, maxZoom: 22, minZoom: 2 });
	map.touchZoomRotate.disableRotation();
	map.keyboard.disableRotation();
	const canvas = map.getCanvas();
	canvas.id = "map-canvas";
	canvas.setAttribute("aria-label", t("ground.map"));
	const shown = { pen: penShapes(null), made: rowShapes(null) };
	const source = (/** @type {string} */ name) => /** @type {any} */ (map.getSource(name));
	const draw = () => {
		shown.pen = penShapes(page.pen);
		shown.made = rowShapes(page.shown);
		if (!source("pen")) return;
		source("pen").setData(shown.pen);
		source("made").setData(shown.made);
	};
	map.on("style.load", () => {
		for (const name of /** @type {const} */ (["pen", "made"])) if (!source(name)) map.addSource(name, { type: "geojson", data: shown[name] });
		for (const layer of drawnLayers(page.groundName)) if (!map.getLayer(layer.id)) map.addLayer(layer);
	});
	map.on("load", () => void (document.documentElement.dataset.map = "ready"));
	map.on("moveend", () => {
		const { lng, lat } = map.getCenter();
		document.documentElement.dataset.at = `${lng.toFixed(7)} ${lat.toFixed(7)}`;
	});
	watchPen(page, map);
	place.append(buttons(page, map));
	mountScale(map, place, estate.us_units);
	return {
		draw,
		/** @param {LonLat[]} points */
		fit(points) {
			const b = boxOf(points);
			if (b) map.fitBounds([[b[0], b[1]], [b[2], b[3]]], { padding: 40, maxZoom: 19, animate: false });
		},
		/** Moves to show a place that is out of sight. @param {LonLat} p */
		see(p) {
			if (!map.getBounds().contains(p)) map.jumpTo({ center: p, zoom: Math.max(map.getZoom(), 16) });
		},
		/** Draws the estate anew after it was changed. */
		refresh: () => source("estate")?.setTiles([tilesOf(page)]),
	};
}

/** @param {Ground} page */
const tilesOf = ({ estate }) => `${location.origin}/tiles/${estate.season}/{z}/{x}/{y}.mvt`;

/** Without bounds: a block may be drawn outside of what there is. @param {Ground} page */
function styleOf(page) {
	const look = { theme: /** @type {const} */ ("condition"), only: null, told: /** @type {[number, string][]} */ ([]), outlines: false, patch: null, picture: page.estate.base_map !== null, legend: page.legends.condition, ground: page.groundName, words: (/** @type {string} */ key) => page.t(key) };
	return mapStyle(tilesOf(page), null, page.estate.base_map, look);
}

/** Presses and keys set points. @param {Ground} page @param {import("../map/maplibre.js").MapLibreMap} map */
function watchPen(page, map) {
	let held = -1;
	const near = (/** @type {{x: number, y: number}} */ at) => {
		const points = page.pen?.points ?? [];
		return points.findIndex((p) => {
			const q = map.project(p);
			return Math.hypot(q.x - at.x, q.y - at.y) < REACH_PX;
		});
	};
	map.on("click", (e) => {
		if (!page.pen) return;
		const at = near(e.point);
		if (at === 0 && page.pen.close()) return;
		if (at < 0) page.pen.add([e.lngLat.lng, e.lngLat.lat]);
	});
	const take = (/** @type {any} */ e) => {
		held = page.pen ? near(e.point) : -1;
		if (held >= 0) e.preventDefault(); // the point moves, not the map
	};
	const carry = (/** @type {any} */ e) => {
		if (held >= 0) page.pen?.move(held, [e.lngLat.lng, e.lngLat.lat]);
	};
	const drop = () => {
		held = -1;
	};
	for (const name of /** @type {const} */ (["mousedown", "touchstart"])) map.on(name, take);
	for (const name of /** @type {const} */ (["mousemove", "touchmove"])) map.on(name, carry);
	for (const name of /** @type {const} */ (["mouseup", "touchend", "touchcancel"])) map.on(name, drop);
	map.getCanvas().addEventListener("keydown", (e) => {
		if (!page.pen || !["Enter", "Backspace"].includes(e.key)) return;
		e.preventDefault();
		const { lng, lat } = map.getCenter();
		if (e.key === "Backspace") page.pen.undo();
		else if (near(map.project([lng, lat])) !== 0 || !page.pen.close()) page.pen.add([lng, lat]);
	});
}

/** @param {Ground} page @param {import("../map/maplibre.js").MapLibreMap} map */
function buttons({ t, estate }, map) {
	return h("div", { class: "map-buttons" },
		button(t("map.zoom_in"), () => void map.zoomIn({ animate: false }), { icon: icon("M11 5h2v6h6v2h-6v6h-2v-6H5v-2h6z") }),
		button(t("map.zoom_out"), () => void map.zoomOut({ animate: false }), { icon: icon("M5 11h14v2H5z") }),
		estate.bounds ? button(t("map.fit"), () => estate.bounds && void map.fitBounds(estate.bounds, { padding: 30, animate: false }), { icon: icon("M3 10l9-7 9 7v11h-6v-6H9v6H3z") }) : null);
}
