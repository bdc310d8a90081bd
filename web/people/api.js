// What the page asks the server of users, links, tokens and the log of changes.

import { ApiError } from "../lib/api.js";

/**
 * @typedef {{name: string, role: string, crew: string, made: string, by: string}} User
 * @typedef {{id: string, crew: string, made: string, by: string, until: string, days: number, joined: string | null, device: string}} Link
 * @typedef {{id: string, name: string, role: string, made: string, by: string, until: string}} Token
 * @typedef {{time: string, user: string, role: string, method: string, route: string, target: string, status: number, request: string}} Act
 */

const TIMEOUT_MS = 20_000;

/**
 * @param {typeof fetch} fetcher
 * @param {() => void} nobody called where the session has ended
 */
export function peopleApi(fetcher, nobody) {
	/** @param {string} path @param {string} [method] @param {object} [body] */
	const ask = async (path, method = "GET", body) => {
		let response;
		try {
			response = await fetcher(path, { method, signal: AbortSignal.timeout(TIMEOUT_MS), ...(body ? { headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) } : {}) });
		} catch (cause) {
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
		if (response.status === 204) return null;
		const answer = await response.json().catch(() => ({}));
		if (response.ok) return answer;
		if (response.status === 401) nobody();
		throw new ApiError(answer.detail || answer.title || `the server answered ${response.status}`, response.status, { field: answer.field });
	};
	const part = encodeURIComponent;
	return {
		/** @returns {Promise<import("../lib/whoami.js").Me>} */
		me: () => ask("/api/me"),
		/** @param {string} now @param {string} next */
		changePassword: (now, next) => ask("/api/me/password", "PUT", { now, new: next }),
		/** @returns {Promise<string[]>} names */
		crews: async () => ((await ask("/api/crews")).crews ?? []).map((/** @type {{name: string}} */ c) => c.name),
		/** @returns {Promise<User[]>} */
		users: async () => (await ask("/api/users")).users ?? [],
		/** @param {string} name @param {{role?: string, crew?: string, password?: string}} change @returns {Promise<User>} */
		saveUser: (name, change) => ask(`/api/users/${part(name)}`, "PUT", change),
		/** @param {string} name */
		removeUser: (name) => ask(`/api/users/${part(name)}`, "DELETE"),
		/** @returns {Promise<Token[]>} */
		tokens: async () => (await ask("/api/tokens")).tokens ?? [],
		/** @param {{name: string, role: string, days: number}} wish @returns {Promise<Token & {token: string}>} */
		makeToken: (wish) => ask("/api/tokens", "POST", wish),
		/** @param {string} id */
		revokeToken: (id) => ask(`/api/tokens/${part(id)}`, "DELETE"),
		/** @returns {Promise<Link[]>} */
		links: async () => (await ask("/api/crew-links")).links ?? [],
		/** @param {{crew: string, hours: number, days: number}} wish @returns {Promise<Link & {url: string, path: string}>} */
		makeLink: (wish) => ask("/api/crew-links", "POST", wish),
		/** @param {string} id */
		withdrawLink: (id) => ask(`/api/crew-links/${part(id)}`, "DELETE"),
		/** @param {string} day "": today @returns {Promise<{day: string, days: string[], acts: Act[]}>} */
		log: async (day) => {
			const { days, acts, ...rest } = await ask(`/api/audit${day ? `?day=${part(day)}` : ""}`);
			return { ...rest, days: days ?? [], acts: acts ?? [] };
		},
	};
}

/** @typedef {ReturnType<typeof peopleApi>} PeopleApi */
