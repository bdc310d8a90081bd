// Reads what a screenshot shows: a PNG decoder (PNG Specification, third edition,
// 8-bit colour without interlace, as Chromium writes it) and places on the map.

import { inflateSync } from "node:zlib";
import { unitsPerPixel, worldX, worldY } from "../../lib/ground.js";

/**
 * @param {Buffer} png
 * @returns {{width: number, height: number, at: (x: number, y: number) => string}} colour at a pixel, #rrggbb
 */
export function readPicture(png) {
	let [width, height, channels] = [0, 0, 0];
	const parts = [];
	for (let p = 8; p < png.length; p += 12 + png.readUInt32BE(p)) {
		const length = png.readUInt32BE(p);
		const kind = png.toString("latin1", p + 4, p + 8);
		if (kind === "IHDR") {
			[width, height] = [png.readUInt32BE(p + 8), png.readUInt32BE(p + 12)];
			channels = png[p + 17] === 6 ? 4 : 3;
		}
		if (kind === "IDAT") parts.push(png.subarray(p + 8, p + 8 + length));
	}
	const raw = inflateSync(Buffer.concat(parts));
	const stride = width * channels;
	const pixels = Buffer.alloc(stride * height);
	for (let y = 0; y < height; y++) {
		const filter = raw[y * (stride + 1)];
		for (let i = 0; i < stride; i++) {
			const left = i >= channels ? pixels[y * stride + i - channels] : 0;
			const up = y ? pixels[(y - 1) * stride + i] : 0;
			const corner = y && i >= channels ? pixels[(y - 1) * stride + i - channels] : 0;
			const guess = [0, left, up, (left + up) >> 1, paeth(left, up, corner)][filter];
			pixels[y * stride + i] = raw[y * (stride + 1) + 1 + i] + guess;
		}
	}
	return {
		width,
		height,
		at(x, y) {
			const k = Math.round(y) * stride + Math.round(x) * channels;
			return `#${pixels.toString("hex", k, k + 3)}`;
		},
	};
}

/** @param {number} a @param {number} b @param {number} c */
function paeth(a, b, c) {
	const [pa, pb, pc] = [Math.abs(b - c), Math.abs(a - c), Math.abs(a + b - 2 * c)];
	return pa <= pb && pa <= pc ? a : pb <= pc ? b : c;
}

/**
 * Where a place of the world square is on the screen, from the camera in the
 * page's address and the place of the map on the page.
 * @param {import("playwright-core").Page} page
 */
export async function lens(page) {
	const { hash, box } = await page.evaluate(() => {
		const { left, top, width, height } = /** @type {HTMLElement} */ (document.getElementById("map-canvas")).getBoundingClientRect();
		return { hash: location.hash, box: { left, top, width, height } };
	});
	const [lon, lat, zoom, bearing = 0] = (new URLSearchParams(hash.slice(1)).get("at") ?? "").split(",").map(Number);
	const per = unitsPerPixel(zoom);
	const turn = (bearing * Math.PI) / 180;
	const middle = { x: worldX(lon), y: worldY(lat) };
	return {
		box,
		/** @param {number} wx @param {number} wy */
		onScreen(wx, wy) {
			const dx = (wx - middle.x) / per;
			const dy = (wy - middle.y) / per;
			return { x: box.left + box.width / 2 + dx * Math.cos(turn) + dy * Math.sin(turn), y: box.top + box.height / 2 + dy * Math.cos(turn) - dx * Math.sin(turn) };
		},
	};
}

/** How far two colours are apart, largest difference of a channel. @param {string} a @param {string} b */
export function apart(a, b) {
	const channels = (/** @type {string} */ h) => [1, 3, 5].map((k) => parseInt(h.slice(k, k + 2), 16));
	const [p, q] = [channels(a), channels(b)];
	return Math.max(...p.map((v, k) => Math.abs(v - q[k])));
}
