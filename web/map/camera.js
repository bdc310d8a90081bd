// Where the map looks: kept in the view, fitted to bounds, and moved so that what
// is looked at stays free of panels and legend.

/** @typedef {import("./app.js").App} App */
/** @typedef {import("./maplibre.js").MapLibreMap} MapLibreMap */

/** @param {App} app @param {HTMLElement} place */
export function firstCamera(app, place) {
	const { at } = app.view.get();
	if (at) return { center: /** @type {[number, number]} */ ([at.lon, at.lat]), zoom: at.zoom, bearing: at.bearing };
	if (app.estate.bounds) return { bounds: app.estate.bounds, fitBoundsOptions: { padding: clearing(place) } };
	return { center: /** @type {[number, number]} */ ([0, 20]), zoom: 2 };
}

/** @param {MapLibreMap} map @returns {import("../lib/hash.js").Camera} */
export function cameraNow(map) {
	const { lng, lat } = map.getCenter();
	return { lon: lng, lat, zoom: map.getZoom(), bearing: map.getBearing() };
}

/**
 * @param {import("../lib/hash.js").Camera} a
 * @param {import("../lib/hash.js").Camera} b
 */
export function sameCamera(a, b) {
	return Math.abs(a.lon - b.lon) < 1e-6 && Math.abs(a.lat - b.lat) < 1e-6 && Math.abs(a.zoom - b.zoom) < 0.006 && Math.abs(a.bearing - b.bearing) < 0.06;
}

/** @param {App} app @param {MapLibreMap} map */
export function keepCamera(app, map) {
	map.touchZoomRotate.disableRotation();
	map.keyboard.disableRotation();
	map.on("moveend", () => {
		const now = cameraNow(map);
		const { at } = app.view.get();
		if (!at || !sameCamera(at, now)) app.view.set({ at: now });
	});
}

/** @param {MapLibreMap} map @param {HTMLElement} place @returns {import("./app.js").Camera} */
export function cameraOf(map, place) {
	return {
		fit: ([w, s, e, n]) => void map.fitBounds([[w, s], [e, n]], { padding: clearing(place), maxZoom: 19, bearing: map.getBearing(), animate: !still() }),
		bringIntoView(lon, lat) {
			const free = freeBox(map);
			const p = map.project([lon, lat]);
			if (p.x >= free.left && p.y >= free.top && p.x <= free.right && p.y <= free.bottom) return;
			map.easeTo({ center: [lon, lat], offset: offsetTo(map, free), animate: !still() });
		},
		goTo: (lon, lat) => void map.easeTo({ center: [lon, lat], zoom: Math.max(map.getZoom(), 19), offset: offsetTo(map, freeBox(map)), animate: !still() }),
	};
}

/**
 * Room to keep free at the edges of the map, so that the legend hides nothing.
 * @param {HTMLElement} place
 */
function clearing(place) {
	const map = place.getBoundingClientRect();
	const legend = document.getElementById("legend")?.getBoundingClientRect();
	const edge = Math.round(Math.min(50, map.width / 12, map.height / 12));
	const covered = legend && legend.top < map.bottom && map.width > 2.2 * legend.width ? legend.right - map.left : 0;
	return { top: edge, bottom: edge, left: Math.max(edge, covered + 10), right: Math.max(edge, map.width > 500 ? 60 : 0) };
}

/**
 * The part of the map that no panel or legend covers, with some edge, in pixels
 * of the map.
 * @param {MapLibreMap} map
 */
function freeBox(map) {
	const canvas = map.getCanvas().getBoundingClientRect();
	const box = { left: 0, top: 0, right: canvas.width, bottom: canvas.height };
	for (const id of ["vine", "patch", "legend"]) {
		const over = document.getElementById(id)?.getBoundingClientRect();
		if (!over || !over.width || over.top >= canvas.bottom || over.left >= canvas.right || over.right <= canvas.left || over.bottom <= canvas.top) continue;
		if (over.width > 0.8 * canvas.width) box.bottom = Math.min(box.bottom, over.top - canvas.top);
		else if (over.left - canvas.left > canvas.right - over.right) box.right = Math.min(box.right, over.left - canvas.left);
		else box.left = Math.max(box.left, over.right - canvas.left);
	}
	const edge = Math.min(60, (box.right - box.left) / 5, (box.bottom - box.top) / 5);
	return { left: box.left + edge, top: box.top + edge, right: box.right - edge, bottom: box.bottom - edge };
}

/**
 * From the middle of the map to the middle of a box in it.
 * @param {MapLibreMap} map
 * @param {{left: number, top: number, right: number, bottom: number}} box
 * @returns {[number, number]}
 */
function offsetTo(map, box) {
	const { clientWidth, clientHeight } = map.getCanvas();
	return [(box.left + box.right - clientWidth) / 2, (box.top + box.bottom - clientHeight) / 2];
}

/** Whether the person asked for less motion. */
function still() {
	return matchMedia("(prefers-reduced-motion: reduce)").matches;
}
