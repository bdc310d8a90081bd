// What the page asks the server of zones and rates.

import { ApiError } from "../lib/api.js";

const TIMEOUT_MS = 60_000;

/** @param {typeof fetch} fetcher */
export function zonesApi(fetcher) {
	/** @param {string} path @param {RequestInit} [init] @param {AbortSignal} [signal] */
	const ask = async (path, init = {}, signal) => {
		const limit = AbortSignal.timeout(TIMEOUT_MS);
		let response;
		try {
			response = await fetcher(path, { ...init, signal: signal ? AbortSignal.any([signal, limit]) : limit });
		} catch (cause) {
			if (signal?.aborted) throw cause;
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
		if (response.ok) return response;
		const answer = await response.json().catch(() => ({}));
		throw new ApiError(answer.detail || answer.title || `the server answered ${response.status}`, response.status, { field: answer.field });
	};
	const json = async (/** @type {string} */ path, /** @type {RequestInit} */ init = {}, /** @type {AbortSignal | undefined} */ signal = undefined) => (await ask(path, init, signal)).json();
	const write = (/** @type {string} */ method, /** @type {object} */ body) => ({ method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
	const zones = (/** @type {string | number} */ block, more = "") => `/api/blocks/${encodeURIComponent(block)}/zones${more}`;
	return {
		/** @param {string | number} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("../lib/zones.js").ZonesList>} */
		list: (block, season, signal) => json(zones(block, `?season=${season}`), {}, signal),
		/** @param {AbortSignal} [signal] @returns {Promise<import("../lib/zones.js").Materials>} */
		materials: (signal) => json("/api/materials", {}, signal),
		/** @param {string} by @param {import("../lib/zones.js").OwnMaterial[]} own @returns {Promise<import("../lib/zones.js").Materials>} */
		saveMaterials: (by, own) => json("/api/materials", write("PUT", { by, own })),
		/** Zones that are not kept. @param {string | number} block @param {number} season @param {import("../lib/zones.js").Order} order @param {AbortSignal} [signal] @returns {Promise<import("../lib/zones.js").View>} */
		make: (block, season, order, signal) => json(zones(block, `?season=${season}`), write("POST", order), signal),
		/** The same as a file. @param {string | number} block @param {number} season @param {import("../lib/zones.js").Order} order @param {string} form */
		file: async (block, season, order, form) => {
			const answer = await ask(zones(block, `/${form}?season=${season}`), write("POST", order));
			return { name: /filename="([^"]+)"/.exec(answer.headers.get("Content-Disposition") ?? "")?.[1] ?? form, body: await answer.blob() };
		},
		/** @param {string | number} block @param {number} season @param {string} by @param {string} note @param {import("../lib/zones.js").Order} order @returns {Promise<import("../lib/zones.js").Kept>} */
		keep: (block, season, by, note, order) => json(zones(block, "/kept"), write("POST", { season, by, note, order })),
		/** @param {string | number} block @param {number} season @param {string} id @param {AbortSignal} [signal] @returns {Promise<import("../lib/zones.js").Kept>} */
		kept: (block, season, id, signal) => json(zones(block, `/kept/${id}?season=${season}`), {}, signal),
		/** @param {string | number} block @param {number} season @param {string} now @param {string} other @param {AbortSignal} [signal] @returns {Promise<import("../lib/zones.js").Comparison>} */
		compare: (block, season, now, other, signal) => json(zones(block, `/compare?season=${season}&now=${now}&with=${other}`), {}, signal),
		/** What a machine's log says; without a value: which numbers it has. @param {string | number} block @param {number} season @param {string} id @param {Blob} log @param {{value?: string, unit?: string, crs?: string}} wish @returns {Promise<import("../lib/zones.js").Applied>} */
		applied: (block, season, id, log, wish) => json(zones(block, `/kept/${id}/applied?${new URLSearchParams({ season: String(season), ...wish })}`), { method: "POST", headers: { "Content-Type": "application/octet-stream" }, body: log }),
	};
}

/** @typedef {ReturnType<typeof zonesApi>} ZonesApi */
