// What the page asks the server of crews, orders and progress.

import { ApiError } from "../lib/api.js";

/**
 * @typedef {{name: string, people: number, hours_per_day: number, skilled: boolean, language: string}} Crew
 * @typedef {{name: string, label?: string, after?: string, own?: boolean, minutes: {cane: number, spur: number, young: number}, skill?: number, source?: string, cautions?: {hazard: string, advice: string, source: string}[]}} Operation
 * @typedef {import("./proposal.js").Draft & {id: string, state: string, by: string, made: string, vines: number, done: number, hours: number}} Order
 * @typedef {{season: number, operation: string, blocks: number[], rule: string, crews: string[], day: string, days: number, off: string[], every_other: boolean, corner: string}} ShareWish
 * @typedef {{orders: import("./proposal.js").Draft[], crews: import("./proposal.js").CrewShare[], left_out: number, later: number, notes: string[]}} Shared
 * @typedef {{system?: string, class: string, per_hour: number, low: number, high: number, vines: number, records: number, spells: number, standard: boolean}} Rate
 * @typedef {{left_hours: number, early: string, likely: string, late: string, level: number, deadline: string, within: boolean | null, why: string}} Forecast
 * @typedef {{day: string, crew: string, block: number, code: string, done: number, left: number}} RowDay rows done that day; left: of orders for that day, no day and no crew: in no order
 * @typedef {{vines: number, hours: number, rows: {row: number, vines: number, hours: number}[]}} OrderWork
 * @typedef {{row: string, code: string, label: string, first: string, second: string, vines: number[], when?: string}} Clash vines by number
 *
 * @typedef {object} Progress
 * @property {string} operation
 * @property {{block: number, code: string, vines: number, done: number, rows: number, rows_done: number}[]} blocks
 * @property {{day: string, done: number, total: number}[]} days
 * @property {{crew: string, day: string, done: number}[]} crews
 * @property {RowDay[]} rows
 * @property {string[]} lost days on which nobody can work
 * @property {Rate[]} rates
 * @property {Forecast | null} forecast
 * @property {Clash[]} clashes
 *
 * @typedef {{id: number, address: string, by: string, planned: string, left: string}} CheckVine
 */

/** Sharing many blocks among crews takes the server a while. */
const TIMEOUT_MS = 40_000;

/** @param {typeof fetch} fetcher */
export function workApi(fetcher) {
	/** @param {string} path @param {RequestInit} [init] */
	const call = async (path, init = {}) => {
		const limit = AbortSignal.timeout(TIMEOUT_MS);
		let response;
		try {
			response = await fetcher(path, { ...init, signal: init.signal ? AbortSignal.any([init.signal, limit]) : limit });
		} catch (cause) {
			if (init.signal?.aborted) throw cause;
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
		if (response.ok) return response;
		const body = await response.json().catch(() => ({}));
		throw new ApiError(body.detail || body.title || `the server answered ${response.status}`, response.status, { field: body.field });
	};
	const json = async (/** @type {string} */ path, /** @type {AbortSignal} */ signal) => (await call(path, { signal })).json();
	const send = async (/** @type {string} */ path, /** @type {string} */ method, /** @type {object} */ body) =>
		(await call(path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) })).json();
	const remove = async (/** @type {string} */ path) => void (await call(path, { method: "DELETE" }));
	const words = (/** @type {Record<string, string | number | undefined>} */ list) => Object.entries(list).filter(([, v]) => v !== undefined && v !== "").map(([k, v]) => `${k}=${encodeURIComponent(/** @type {string} */ (v))}`).join("&");
	return {
		/** @param {AbortSignal} [signal] @returns {Promise<Crew[]>} */
		crews: async (signal) => (await json("/api/crews", /** @type {any} */ (signal))).crews ?? [],
		/** @param {Crew} crew @returns {Promise<Crew>} */
		saveCrew: (crew) => send(`/api/crews/${encodeURIComponent(crew.name)}`, "PUT", crew),
		/** @param {string} name */
		removeCrew: (name) => remove(`/api/crews/${encodeURIComponent(name)}`),
		/** @param {AbortSignal} [signal] @returns {Promise<Operation[]>} */
		operations: async (signal) => ((await json("/api/operations", /** @type {any} */ (signal))).operations ?? []).map((/** @type {any} */ o) => ({ ...o, name: o.name ?? o.key })),
		/** The estate's own ones, all anew. @param {string} by @param {Operation[]} own */
		saveOperations: (by, own) => send("/api/operations", "PUT", { by, own }),
		/** @param {number} season @param {{crew?: string, day?: string}} which @param {AbortSignal} [signal] @returns {Promise<Order[]>} */
		orders: async (season, { crew, day }, signal) => (await json(`/api/orders?${words({ season, crew, day })}`, /** @type {any} */ (signal))).orders ?? [],
		/** Keeps all or none. @param {string} by @param {import("./proposal.js").Draft[]} orders @returns {Promise<{orders: Order[]}>} */
		keep: (by, orders) => send("/api/orders", "POST", { by, orders }),
		/** A new version of an order. @param {Order} order @returns {Promise<Order>} */
		change({ vines: _vines, done: _done, hours: _hours, ...order }) {
			return send(`/api/orders/${encodeURIComponent(order.id)}`, "PUT", order);
		},
		/** @param {string} id */
		withdraw: (id) => remove(`/api/orders/${encodeURIComponent(id)}`),
		/** A proposal; nothing is kept. @param {ShareWish} wish @returns {Promise<Shared>} */
		share: (wish) => send("/api/orders/share", "POST", wish),
		/** @param {number} season @param {string} operation @param {AbortSignal} [signal] @returns {Promise<Progress>} */
		progress: (season, operation, signal) => json(`/api/progress?${words({ season, operation })}`, /** @type {any} */ (signal)),
		/** @param {number} season @param {string} operation @param {string} day "" takes it away @param {string} by */
		deadline: (season, operation, day, by) => send("/api/progress/deadline", "PUT", { season, operation, day, by }),
		/** What a proposal comes to as it stands; nothing is kept. @param {{season: number, operation: string, rule: string, orders: import("./proposal.js").Draft[]}} wish @returns {Promise<{orders: OrderWork[], crews: import("./proposal.js").CrewShare[]}>} */
		weigh: (wish) => send("/api/orders/weigh", "POST", wish),
		/** A day on which nobody can work; days: how far what is open moves on. @param {{season: number, day: string, lost: boolean, days?: number, later?: boolean, by: string}} wish @returns {Promise<{moved: number, lost: string[]}>} */
		lostDay: (wish) => send("/api/progress/lost-day", "PUT", wish),
		/** @param {{season: number, day: string, number: number, seed?: number}} wish @param {AbortSignal} [signal] @returns {Promise<{day: string, vines: CheckVine[]}>} */
		checks: (wish, signal) => json(`/api/checks?${words(wish)}`, /** @type {any} */ (signal)),
		/** What a crew's phones are given. @param {string} crew @param {AbortSignal} [signal] @returns {Promise<{orders: {id: string, rows: {row: number, section: number, gaps: number[]}[]}[]}>} */
		field: (crew, signal) => json(`/api/field?${words({ crew })}`, /** @type {any} */ (signal)),
	};
}

/** @typedef {ReturnType<typeof workApi>} WorkApi */
