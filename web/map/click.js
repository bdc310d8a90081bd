// One click, one act: a row's number, then the nearest vine, then a block.

import { nearestVine, unitsPerPixel, worldX, worldY } from "../lib/ground.js";
import { rowOf } from "../lib/stand.js";
import { rowIndexes, runOf } from "../lib/selection.js";
import { lookAt, toggleRow, vineInHand } from "./acts.js";
import { blockOf } from "./app.js";
import { outlined } from "./patchpoints.js";
import { VINE_ZOOM } from "./vinelayer.js";

/** @typedef {import("./app.js").App} App */
/** @typedef {import("../lib/stand.js").Stand} Stand */

/** How far from a click a vine may be, pixels. */
const REACH_PX = 22;

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {{stands: () => Stand[]}} nearby
 */
export function watchClicks(app, map, nearby) {
	map.on("click", (e) => {
		const { way } = app.choosing.get();
		const label = map.queryRenderedFeatures([[e.point.x - 12, e.point.y - 12], [e.point.x + 12, e.point.y + 12]], { layers: ["row-labels"] })[0];
		if (label && (way === "row" || way === "look")) {
			void toggleRow(app, Number(label.properties.block), Number(label.properties.row));
			return;
		}
		const patch = way === "look" ? patchAt(app, map, e.point) : null;
		const hit = map.getZoom() >= VINE_ZOOM ? vineAt(map, nearby.stands(), e.lngLat) : null;
		if (hit) {
			if (way === "run" || e.originalEvent.shiftKey) chooseRun(app, hit.stand, hit.index);
			else if (way === "row") app.selection.toggle(hit.stand, rowIndexes(hit.stand, rowOf(hit.stand, hit.index)));
			else if (way === "look") app.view.set({ vine: hit.stand.id[hit.index], ...(outlined(app) ? { patch } : {}) });
			return;
		}
		if (way !== "look") {
			app.announce(app.t(map.getZoom() < VINE_ZOOM ? "choose.closer" : "map.no_vine"));
			return;
		}
		if (patch !== null) {
			app.view.set({ patch, vine: null, block: Number(patch.split(".")[0]), row: null });
			return;
		}
		const block = map.queryRenderedFeatures(e.point, { layers: ["blocks", "blocks-near"] })[0];
		if (block && map.getZoom() < VINE_ZOOM) app.view.set({ block: Number(block.properties.id), row: null });
		else if (map.getZoom() >= VINE_ZOOM) app.announce(app.t("map.no_vine"));
	});
	watchEnter(app, map, nearby);
}

/**
 * The patch under a click, as the view names it; the smallest where they lie over one another.
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {{x: number, y: number}} point
 */
function patchAt(app, map, point) {
	if (!outlined(app)) return null;
	const found = map.queryRenderedFeatures([point.x, point.y], { layers: ["patch-areas"] }).sort((a, b) => a.properties.vines - b.properties.vines)[0];
	const block = found && app.blocks.get().list.find((b) => b.code === found.properties.block);
	return block ? `${block.id}.${found.properties.id}` : null;
}

/**
 * The vine nearest to a place, within reach.
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {Stand[]} stands
 * @param {{lng: number, lat: number}} at
 */
export function vineAt(map, stands, at, reachPx = REACH_PX) {
	const x = worldX(at.lng);
	const y = worldY(at.lat);
	let reach = reachPx * unitsPerPixel(map.getZoom());
	/** @type {{stand: Stand, index: number} | null} */
	let best = null;
	for (const stand of stands) {
		const { index, distance } = nearestVine(stand, x, y, reach);
		if (index >= 0) {
			best = { stand, index };
			reach = distance;
		}
	}
	return best;
}

/**
 * First click: an end of the run; second: the other end, and the run is chosen.
 * A click with Shift held takes the vine in hand for the first end.
 * @param {App} app
 * @param {Stand} stand
 * @param {number} index
 */
export function chooseRun(app, stand, index) {
	const held = vineInHand(app);
	const from = app.choosing.get().anchor ?? (held && { block: held.stand.block, index: held.index });
	if (!from) {
		app.choosing.set({ way: "run", anchor: { block: stand.block, index } });
		return;
	}
	if (from.block !== stand.block) {
		app.announce(app.t("choose.hint_blocks"));
		app.choosing.set({ anchor: { block: stand.block, index } });
		return;
	}
	app.selection.set(stand, runOf(stand, from.index, index));
	app.choosing.set({ way: "run", anchor: null });
}

/**
 * Enter looks at the vine nearest to the middle of the map; once more, and the
 * focus goes to what is said of it.
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {{stands: () => Stand[]}} nearby
 */
function watchEnter(app, map, nearby) {
	map.getCanvas().addEventListener("keydown", (e) => {
		if (e.key !== "Enter") return;
		if (app.view.get().vine !== null && app.choosing.get().way === "look") {
			/** @type {HTMLElement | null} */ (document.querySelector("#vine h2"))?.focus();
			return;
		}
		const { clientWidth, clientHeight } = map.getCanvas();
		const hit = map.getZoom() >= VINE_ZOOM ? vineAt(map, nearby.stands(), map.getCenter(), Math.max(clientWidth, clientHeight) / 2) : null;
		if (hit && app.choosing.get().way === "run") chooseRun(app, hit.stand, hit.index);
		else if (hit) lookAt(app, hit.stand.id[hit.index]);
		else enterBlock(app, map);
	});
}

/** Far out, Enter opens the block in the middle. @param {App} app @param {import("./maplibre.js").MapLibreMap} map */
function enterBlock(app, map) {
	const { lng, lat } = map.getCenter();
	const size = (/** @type {any} */ b) => (b.bounds[2] - b.bounds[0]) * (b.bounds[3] - b.bounds[1]);
	const inside = app.blocks.get().list.filter((b) => b.bounds && lng >= b.bounds[0] && lng <= b.bounds[2] && lat >= b.bounds[1] && lat <= b.bounds[3]);
	const block = blockOf(app, inside.sort((a, b) => size(a) - size(b))[0]?.id ?? null);
	if (block) app.view.set({ block: block.id, row: null });
	else app.announce(app.t("map.none"));
}
