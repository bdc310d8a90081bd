// Zones drawn in a plan of the block: north up, each with its colour and its
// number, and a bar to scale.

import { scaleStep } from "../lib/units.js";
import { h, svg } from "../map/dom.js";

/** @typedef {import("../lib/zones.js").View} View */

const WIDTH = 640;
const MOST_HEIGHT = 760;
const MARGIN = 26;

/**
 * @param {import("../map/app.js").App} app
 * @param {View} view
 * @param {string} label what the drawing shows, in words
 */
export function zoneDrawing(app, view, label) {
	const areas = view.ground.features.map((f) => f.geometry.coordinates);
	const plane = planeOf(areas.flat(3));
	if (!plane) return h("p", { class: "state" }, app.t("zones.no_ground"));
	const { at, width, height, scale } = plane;
	const classes = app.legends.zones.classes;
	const { name } = app.ground.get();
	const root = svg("svg", { viewBox: `0 0 ${Math.round(width)} ${Math.round(height + 40)}`, role: "img", "aria-label": label, class: "zone-map" });
	areas.forEach((area, k) => {
		const number = view.ground.features[k].properties.zone;
		const cls = classes.find((c) => c.code === number);
		const d = area.map((rings) => rings.map((ring) => `M${ring.map((p) => at(p).map((v) => v.toFixed(1)).join(" ")).join("L")}Z`).join("")).join("");
		root.append(svg("path", { d, fill: cls?.[name] ?? "none", "fill-rule": "evenodd", class: "zone-area", data: { zone: number } }));
	});
	areas.forEach((area, k) => {
		const number = view.ground.features[k].properties.zone;
		for (const rings of area) {
			const spot = inside(rings.map((ring) => ring.map(at)));
			if (spot) root.append(svg("text", { x: spot.x.toFixed(1), y: spot.y.toFixed(1), class: spot.room < 22 ? "zone-number small" : "zone-number" }, number));
		}
	});
	const bar = scaleStep(width / 4 / scale, app.units.us);
	const y = height + 14;
	const long = bar.metres * scale;
	root.append(svg("path", { d: `M${MARGIN} ${y - 5}v5h${long.toFixed(1)}v-5`, class: "zone-bar" }), svg("text", { x: MARGIN, y: y + 18, class: "zone-word" }, bar.label),
		svg("path", { d: `M${width - MARGIN} ${y + 4}v-24m-5 9l5 -9l5 9`, class: "zone-bar" }), svg("text", { x: width - MARGIN, y: y + 19, class: "zone-word middle" }, app.t("zones.north")));
	return h("div", { class: "zone-drawing" }, root);
}

/**
 * From degrees to the drawing. Blocks are small: a degree is as long everywhere.
 * @param {number[][]} all places
 */
function planeOf(all) {
	if (!all.length) return null;
	let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
	for (const [lon, lat] of all) {
		[west, east] = [Math.min(west, lon), Math.max(east, lon)];
		[south, north] = [Math.min(south, lat), Math.max(north, lat)];
	}
	const degree = 111_320; // m
	const squeeze = Math.cos((((south + north) / 2) * Math.PI) / 180);
	const wide = Math.max(1, (east - west) * squeeze * degree);
	const high = Math.max(1, (north - south) * degree);
	const scale = Math.min((WIDTH - 2 * MARGIN) / wide, (MOST_HEIGHT - 2 * MARGIN) / high);
	return {
		scale,
		width: Math.max(220, wide * scale + 2 * MARGIN), height: high * scale + 2 * MARGIN,
		at: (/** @type {number[]} */ [lon, lat]) => [MARGIN + (lon - west) * squeeze * degree * scale, MARGIN + (north - lat) * degree * scale],
	};
}

/**
 * A place well inside of an area: of some lines across it, the middle of the
 * longest piece; null where there is no room for a number.
 * @param {number[][][]} rings
 */
export function inside(rings) {
	const ys = rings[0].map((p) => p[1]);
	const [top, bottom] = [Math.min(...ys), Math.max(...ys)];
	let best = { x: 0, y: 0, room: 0 };
	for (let k = 1; k < 12; k++) {
		const y = top + ((bottom - top) * k) / 12 + 0.001;
		const cuts = rings.flatMap((ring) => ring.slice(1).flatMap((b, i) => {
			const a = ring[i];
			return a[1] > y !== b[1] > y ? [a[0] + ((y - a[1]) / (b[1] - a[1])) * (b[0] - a[0])] : [];
		})).sort((a, b) => a - b);
		for (let i = 0; i + 1 < cuts.length; i += 2) {
			const off = Math.min(y - top, bottom - y) * 2; // near the middle is better than long
			const room = Math.min(cuts[i + 1] - cuts[i], off);
			if (room > best.room) best = { x: (cuts[i] + cuts[i + 1]) / 2, y, room };
		}
	}
	return best.room > 9 ? best : null;
}
