// Tile arithmetic (XYZ scheme).

import { WORLD, worldX, worldY } from "./ground.js";

/**
 * The tiles of some zooms that bounds touch.
 * @param {[west: number, south: number, east: number, north: number]} bounds degrees
 * @param {number} from zoom
 * @param {number} to zoom
 * @returns {{z: number, x: number, y: number}[]}
 */
export function tilesOver([w, s, e, n], from, to) {
	const tiles = [];
	for (let z = from; z <= to; z++) {
		const side = WORLD / 2 ** z;
		const last = 2 ** z - 1;
		const clamp = (/** @type {number} */ k) => Math.max(0, Math.min(last, Math.floor(k / side)));
		for (let x = clamp(worldX(w)); x <= clamp(worldX(e)); x++) for (let y = clamp(worldY(n)); y <= clamp(worldY(s)); y++) tiles.push({ z, x, y });
	}
	return tiles;
}
