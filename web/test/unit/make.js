// Small stands for tests, and stands' own binary form written by hand after
// DEVELOPERS.md, apart from the reader under test.

/**
 * A stand of straight rows that run north, vines `step` units apart.
 * @param {{block?: number, code?: string, rows?: number, vines?: number, season?: number, revision?: number, step?: number, gap?: number, found?: string, basis?: number[], patch?: number[]}} [options] with found: its stamp, and columns of what was found
 */
export function bytesOfStand({ block = 7, code = "H3", rows = 3, vines = 5, season = 2027, revision = 4, step = 130, gap = 270, found = "", basis = [], patch = [] } = {}) {
	const count = rows * vines;
	const byteColumns = ["condition", "leaf", "vigour", "progress", "flags", "nodes", "left"];
	const columnsFound = /** @type {Record<string, number[]>} */ (found ? { basis, doubt: [], change: [], patch } : {});
	const types = { id: ["u32", 4], number: ["u16", 2], dx: ["i16", 2], dy: ["i16", 2], weight: ["u16", 2] };
	const names = ["id", "number", "dx", "dy", ...byteColumns, ...Object.keys(columnsFound), "weight"];
	const size = (/** @type {string} */ n) => (types[n]?.[1] ?? 1) * count;
	const padded = (/** @type {number} */ n) => Math.ceil(n / 8) * 8;
	const rowList = Array.from({ length: rows }, (_, r) => ({ id: 100 + r, label: String(r + 1), first: r * vines, count: vines, x: 2_000_000_000 + r * gap, y: 1_500_000_000 }));
	const head = (/** @type {number} */ from) => {
		let offset = from;
		const columns = names.map((name) => {
			const c = { name, type: types[name]?.[0] ?? "u8", offset, length: size(name) };
			offset += padded(size(name));
			return c;
		});
		return { json: JSON.stringify({ version: 1, block, code, season, revision, ground_revision: 1, ...(found ? { found } : {}), count, rows: rowList, columns }), end: offset };
	};
	const start = padded(8 + head(100_000).json.length + 8);
	const { json, end } = head(start);
	const buffer = new ArrayBuffer(end);
	const view = new DataView(buffer);
	const bytes = new Uint8Array(buffer);
	bytes.set(new TextEncoder().encode("CRSN"), 0);
	view.setUint32(4, start - 8, true);
	bytes.fill(0x20, 8, start);
	bytes.set(new TextEncoder().encode(json), 8);
	for (const c of JSON.parse(json).columns)
		for (let i = 0; i < count; i++) {
			if (c.name === "id") view.setUint32(c.offset + 4 * i, 1000 + i, true);
			else if (c.name === "number") view.setUint16(c.offset + 2 * i, (i % vines) + 1, true);
			else if (c.name === "dx") view.setInt16(c.offset + 2 * i, 0, true);
			else if (c.name === "dy") view.setInt16(c.offset + 2 * i, i % vines ? -step : 0, true);
			else if (c.name === "weight") view.setUint16(c.offset + 2 * i, 65535, true);
			else if (c.name in columnsFound) bytes[c.offset + i] = columnsFound[c.name][i] ?? 0;
			else bytes[c.offset + i] = c.name === "condition" ? 1 : c.name === "nodes" || c.name === "left" ? 255 : 0;
		}
	return buffer;
}

/** Lets promises that are due run. */
export async function settle(times = 20) {
	for (let i = 0; i < times; i++) await new Promise((resolve) => setImmediate(resolve));
}
