// What this page asks the server for.

import { ApiError } from "../lib/api.js";

/**
 * @typedef {import("../lib/pen.js").LonLat} LonLat
 * @typedef {{kind: string, slight: boolean, text: string, at: LonLat | null, sides: number[], block: string, area_m2: number}} Fault
 * @typedef {{area_m2: number, rim_m: number, fit: boolean, faults: Fault[]}} Judged
 * @typedef {{id: number, label: string, length_m: number, vines: number, line: LonLat[][], first: LonLat}} MadeRow
 * @typedef {{block: number, code: string, known: boolean, rows: MadeRow[], vines: number, row_m: number, area_m2: number, planted_m2: number, vines_per_ha: number, short: number, missed: number, points: LonLat[][] | null}} Made
 * @typedef {{id: number, label: string, was: string, turned: boolean, vines: number, line: LonLat[][]}} NumberedRow
 * @typedef {{block: number, code: string, was_code: string, rows: NumberedRow[], vines: number, orders: number, changed: boolean}} Numbers
 * @typedef {{id: string, what: string, code: string, rows: number, vines: number, made: string, by: string, other_code?: string, of?: string, undoes?: string}} Change
 * @typedef {{block: number, code: string, rows: number, vines: number, area_m2: number, outline: LonLat[][]}} GroundPart
 * @typedef {{row: number, label: string, was: string, vines: number, stay: number, line: LonLat[][]}} RegroupedRow
 * @typedef {{parts: GroundPart[], rows: RegroupedRow[], vines: number, carry: {what: string, count: number}[], words: string[], lines: LonLat[][]}} Regrouped
 * @typedef {{block: number, code: string, outline: LonLat[][], rows: number, drawn: number, changes: Change[], undo: string, undo_why: string, planted: {row_spacing_m: number, vine_spacing_m: number}}} GroundState
 */

/** @param {typeof fetch} fetcher */
export function groundApi(fetcher) {
	/** @param {string} path @param {RequestInit} [init] */
	const call = async (path, init = {}) => {
		let answer;
		try {
			answer = await fetcher(path, init);
		} catch (cause) {
			if (init.signal?.aborted) throw cause;
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
		if (answer.ok) return answer.json();
		const said = await answer.json().catch(() => ({}));
		throw new ApiError(said.detail ?? `the server answered ${answer.status}`, answer.status, { field: said.field });
	};
	const send = (/** @type {string} */ path, /** @type {object} */ body, /** @type {AbortSignal | undefined} */ signal = undefined) =>
		call(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal });
	const of = (/** @type {number} */ block, /** @type {string} */ more) => `/api/blocks/${block}/${more}`;
	return {
		/** @param {object} drawing @param {AbortSignal} signal @returns {Promise<Judged>} */
		tryBlock: (drawing, signal) => send("/api/blocks/try", drawing, signal),
		/** @param {object} drawing @returns {Promise<{id: number, code: string, known: boolean}>} */
		keepBlock: (drawing) => send("/api/blocks", drawing),
		/** @param {number} block @param {object} order @param {AbortSignal} signal @returns {Promise<Made>} */
		tryRows: (block, order, signal) => send(of(block, "rows/try"), order, signal),
		/** @param {number} block @param {object} order @returns {Promise<Made>} */
		keepRows: (block, order) => send(of(block, "rows"), order),
		/** @param {number} block @param {object} order @param {AbortSignal} signal @returns {Promise<Numbers>} */
		tryNumbers: (block, order, signal) => send(of(block, "numbers/try"), order, signal),
		/** @param {number} block @param {object} order @returns {Promise<Numbers>} */
		keepNumbers: (block, order) => send(of(block, "numbers"), order),
		/** @param {number} block @param {object} order @param {AbortSignal} signal @returns {Promise<Regrouped>} */
		trySplit: (block, order, signal) => send(of(block, "split/try"), order, signal),
		/** @param {number} block @param {object} order @returns {Promise<Regrouped>} */
		keepSplit: (block, order) => send(of(block, "split"), order),
		/** @param {number} block @param {object} order @param {AbortSignal} signal @returns {Promise<Regrouped>} */
		tryJoin: (block, order, signal) => send(of(block, "join/try"), order, signal),
		/** @param {number} block @param {object} order @returns {Promise<Regrouped>} */
		keepJoin: (block, order) => send(of(block, "join"), order),
		/** @param {number} block @returns {Promise<GroundState>} */
		state: (block) => call(of(block, "ground")),
		/** What was taken back. @param {number} block @param {string} id @param {string} by @returns {Promise<Change>} */
		takeBack: (block, id, by) => call(`${of(block, "ground")}/${encodeURIComponent(id)}?by=${encodeURIComponent(by)}`, { method: "DELETE", headers: { "Content-Type": "application/json" } }),
	};
}

/** @typedef {ReturnType<typeof groundApi>} GroundApi */
