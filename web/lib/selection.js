// Which vines are chosen: by index in their block's ground, over all seasons.

import { rowOf } from "./stand.js";

/**
 * @typedef {import("./stand.js").Stand} Stand
 * @typedef {{stand: Stand, indexes: Set<number>}} Chosen
 */

export class Selection {
	constructor() {
		/** @type {Map<number, Chosen>} by block */
		this.blocks = new Map();
		/** @type {Set<(block: number) => void>} */
		this.listeners = new Set();
	}

	/** @param {(block: number) => void} listener told which block's choice changed */
	on(listener) {
		this.listeners.add(listener);
	}

	get count() {
		let n = 0;
		for (const c of this.blocks.values()) n += c.indexes.size;
		return n;
	}

	/** @param {number} block @param {number} index */
	has(block, index) {
		return this.blocks.get(block)?.indexes.has(index) ?? false;
	}

	/** @param {number} block @returns {ReadonlySet<number>} */
	of(block) {
		return this.blocks.get(block)?.indexes ?? NOTHING;
	}

	/**
	 * Takes vines in or, with `on` false, out.
	 * @param {Stand} stand
	 * @param {Iterable<number>} indexes
	 * @param {boolean} [on]
	 */
	set(stand, indexes, on = true) {
		let chosen = this.blocks.get(stand.block);
		if (!chosen || chosen.stand.groundRevision !== stand.groundRevision) chosen = { stand, indexes: new Set() };
		for (const i of indexes) {
			if (on) chosen.indexes.add(i);
			else chosen.indexes.delete(i);
		}
		if (chosen.indexes.size) this.blocks.set(stand.block, chosen);
		else this.blocks.delete(stand.block);
		this.#tell(stand.block);
	}

	/**
	 * All of them in, or all out if all are in.
	 * @param {Stand} stand
	 * @param {number[]} indexes
	 */
	toggle(stand, indexes) {
		this.set(stand, indexes, !indexes.every((i) => this.has(stand.block, i)));
	}

	clear() {
		const blocks = [...this.blocks.keys()];
		this.blocks.clear();
		for (const block of blocks) this.#tell(block);
	}

	/** Rows or vines of a block changed: indexes mean something else now. @param {number} block */
	forget(block) {
		if (this.blocks.delete(block)) this.#tell(block);
	}

	/** @param {number} block */
	#tell(block) {
		for (const listener of this.listeners) listener(block);
	}
}

/** @type {ReadonlySet<number>} */
const NOTHING = new Set();

/**
 * The run from one vine to another: along the row, or over all rows between
 * theirs the vines with numbers between theirs.
 * @param {Stand} stand
 * @param {number} from
 * @param {number} to
 * @returns {number[]}
 */
export function runOf(stand, from, to) {
	const [r1, r2] = [rowOf(stand, from), rowOf(stand, to)].sort((a, b) => a - b);
	const [n1, n2] = [stand.number[from], stand.number[to]].sort((a, b) => a - b);
	const run = [];
	for (let r = r1; r <= r2; r++) {
		const row = stand.rows[r];
		for (let i = row.first; i < row.first + row.count; i++) if (stand.number[i] >= n1 && stand.number[i] <= n2) run.push(i);
	}
	return run;
}

/**
 * All vines of a row.
 * @param {Stand} stand
 * @param {number} r index of the row
 */
export function rowIndexes(stand, r) {
	const row = stand.rows[r];
	return Array.from({ length: row.count }, (_, k) => row.first + k);
}
