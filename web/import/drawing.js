// The shapes of a file, drawn by themselves: north is up, east is right, one scale
// both ways.

import { h, svg } from "../map/dom.js";

const WIDE = 640;
const HIGH = 360;
const RIM = 14;

/** @typedef {import("./api.js").Shape} Shape */

/**
 * Where longitudes and latitudes lie on the sheet. A degree of longitude is as long
 * as one of latitude times the cosine of the latitude.
 * @param {Shape[]} shapes
 */
export function sheet(shapes) {
	let [west, south, east, north] = [Infinity, Infinity, -Infinity, -Infinity];
	for (const s of shapes) for (const part of s.parts) for (let i = 0; i < part.length; i += 2) {
		west = Math.min(west, part[i]);
		east = Math.max(east, part[i]);
		south = Math.min(south, part[i + 1]);
		north = Math.max(north, part[i + 1]);
	}
	const narrow = Math.cos(((south + north) / 2) * (Math.PI / 180));
	const scale = Math.min((WIDE - 2 * RIM) / Math.max((east - west) * narrow, 1e-7), (HIGH - 2 * RIM) / Math.max(north - south, 1e-7));
	const [left, top] = [(WIDE - (east - west) * narrow * scale) / 2, (HIGH - (north - south) * scale) / 2];
	return (/** @type {number} */ lon, /** @type {number} */ lat) => [left + (lon - west) * narrow * scale, top + (north - lat) * scale];
}

/**
 * The shapes of a file over what is stored there, and the points that a person must
 * look at, ringed.
 * @param {import("../lib/text.js").Texts} t
 * @param {import("./api.js").Seen} s
 * @param {Shape[]} near
 * @param {import("./api.js").PointItem[]} doubtful
 */
export function drawing(t, s, near, doubtful) {
	const to = sheet(s.shapes);
	const count = { area: 0, line: 0, point: 0 };
	const path = (/** @type {number[]} */ part, /** @type {boolean} */ closed) => {
		let d = "";
		for (let i = 0; i < part.length; i += 2) d += `${i ? "L" : "M"}${to(part[i], part[i + 1]).map((v) => v.toFixed(1)).join(" ")}`;
		return closed ? `${d}Z` : d;
	};
	const marks = [...s.shapes].sort((a, b) => rank(a) - rank(b)).map((shape) => {
		count[shape.kind]++;
		if (shape.kind === "point") return svg("g", {}, ...shape.parts.map(([lon, lat]) => {
			const [x, y] = to(lon, lat);
			return svg("circle", { class: "import-point", cx: x.toFixed(1), cy: y.toFixed(1), r: 2 });
		}));
		return svg("path", { class: `import-${shape.kind}`, d: shape.parts.map((p) => path(p, shape.kind === "area")).join("") });
	});
	const under = near.map((shape) => svg("path", { class: `import-near-${shape.kind}`, d: shape.parts.map((p) => path(p, shape.kind === "area")).join("") }));
	const rings = doubtful.map((i) => {
		const [x, y] = to(i.lon, i.lat);
		return svg("circle", { class: "import-ring", cx: x.toFixed(1), cy: y.toFixed(1), r: 6 }, svg("title", {}, [i.name, i.why].filter(Boolean).join(": ")));
	});
	const words = [count.area ? t("import.areas", { n: count.area }) : "", count.line ? t("import.lines", { n: count.line }) : "", count.point ? t("import.points", { n: count.point }) : ""].filter(Boolean).join(", ");
	return h("figure", { class: "import-drawing" },
		svg("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": t("import.drawing", { what: words }) }, ...under, ...marks, ...rings),
		h("figcaption", {}, t("import.drawing", { what: words }), near.length ? ` ${t("import.drawn_near")}` : "", rings.length ? ` ${t("import.drawn_rings", { n: rings.length })}` : "", s.drawn < s.placed ? ` ${t("import.drawn", { drawn: s.drawn, n: s.placed })}` : ""));
}

/** Areas lie under lines, lines under points. @param {Shape} s */
const rank = (s) => ["area", "line", "point"].indexOf(s.kind);
