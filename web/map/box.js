// Choosing vines by a box drawn over the map.

import { vinesInside, worldX, worldY } from "../lib/ground.js";
import { h } from "./dom.js";
import { VINE_ZOOM } from "./vinelayer.js";

/**
 * @param {import("./app.js").App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {HTMLElement} place
 */
export function mountBox(app, map, place) {
	const frame = h("div", { class: "box-frame", hidden: true });
	const sheet = h("div", { class: "box-sheet", hidden: true, "aria-hidden": "true" }, frame);
	place.append(sheet);
	/** @type {{x: number, y: number} | null} */
	let from = null;
	app.choosing.on(({ way }) => (sheet.hidden = way !== "box"));

	/** @param {PointerEvent} e */
	const at = (e) => {
		const edge = sheet.getBoundingClientRect();
		return { x: e.clientX - edge.left, y: e.clientY - edge.top };
	};
	sheet.addEventListener("pointerdown", (e) => {
		from = at(e);
		sheet.setPointerCapture(e.pointerId);
	});
	sheet.addEventListener("pointermove", (e) => {
		if (!from) return;
		const to = at(e);
		frame.hidden = false;
		frame.style.left = `${Math.min(from.x, to.x)}px`;
		frame.style.top = `${Math.min(from.y, to.y)}px`;
		frame.style.width = `${Math.abs(to.x - from.x)}px`;
		frame.style.height = `${Math.abs(to.y - from.y)}px`;
	});
	sheet.addEventListener("pointerup", (e) => {
		const to = at(e);
		if (from && Math.hypot(to.x - from.x, to.y - from.y) > 4) void choose(app, map, from, to);
		from = null;
		frame.hidden = true;
	});
	sheet.addEventListener("pointercancel", () => {
		from = null;
		frame.hidden = true;
	});
	sheet.addEventListener("wheel", (e) => map.getCanvas().dispatchEvent(new WheelEvent("wheel", e)), { passive: true });
}

/**
 * @param {import("./app.js").App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {{x: number, y: number}} a
 * @param {{x: number, y: number}} b
 */
async function choose(app, map, a, b) {
	if (map.getZoom() < VINE_ZOOM) {
		app.announce(app.t("choose.closer"));
		return;
	}
	/** @type {[number, number][]} */
	const screen = [[a.x, a.y], [b.x, a.y], [b.x, b.y], [a.x, b.y]];
	/** @type {[number, number][]} */
	const corners = screen.map((p) => {
		const { lng, lat } = map.unproject(p);
		return [worldX(lng), worldY(lat)];
	});
	const { season } = app.view.get();
	for (const stand of app.stands.held.values()) {
		if (stand.season !== season) continue;
		const found = vinesInside(stand, corners);
		if (found.length) app.selection.set(stand, found);
	}
}
