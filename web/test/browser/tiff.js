// Writes a small image of decimals in longitude and latitude (TIFF 6.0; GeoTIFF
// 1.1, OGC 19-008r4): one strip, not packed.

/**
 * @param {[number, number, number, number]} bounds west, south, east, north
 * @param {number} width @param {number} height pixels
 * @param {(lon: number, lat: number) => number} at value in the middle of a pixel
 */
export function writeTiff([w, s, e, n], width, height, at) {
	const dx = (e - w) / width;
	const dy = (n - s) / height;
	/** @type {[tag: number, kind: number, values: number[]][]} 3 short, 4 long, 12 double */
	const tags = [
		[256, 4, [width]], [257, 4, [height]], [258, 3, [32]], [259, 3, [1]], [262, 3, [1]], [273, 4, [1024]], [277, 3, [1]], [278, 4, [height]], [279, 4, [width * height * 4]], [339, 3, [3]],
		[33550, 12, [dx, dy, 0]], [33922, 12, [0, 0, 0, w, n, 0]], [34735, 3, [1, 1, 0, 2, 1024, 0, 1, 2, 2048, 0, 1, 4326]],
	];
	const out = Buffer.alloc(1024 + width * height * 4);
	out.write("II");
	out.writeUInt16LE(42, 2);
	out.writeUInt32LE(8, 4);
	out.writeUInt16LE(tags.length, 8);
	let more = 10 + tags.length * 12 + 4;
	tags.forEach(([tag, kind, values], k) => {
		const p = 10 + k * 12;
		const size = { 3: 2, 4: 4, 12: 8 }[kind] ?? 0;
		out.writeUInt16LE(tag, p);
		out.writeUInt16LE(kind, p + 2);
		out.writeUInt32LE(values.length, p + 4);
		let to = p + 8;
		if (size * values.length > 4) {
			out.writeUInt32LE(more, p + 8);
			to = more;
			more += size * values.length;
		}
		values.forEach((v, i) => (kind === 3 ? out.writeUInt16LE(v, to + 2 * i) : kind === 4 ? out.writeUInt32LE(v, to + 4 * i) : out.writeDoubleLE(v, to + 8 * i)));
	});
	for (let y = 0; y < height; y++) for (let x = 0; x < width; x++) out.writeFloatLE(at(w + (x + 0.5) * dx, n - (y + 0.5) * dy), 1024 + 4 * (y * width + x));
	return out;
}
