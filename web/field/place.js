// The position of the phone only warns of a wrong block. It never sets a row or a
// vine: at an error of 5 m it would name the right vine one time in twenty-five.

import { ordersOf } from "./app.js";
import { h } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./types.js").FieldRow} FieldRow
 */

const SLACK_M = 50;
const EARTH_M = 6_371_008.8; // mean radius, IUGG
let watch = 0;
/** @type {FieldRow | null} */
let row = null;

/**
 * How far a position is from a box of degrees, in metres; near enough for a warning.
 * @param {number} lon
 * @param {number} lat
 * @param {[w: number, s: number, e: number, n: number]} bounds
 */
export function metresFrom(lon, lat, [w, s, e, n]) {
	const rad = Math.PI / 180;
	const dx = (lon < w ? w - lon : lon > e ? lon - e : 0) * rad * EARTH_M * Math.cos(lat * rad);
	const dy = (lat < s ? s - lat : lat > n ? lat - n : 0) * rad * EARTH_M;
	return Math.hypot(dx, dy);
}

/**
 * Whether a position tells of a wrong block: farther off than twice the stated
 * error and 50 m. Names the block it lies in, where it lies in one of the orders'.
 * @param {{longitude: number, latitude: number, accuracy: number}} fix
 * @param {FieldRow} row
 * @param {FieldRow[]} all
 */
export function wrongBlock(fix, row, all) {
	const away = (/** @type {FieldRow} */ r) => metresFrom(fix.longitude, fix.latitude, r.bounds);
	const distance = Math.min(...[row, ...all.filter((r) => r.block === row.block)].map(away));
	if (!(distance > 2 * fix.accuracy + SLACK_M)) return null;
	const other = all.filter((r) => r.block !== row.block).map((r) => ({ r, d: away(r) })).sort((a, b) => a.d - b.d)[0];
	return { distance, accuracy: fix.accuracy, code: other && other.d < distance / 2 ? other.r.code : "" };
}

/** Watches while in a row and switched on. @param {App} app @param {FieldRow | null} now */
export function watchPlace(app, now) {
	row = now;
	const on = app.settings.gps && row && "geolocation" in navigator;
	if (on && !watch) watch = navigator.geolocation.watchPosition((fix) => warn(app, fix.coords), () => warn(app, null), { enableHighAccuracy: true, maximumAge: 30_000 });
	if (!on && watch) {
		navigator.geolocation.clearWatch(watch);
		watch = 0;
	}
	if (!on) warn(app, null);
}

/** @param {App} app @param {GeolocationCoordinates | null} fix */
function warn(app, fix) {
	const place = /** @type {HTMLElement} */ (document.getElementById("place-news"));
	const wrong = fix && row ? wrongBlock(fix, row, ordersOf(app).flatMap((o) => o.rows)) : null;
	place.hidden = !wrong;
	place.replaceChildren();
	if (!wrong) return;
	const words = { metres: Math.round(wrong.distance), error: Math.round(wrong.accuracy), block: wrong.code };
	place.append(h("p", {}, app.t(wrong.code ? "place.other" : "place.far", words)));
}
