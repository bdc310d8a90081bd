// What is drawn on the map of blocks and rows, as GeoJSON.

/**
 * @typedef {import("./pen.js").LonLat} LonLat
 * @typedef {{id?: number, label: string, line: LonLat[][]}} ShownRow
 * @typedef {{rows: ShownRow[], points: LonLat[][] | null, outline: LonLat[][], parts?: {code: string, goes: boolean, outline: LonLat[][]}[]}} Shown parts: blocks as they are to be; goes: the one that changes hands
 */

/** @param {any} geometry @param {object} [properties] */
const feature = (geometry, properties = {}) => ({ type: /** @type {const} */ ("Feature"), geometry, properties });

/** @param {any[]} features */
export const collection = (features) => ({ type: /** @type {const} */ ("FeatureCollection"), features });

/** What a pen has drawn: its area or line, and its points with their numbers. @param {import("./pen.js").Pen | null} pen */
export function penShapes(pen) {
	if (!pen?.points.length) return collection([]);
	const points = pen.points.map((at, i) => feature({ type: "Point", coordinates: at }, { kind: "point", number: String(i + 1), at: i }));
	const path = pen.closed ? [...pen.points, pen.points[0]] : pen.points;
	const out = [];
	if (pen.closed) out.push(feature({ type: "Polygon", coordinates: [path] }, { kind: "area" }));
	if (path.length > 1) out.push(feature({ type: "LineString", coordinates: path }, { kind: "line" }));
	return collection([...out, ...points]);
}

/** Rows with their numbers at the end where vine 1 stands, and their vines. @param {Shown | null} shown */
export function rowShapes(shown) {
	if (!shown) return collection([]);
	const outline = shown.outline.length ? [feature({ type: "MultiLineString", coordinates: shown.outline }, { kind: "outline" })] : [];
	const parts = (shown.parts ?? []).filter((p) => p.outline.length).flatMap((p) => [
		feature({ type: "MultiPolygon", coordinates: p.outline.map((ring) => [ring]) }, { kind: p.goes ? "goes" : "stays" }),
		feature({ type: "MultiLineString", coordinates: p.outline }, { kind: "outline" }),
		feature({ type: "Point", coordinates: middleOf(p.outline[0]) }, { kind: "code", label: p.code }),
	]);
	const rows = shown.rows.filter((r) => r.line.length).flatMap((r) => [
		feature({ type: "MultiLineString", coordinates: r.line }, { kind: "row" }),
		feature({ type: "Point", coordinates: r.line[0][0] }, { kind: "first", label: r.label }),
	]);
	const vines = shown.points?.length ? [feature({ type: "MultiPoint", coordinates: shown.points.flat() }, { kind: "vine" })] : [];
	return collection([...parts, ...outline, ...rows, ...vines]);
}

/** Where a code is written: the mean of the corners. @param {LonLat[]} ring @returns {LonLat} */
function middleOf(ring) {
	const corners = ring.slice(1);
	return [corners.reduce((sum, p) => sum + p[0], 0) / corners.length, corners.reduce((sum, p) => sum + p[1], 0) / corners.length];
}

/** The box around points; null without any. @param {LonLat[]} points @returns {[number, number, number, number] | null} */
export function boxOf(points) {
	if (!points.length) return null;
	const [lons, lats] = [points.map((p) => p[0]), points.map((p) => p[1])];
	return [Math.min(...lons), Math.min(...lats), Math.max(...lons), Math.max(...lats)];
}
