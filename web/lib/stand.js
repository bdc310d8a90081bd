// Reads the binary stand of a block: its vines in one season as columns.

/**
 * @typedef {object} StandRow
 * @property {number} id
 * @property {string} label
 * @property {number} first index of its first vine
 * @property {number} count
 *
 * @typedef {object} Columns what may change while the page is open
 * @property {Uint8Array} condition
 * @property {Uint8Array} leaf
 * @property {Uint8Array} vigour
 * @property {Uint8Array} progress
 * @property {Uint8Array} flags
 * @property {Uint8Array} nodes 255 none
 * @property {Uint8Array} left 255 none
 * @property {Uint8Array} load class of the nodes planned, 0 no plan
 * @property {Uint8Array} follow job at shoot thinning, 0 none
 *
 * @typedef {object} FoundColumns what was worked out of the measures; all 0 until it is
 * @property {Uint8Array} basis where the vigour is from
 * @property {Uint8Array} doubt how unsure it is
 * @property {Uint8Array} change since an earlier season
 * @property {Uint8Array} patch how the vine stands in its surroundings
 * @property {Uint8Array} zone zone for rates by the version in use, 1 the weakest, 0 none
 * @property {Uint8Array} replant kind of gap, or step of its replacement
 *
 * @typedef {object} StandHead
 * @property {number} block
 * @property {string} code
 * @property {number} season
 * @property {number} revision
 * @property {number} groundRevision
 * @property {string} found stamp of what was worked out; empty: nothing yet
 * @property {number} count
 * @property {StandRow[]} rows
 * @property {Uint32Array | Float64Array} id
 * @property {Uint16Array} number
 * @property {Float64Array} wx world position, 0 to 2^32, from 180° west to the east
 * @property {Float64Array} wy the same from the north to the south
 * @property {Uint16Array} weight g, 65535 none
 * @property {Columns} base what the server said
 *
 * @typedef {StandHead & Columns & FoundColumns} Stand the columns hold what is shown: base and what waits to be sent
 */

/** The bytes could not be read as a stand. */
export class StandError extends Error {}

const MAGIC = 0x4e535243; // "CRSN", little-endian
const TYPES = { u8: Uint8Array, i16: Int16Array, u16: Uint16Array, i32: Int32Array, u32: Uint32Array, f64: Float64Array };

/** Columns that events change, one byte per vine. */
export const BYTE_COLUMNS = /** @type {const} */ (["condition", "leaf", "vigour", "progress", "flags", "nodes", "left", "load", "follow"]);

/** Those that a server of before pruning plans does not send: all 0 then. @type {Set<string>} */
const LATER = new Set(["load", "follow"]);

/** Columns that are worked out; they change only with the whole stand. */
export const FOUND_COLUMNS = /** @type {const} */ (["basis", "doubt", "change", "patch", "replant", "zone"]);

/**
 * Decodes a stand. Throws a StandError that says what is wrong.
 * @param {ArrayBuffer} buffer
 * @returns {Stand}
 */
export function decodeStand(buffer) {
	const head = readHead(buffer);
	const column = columnReader(buffer, head);
	const has = (/** @type {string} */ name) => head.columns.some((/** @type {any} */ c) => c.name === name);
	const { wx, wy } = positions(head, column("dx", ["i16", "i32"]), column("dy", ["i16", "i32"]));
	/** @type {any} */
	const stand = {
		block: head.block, code: head.code, season: head.season,
		revision: head.revision, groundRevision: head.ground_revision, found: head.found ?? "", count: head.count,
		rows: head.rows.map((/** @type {any} */ r) => ({ id: r.id, label: r.label, first: r.first, count: r.count })),
		id: column("id", ["u32", "f64"]), number: column("number", ["u16"]), weight: column("weight", ["u16"]), wx, wy, base: {},
	};
	for (const name of BYTE_COLUMNS) {
		stand.base[name] = has(name) || !LATER.has(name) ? column(name, ["u8"]) : new Uint8Array(head.count);
		stand[name] = stand.base[name].slice();
	}
	for (const name of FOUND_COLUMNS) stand[name] = has(name) ? column(name, ["u8"]) : new Uint8Array(head.count);
	return stand;
}

