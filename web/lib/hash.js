// The view in the page's address: #season=2027&theme=vigour&at=lon,lat,zoom,bearing&…

import { ALL_THEMES } from "./model.js";

/** @typedef {import("./model.js").Theme} Theme */
/**
 * @typedef {{lon: number, lat: number, zoom: number, bearing: number}} Camera
 * @typedef {"map" | "plan" | "table"} Pane
 *
 * @typedef {object} View
 * @property {number} season
 * @property {Theme} theme
 * @property {number | null} only byte of the one class shown, null for all
 * @property {Camera | null} at
 * @property {number | null} block id of the block looked into
 * @property {number | null} row id of the row looked into
 * @property {number | null} vine id of the vine looked at
 * @property {string | null} patch the patch looked at: block id, a point, the patch's own id
 * @property {boolean} outlines patches are outlined in other themes too
 * @property {string} [image] id of the image under the rows; empty or left out: none
 * @property {boolean} [bare] rows and vines are not drawn over that image
 * @property {string} operation whose progress is shown; empty: pruning
 * @property {Pane} pane
 */

/**
 * Reads what an address says; what it says wrongly is left out.
 * @param {string} hash with or without #
 * @returns {Partial<View>}
 */
export function readHash(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	/** @type {Partial<View>} */
	const view = {};
	const whole = (/** @type {string} */ key) => {
		const text = words.get(key);
		return text !== null && /^\d{1,15}$/.test(text) ? Number(text) : undefined;
	};
	const season = whole("season");
	if (season !== undefined && season >= 1850 && season <= 2200) view.season = season;
	const theme = words.get("theme");
	if (ALL_THEMES.includes(/** @type {Theme} */ (theme))) view.theme = /** @type {Theme} */ (theme);
	const patch = words.get("patch");
	if (patch !== null && /^\d{1,15}\..{1,100}$/.test(patch)) view.patch = patch;
	if (words.get("outlines") === "1") view.outlines = true;
	const image = words.get("image");
	if (image && /^[\w-]{1,60}$/.test(image)) view.image = image;
	if (words.get("bare") === "1") view.bare = true;
	const operation = words.get("operation");
	if (operation && operation.length <= 60) view.operation = operation;
	const pane = words.get("show");
	if (pane === "map" || pane === "plan" || pane === "table") view.pane = pane;
	for (const key of /** @type {const} */ (["block", "row", "vine", "only"])) {
		const id = whole(key);
		if (id !== undefined) view[key] = id;
	}
	const at = readCamera(words.get("at"));
	if (at) view.at = at;
	return view;
}

/** @param {string | null} text @returns {Camera | null} */
function readCamera(text) {
	const parts = (text ?? "").split(",").map(Number);
	if (parts.length < 3 || parts.some((n) => !Number.isFinite(n))) return null;
	const [lon, lat, zoom, bearing = 0] = parts;
	if (Math.abs(lon) > 180 || Math.abs(lat) > 85 || zoom < 0 || zoom > 24) return null;
	return { lon, lat, zoom, bearing };
}

/**
 * @param {View} view
 * @returns {string} with #
 */
export function writeHash(view) {
	const words = [`season=${view.season}`, `theme=${view.theme}`];
	if (view.pane !== "map") words.push(`show=${view.pane}`);
	for (const key of /** @type {const} */ (["only", "block", "row", "vine"])) if (view[key] !== null) words.push(`${key}=${view[key]}`);
	if (view.patch) words.push(`patch=${encodeURIComponent(view.patch)}`);
	if (view.outlines) words.push("outlines=1");
	if (view.image) words.push(`image=${view.image}`);
	if (view.image && view.bare) words.push("bare=1");
	if (view.operation) words.push(`operation=${encodeURIComponent(view.operation)}`);
	if (view.at) {
		const { lon, lat, zoom, bearing } = view.at;
		const at = [lon.toFixed(7), lat.toFixed(7), zoom.toFixed(2)];
		if (Math.abs(bearing) >= 0.1) at.push(bearing.toFixed(1));
		words.push(`at=${at.join(",")}`);
	}
	return `#${words.join("&")}`;
}
