// Plane geometry on the world square of the stand: x to the east from 180°
// west, y to the south, 2^32 units each way (Web Mercator, EPSG:3857).

/** @typedef {import("./stand.js").Stand} Stand */

export const WORLD = 2 ** 32;

/** MapLibre draws the world at zoom 0 in 512 pixels. */
const WORLD_PX = 512;

/** @param {number} lon degrees */
export function worldX(lon) {
	return ((lon + 180) / 360) * WORLD;
}

/** @param {number} lat degrees */
export function worldY(lat) {
	const s = Math.sin((lat * Math.PI) / 180);
	return (0.5 - Math.log((1 + s) / (1 - s)) / (4 * Math.PI)) * WORLD;
}

/** @param {number} x */
export function lonOf(x) {
	return (x / WORLD) * 360 - 180;
}

/** @param {number} y */
export function latOf(y) {
	return (Math.atan(Math.sinh(Math.PI * (1 - (2 * y) / WORLD))) * 180) / Math.PI;
}

/**
 * World units per screen pixel.
 * @param {number} zoom
 */
export function unitsPerPixel(zoom) {
	return WORLD / (WORLD_PX * 2 ** zoom);
}

/**
 * Metres on the ground per world unit, at a latitude. The Mercator scale on a
 * sphere of the WGS 84 equatorial radius: within 0.4 % of the ellipsoid, good
 * enough for symbol sizes and the scale bar.
 * @param {number} lat degrees
 */
export function metresPerUnit(lat) {
	return (2 * Math.PI * 6378137 * Math.cos((lat * Math.PI) / 180)) / WORLD;
}

/**
 * The vine nearest to a place, or -1 if none is within reach.
 * @param {Stand} stand
 * @param {number} x
 * @param {number} y
 * @param {number} reach world units
 */
export function nearestVine(stand, x, y, reach) {
	let best = -1;
	let bestSquare = reach * reach;
	const { wx, wy, count } = stand;
	for (let i = 0; i < count; i++) {
		const dx = wx[i] - x;
		const dy = wy[i] - y;
		const square = dx * dx + dy * dy;
		if (square <= bestSquare) {
			best = i;
			bestSquare = square;
		}
	}
	return { index: best, distance: best < 0 ? Infinity : Math.sqrt(bestSquare) };
}

/**
 * The vines inside a convex polygon, whichever way it winds.
 * @param {Stand} stand
 * @param {[number, number][]} corners
 */
export function vinesInside(stand, corners) {
	const edges = corners.map((a, k) => {
		const b = corners[(k + 1) % corners.length];
		return { ax: a[0], ay: a[1], ex: b[0] - a[0], ey: b[1] - a[1] };
	});
	const found = [];
	for (let i = 0; i < stand.count; i++) {
		let left = 0;
		let right = 0;
		for (const e of edges) {
			const side = e.ex * (stand.wy[i] - e.ay) - e.ey * (stand.wx[i] - e.ax);
			if (side > 0) left++;
			else if (side < 0) right++;
		}
		if (left === 0 || right === 0) found.push(i);
	}
	return found;
}

/**
 * Bounds of a stand in world units, kept with it.
 * @param {Stand} stand
 * @returns {[west: number, north: number, east: number, south: number]}
 */
export function extentOf(stand) {
	let known = extents.get(stand.wx);
	if (!known) {
		let [w, n, e, s] = [Infinity, Infinity, -Infinity, -Infinity];
		for (let i = 0; i < stand.count; i++) {
			if (stand.wx[i] < w) w = stand.wx[i];
			if (stand.wx[i] > e) e = stand.wx[i];
			if (stand.wy[i] < n) n = stand.wy[i];
			if (stand.wy[i] > s) s = stand.wy[i];
		}
		known = [w, n, e, s];
		extents.set(stand.wx, known);
	}
	return known;
}
/** @type {WeakMap<Float64Array, [number, number, number, number]>} */
const extents = new WeakMap();

/**
 * Median step between neighbours in a row, world units; 0 where no row has two.
 * @param {Stand} stand
 */
export function vineStep(stand) {
	const steps = [];
	for (const row of stand.rows) {
		const stride = Math.max(1, Math.floor(row.count / 8));
		for (let i = row.first + 1; i < row.first + row.count; i += stride)
			steps.push(Math.hypot(stand.wx[i] - stand.wx[i - 1], stand.wy[i] - stand.wy[i - 1]));
	}
	steps.sort((a, b) => a - b);
	return steps.length ? steps[steps.length >> 1] : 0;
}

/**
 * Compass bearing of the rows from their numbering end, degrees 0 to 360;
 * the mean over all rows, 0 where no row has two vines.
 * @param {Stand} stand
 */
export function rowBearing(stand) {
	let east = 0;
	let north = 0;
	for (const row of stand.rows) {
		if (row.count < 2) continue;
		const last = row.first + row.count - 1;
		east += stand.wx[last] - stand.wx[row.first];
		north += stand.wy[row.first] - stand.wy[last];
	}
	if (east === 0 && north === 0) return 0;
	return ((Math.atan2(east, north) * 180) / Math.PI + 360) % 360;
}

/**
 * The best neighbour of a vine in a direction on the ground: next or previous in
 * its row, or the nearest vine of the rows beside it; -1 if there is none.
 * @param {Stand} stand
 * @param {number} i
 * @param {number} east of the direction, unit vector
 * @param {number} south
 */
export function neighbourTowards(stand, i, east, south) {
	let best = -1;
	let bestScore = 0.5; // at most 60° off
	for (const k of neighbours(stand, i)) {
		const dx = stand.wx[k] - stand.wx[i];
		const dy = stand.wy[k] - stand.wy[i];
		const score = (dx * east + dy * south) / (Math.hypot(dx, dy) || 1);
		if (score > bestScore) {
			best = k;
			bestScore = score;
		}
	}
	return best;
}

/**
 * @param {Stand} stand
 * @param {number} i
 */
function neighbours(stand, i) {
	const found = [];
	const r = stand.rows.findIndex((row) => i >= row.first && i < row.first + row.count);
	const own = stand.rows[r];
	if (i > own.first) found.push(i - 1);
	if (i < own.first + own.count - 1) found.push(i + 1);
	for (const row of [stand.rows[r - 1], stand.rows[r + 1]]) {
		if (!row) continue;
		let near = -1;
		let square = Infinity;
		for (let k = row.first; k < row.first + row.count; k++) {
			const d = (stand.wx[k] - stand.wx[i]) ** 2 + (stand.wy[k] - stand.wy[i]) ** 2;
			if (d < square) {
				near = k;
				square = d;
			}
		}
		if (near >= 0) found.push(near);
	}
	return found;
}