/** @param {ArrayBuffer} buffer */
function readHead(buffer) {
	const view = new DataView(buffer);
	if (buffer.byteLength < 8 || view.getUint32(0, true) !== MAGIC) throw new StandError("this is not a stand");
	const length = view.getUint32(4, true);
	if (8 + length > buffer.byteLength) throw new StandError("the stand is cut off in its head");
	const text = new TextDecoder().decode(new Uint8Array(buffer, 8, length));
	let head;
	try {
		head = JSON.parse(text);
	} catch (cause) {
		throw new StandError("the head of the stand cannot be read", { cause });
	}
	if (head.version !== 1) throw new StandError(`the stand has version ${head.version}, this page reads version 1`);
	let next = 0;
	for (const row of head.rows) {
		if (row.first !== next) throw new StandError(`row ${row.label} of the stand begins at ${row.first}, not at ${next}`);
		next += row.count;
	}
	if (next !== head.count) throw new StandError(`the rows of the stand hold ${next} vines, its head says ${head.count}`);
	return head;
}

/**
 * @param {ArrayBuffer} buffer
 * @param {any} head
 * @returns {(name: string, types: string[]) => any}
 */
function columnReader(buffer, head) {
	return (name, types) => {
		const c = head.columns.find((/** @type {any} */ k) => k.name === name);
		if (!c) throw new StandError(`the stand has no column ${name}`);
		if (!types.includes(c.type)) throw new StandError(`column ${name} of the stand has type ${c.type}`);
		const Type = TYPES[/** @type {keyof typeof TYPES} */ (c.type)];
		if (c.length !== head.count * Type.BYTES_PER_ELEMENT || c.offset % 8 !== 0 || c.offset + c.length > buffer.byteLength)
			throw new StandError(`column ${name} of the stand is cut off`);
		return new Type(buffer, c.offset, head.count);
	};
}

/**
 * Adds up the steps along each row.
 * @param {any} head
 * @param {Int16Array | Int32Array} dx
 * @param {Int16Array | Int32Array} dy
 */
function positions(head, dx, dy) {
	const wx = new Float64Array(head.count);
	const wy = new Float64Array(head.count);
	for (const row of head.rows) {
		let x = row.x;
		let y = row.y;
		for (let i = row.first; i < row.first + row.count; i++) {
			x += dx[i];
			y += dy[i];
			wx[i] = x;
			wy[i] = y;
		}
	}
	return { wx, wy };
}

/**
 * Lays what changed on the server over the stand's base columns.
 * @param {Stand} stand
 * @param {any} delta answer to ?since=
 * @returns {number[]} the vines that changed, by index
 */
export function applyDelta(stand, delta) {
	for (const name of BYTE_COLUMNS) {
		const values = delta[name];
		if (!values) continue;
		for (let k = 0; k < delta.index.length; k++) stand.base[name][delta.index[k]] = values[k];
	}
	stand.revision = delta.revision;
	return delta.index;
}

/**
 * Index of the row that holds vine i.
 * @param {Stand} stand
 * @param {number} i
 */
export function rowOf(stand, i) {
	let low = 0;
	let high = stand.rows.length - 1;
	while (low < high) {
		const mid = (low + high + 1) >> 1;
		if (stand.rows[mid].first <= i) low = mid;
		else high = mid - 1;
	}
	return low;
}

/**
 * Address of vine i, such as H3/12/41.
 * @param {Stand} stand
 * @param {number} i
 */
export function addressOf(stand, i) {
	return `${stand.code}/${stand.rows[rowOf(stand, i)].label}/${stand.number[i]}`;
}

/** @type {WeakMap<Stand, Map<number, number>>} */
const indexes = new WeakMap();

/**
 * Index of the vine with an id, -1 if it does not stand here.
 * @param {Stand} stand
 * @param {number} id
 */
export function indexOf(stand, id) {
	let map = indexes.get(stand);
	if (!map) {
		map = new Map();
		for (let i = 0; i < stand.count; i++) map.set(stand.id[i], i);
		indexes.set(stand, map);
	}
	return map.get(id) ?? -1;
}
