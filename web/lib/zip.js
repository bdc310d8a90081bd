// Packs files into a zip, unpacked as they are (PKWARE APPNOTE 6.3.10, method 0), so
// that the files of a folder go on their way as one.

/** CRC-32 (ISO 3309), bit by bit. @param {Uint8Array} bytes */
export function crc32(bytes) {
	let crc = -1;
	for (const b of bytes) {
		crc ^= b;
		for (let k = 0; k < 8; k++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
	}
	return ~crc >>> 0;
}

/** @param {{name: string, bytes: Uint8Array}[]} files @returns {Blob} */
export function zipOf(files) {
	/** @type {BlobPart[]} */
	const parts = [];
	/** @type {BlobPart[]} */
	const list = [];
	let at = 0;
	let listed = 0;
	for (const { name, bytes } of files) {
		const text = new TextEncoder().encode(name);
		const crc = crc32(bytes);
		const local = head(0x04034b50, 30, crc, bytes.length, text.length, 4);
		parts.push(local, text, /** @type {any} */ (bytes));
		const central = head(0x02014b50, 46, crc, bytes.length, text.length, 6);
		new DataView(central).setUint32(42, at, true);
		list.push(central, text);
		at += 30 + text.length + bytes.length;
		listed += 46 + text.length;
	}
	const end = new DataView(new ArrayBuffer(22));
	end.setUint32(0, 0x06054b50, true);
	end.setUint16(8, files.length, true);
	end.setUint16(10, files.length, true);
	end.setUint32(12, listed, true);
	end.setUint32(16, at, true);
	return new Blob([...parts, ...list, end.buffer], { type: "application/zip" });
}

/** What a file's two heads share, from the version needed on. @param {number} mark @param {number} length @param {number} crc @param {number} size @param {number} name @param {number} from */
function head(mark, length, crc, size, name, from) {
	const v = new DataView(new ArrayBuffer(length));
	v.setUint32(0, mark, true);
	v.setUint16(from, 20, true);
	v.setUint16(from + 2, 0x0800, true); // the name is UTF-8
	v.setUint16(from + 8, 0x21, true); // 1980-01-01
	v.setUint32(from + 10, crc, true);
	v.setUint32(from + 14, size, true);
	v.setUint32(from + 18, size, true);
	v.setUint16(from + 22, name, true);
	return v.buffer;
}
