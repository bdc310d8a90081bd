// The server's answers as values. Errors carry the server's own words.

import { runsPath } from "./pruning.js";

/** @typedef {import("./model.js").FieldEvent} FieldEvent */

/** A request that did not succeed. Status 0 means the server was not reached. */
export class ApiError extends Error {
	/**
	 * @param {string} message for people
	 * @param {number} status
	 * @param {{cause?: unknown, field?: string}} [more]
	 */
	constructor(message, status, more = {}) {
		super(message, { cause: more.cause });
		this.status = status;
		this.field = more.field;
	}
	/** The server cannot be reached or is not able to answer now; trying again may help. */
	get passing() {
		return this.status === 0 || this.status === 429 || this.status >= 500;
	}
}

const TIMEOUT_MS = 15_000;
/** What has to be worked out first, such as the plan of a large block, may take longer. */
const WORK_MS = 60_000;

/** @param {string} operation */
const ofOperation = (operation) => (operation ? `&operation=${encodeURIComponent(operation)}` : "");

/**
 * @param {typeof fetch} fetcher
 */
export function createApi(fetcher) {
	/**
	 * @param {string} path
	 * @param {RequestInit & {signal?: AbortSignal}} [init]
	 * @param {number} [ms] longest
	 */
	const call = async (path, init = {}, ms = TIMEOUT_MS) => {
		const limit = AbortSignal.timeout(ms);
		const signal = init.signal ? AbortSignal.any([init.signal, limit]) : limit;
		let response;
		try {
			response = await fetcher(path, { ...init, signal });
		} catch (cause) {
			if (init.signal?.aborted) throw cause;
			throw new ApiError("the server cannot be reached", 0, { cause });
		}
		if (!response.ok) throw await problem(response);
		return response;
	};
	/** @param {string} path @param {{signal?: AbortSignal}} [init] */
	const json = async (path, init) => whole(await call(path, init), (r) => r.json(), init?.signal);
	/** @param {string} path @param {"POST" | "PUT"} method @param {object} body @param {AbortSignal} [signal] */
	const send = async (path, method, body, signal) => whole(await call(path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body), signal }, WORK_MS), (r) => r.json(), signal);
	const pruning = (/** @type {number | string} */ block, more = "") => `/api/blocks/${encodeURIComponent(block)}/pruning${more}`;
	const replants = (/** @type {number | string} */ block, more = "") => `/api/blocks/${encodeURIComponent(block)}/replants${more}`;
	return {
		/** @returns {Promise<import("./model.js").Estate>} */
		estate: () => json("/api/estate"),
		/** @returns {Promise<import("./model.js").Legends>} */
		legends: () => json("/api/legends"),
		/** Images that can be drawn, the newest day first. @returns {Promise<import("./images.js").KeptImage[]>} */
		images: async () => (await json("/api/images")).images,
		/** Takes an image off the map; what vines were given from it stays. @param {string} id */
		removeImage: (id) => call(`/api/images/${encodeURIComponent(id)}`, { method: "DELETE", headers: { "Content-Type": "application/json" } }),
		/** @param {number} season @param {string} [operation] whose progress; empty: pruning @returns {Promise<{season: number, blocks: import("./model.js").Block[]}>} */
		blocks: (season, operation = "") => json(`/api/blocks?season=${season}${ofOperation(operation)}`),
		/** @param {number | string} block id or code @param {number} season @param {string} [operation] @returns {Promise<import("./model.js").Block>} */
		block: (block, season, operation = "") => json(`/api/blocks/${encodeURIComponent(block)}?season=${season}${ofOperation(operation)}`),
		/** @param {number} block @param {number} season @param {string} [operation] */
		stand: async (block, season, operation = "") => whole(await call(`/api/blocks/${block}/stand/${season}${operation ? `?operation=${encodeURIComponent(operation)}` : ""}`), (r) => r.arrayBuffer()),
		/** @param {number} block @param {number} season @param {number} since @param {string} found stamp of the findings held @param {string} [operation] */
		standSince: (block, season, since, found, operation = "") => json(`/api/blocks/${block}/stand/${season}?since=${since}&found=${encodeURIComponent(found)}${ofOperation(operation)}`),
		/** The operations there are. @returns {Promise<{name: string, on: number}[]>} */
		operations: async () => (await json("/api/operations")).operations,
		/** @param {number} season @returns {Promise<import("./findings.js").EstateFindings>} */
		findings: (season) => json(`/api/findings?season=${season}`),
		/** @param {number | string} block id or code @param {number} season @param {number | null} [since] null: the latest that can be compared @param {AbortSignal} [signal] @returns {Promise<import("./findings.js").BlockFindings>} */
		blockFindings: (block, season, since, signal) => json(`/api/blocks/${encodeURIComponent(block)}/findings?season=${season}${since ? `&since=${since}` : ""}`, { signal }),
		/** Works findings out again, or stops doing so. @param {number} season @param {number[] | null} blocks null: all @param {"again" | "cancel"} act */
		async findingsDo(season, blocks, act) {
			await call("/api/findings", { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ season, blocks, do: act }) });
		},
		/** Which vines to weigh next. @param {number | string} block @param {number} season @param {{number?: number, error?: number, again?: boolean}} wish @param {AbortSignal} [signal] @returns {Promise<import("./findings.js").Weighing>} */
		weighing: (block, season, wish, signal) => json(weighingPath(block, season, wish), { signal }),
		/** Lists of vines to weigh that phones carry. @param {number} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./findings.js").HandedList[]>} */
		handedLists: async (block, season, signal) => (await json(`/api/weighings?block=${block}&season=${season}`, { signal })).weighings,
		/** @param {{by: string, season: number, block: number, crew: string, unit: string, vines: number[]}} list crew "" for every crew */
		handOver: (list) => send("/api/weighings", "POST", list),
		/** @param {string} id of a list that was handed over */
		withdrawHanded: (id) => call(`/api/weighings/${encodeURIComponent(id)}`, { method: "DELETE", headers: { "Content-Type": "application/json" } }),
		/** Lists of places to look at that phones carry. @param {number} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./replants.js").HandedReview[]>} */
		handedReviews: async (block, season, signal) => (await json(`/api/reviews?block=${block}&season=${season}`, { signal })).reviews,
		/** @param {{by: string, season: number, block: number, crew: string, vines: number[]}} list crew "" for every crew */
		handOverReview: (list) => send("/api/reviews", "POST", list),
		/** @param {string} id of a list that was handed over */
		withdrawReview: (id) => call(`/api/reviews/${encodeURIComponent(id)}`, { method: "DELETE", headers: { "Content-Type": "application/json" } }),
		/** @returns {Promise<{name: string}[]>} */
		crews: async () => (await json("/api/crews")).crews,
		/** What the owner of a block set, or of the estate. @param {number | string | null} block null: the estate @param {AbortSignal} [signal] @returns {Promise<import("./standards.js").Settled>} */
		standards: (block, signal) => json(block === null ? "/api/standards" : `/api/blocks/${encodeURIComponent(block)}/standards`, { signal }),
		/** @param {number | string | null} block null: the estate @param {string} by @param {object} standards parts left out are the estate's or the defaults @returns {Promise<import("./standards.js").Settled>} */
		saveStandards: (block, by, standards) => send(block === null ? "/api/standards" : `/api/blocks/${encodeURIComponent(block)}/standards`, "PUT", { by, standards }),
		/** With which earlier season the map compares a season. @param {number} season @param {number} since @param {string} by */
		compareWith: (season, since, by) => send("/api/findings/since", "PUT", { season, since, by }),
		/** @param {number | string} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Plan>} */
		plan: (block, season, signal) => json(pruning(block, `?season=${season}`), { signal }),
		/** A plan that is not kept. @param {number | string} block @param {number} season @param {object | null} standards null: those in force @param {import("./pruning.js").PlanOptions} options @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Preview>} */
		previewPlan: (block, season, standards, options, signal) => send(pruning(block, "/preview"), "POST", { season, standards, options }, signal),
		/** Makes a version of the plan and keeps it. @param {number | string} block @param {number} season @param {string} by @param {object | null} standards kept for the block first @param {import("./pruning.js").PlanOptions} options @returns {Promise<import("./pruning.js").Plan>} */
		makePlan: (block, season, by, standards, options) => send(pruning(block), "POST", { season, by, standards, options }),
		/** @param {number | string} block @param {number} season @param {number} version @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Comparison>} */
		comparePlans: (block, season, version, signal) => json(pruning(block, `/compare?season=${season}&with=${version}`), { signal }),
		/** @param {number | string} block @param {number} season @param {import("./pruning.js").RunsWish} wish @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Runs>} */
		runs: (block, season, wish, signal) => json(runsPath(block, season, wish), { signal }),
		/** @param {number | string} block @param {number} season @param {number} number @param {number} seed @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Practice>} */
		practice: (block, season, number, seed, signal) => json(pruning(block, `/practice?season=${season}&number=${number}&seed=${seed}`), { signal }),
		/** @param {number | string} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").Left>} */
		left: (block, season, signal) => json(pruning(block, `/left?season=${season}`), { signal }),
		/** @param {number | string} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").FollowUps>} */
		followUps: (block, season, signal) => json(pruning(block, `/follow-ups?season=${season}`), { signal }),
		/** @param {number} id @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./pruning.js").VinePlan>} */
		vinePlan: (id, season, signal) => json(`/api/vines/${id}/pruning?season=${season}`, { signal }),
		/** Renewals of a vine over several winters; none takes them away. @param {number} id @param {string} by @param {import("./pruning.js").RenewalPlan[]} plans */
		saveRenewals: (id, by, plans) => send(`/api/vines/${id}/renewals`, "PUT", { by, plans }),
		/** Which spur and which cane to keep; nothing is kept of it. @param {{vine: number, season: number, canes: number, climb_limit_mm: number, arms: import("./pruning.js").ArmSeen[]}} seen @returns {Promise<import("./pruning.js").WoodAnswer>} */
		chooseWood: (seen) => send("/api/pruning/renewal", "POST", seen),
		/** What falls due this winter. @param {number | string} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<{vines: {id: number, address: string, arm: string, step: string, season: number, text: string}[] | null}>} */
		renewals: (block, season, signal) => json(pruning(block, `/renewals?season=${season}`), { signal }),
		/** A person decides for some vines; -1 leaves a number as computed. @param {number | string} block @param {{season: number, by: string, reason?: string, vines: number[], nodes?: number, canes?: number, clear?: boolean}} wish */
		override: (block, wish) => send(pruning(block, "/overrides"), "PUT", wish),
		/** Gaps and replants of a block. @param {number | string} block @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./replants.js").Replants>} */
		replants: (block, season, signal) => json(replants(block, `?season=${season}`), { signal }),
		/** The same with other settings, a planting day or counts; nothing is kept. @param {number | string} block @param {import("./replants.js").ReplantWish} wish @param {AbortSignal} [signal] @returns {Promise<import("./replants.js").Replants>} */
		previewReplants: (block, wish, signal) => send(replants(block, "/preview"), "POST", wish, signal),
		/** Takes places one step on: all or none. @param {number | string} block @param {{by: string, vines: number[], to: string, day?: string, batch?: string, note?: string}} step */
		replantSteps: (block, step) => send(replants(block, "/steps"), "POST", step),
		/** All blocks in short, and one order. @param {number} season @param {string} plantOn @param {boolean} potted @param {AbortSignal} [signal] @returns {Promise<import("./replants.js").EstateReplants>} */
		estateReplants: (season, plantOn, potted, signal) => json(`/api/replants?season=${season}${plantOn ? `&plant_on=${plantOn}` : ""}${potted ? "&potted=1" : ""}`, { signal }),
		/** @param {number} id @param {number} season @param {AbortSignal} [signal] @returns {Promise<import("./replants.js").VineReplant>} */
		vineReplant: (id, season, signal) => json(`/api/vines/${id}/replants?season=${season}`, { signal }),
		/** @param {number | string} block @param {number} season @returns {Promise<import("./zones.js").ZonesList>} */
		zonesOf: (block, season) => json(`/api/blocks/${encodeURIComponent(block)}/zones?season=${season}`),
		/** @param {number} id @param {AbortSignal} [signal] @returns {Promise<import("./model.js").Vine>} */
		vine: (id, signal) => json(`/api/vines/${id}`, { signal }),
		/** @param {string} text @param {AbortSignal} [signal] @returns {Promise<{vines: import("./model.js").FoundVine[]}>} */
		find: (text, signal) => json(`/api/vines?find=${encodeURIComponent(text)}`, { signal }),
		/** @param {FieldEvent[]} events @returns {Promise<import("./model.js").PostAnswer>} */
		async postEvents(events) {
			const body = JSON.stringify({ sent_at: new Date().toISOString(), events });
			const headers = { "Content-Type": "application/json" };
			return whole(await call("/api/events", { method: "POST", headers, body }), (r) => r.json());
		},
	};
}

/** @typedef {ReturnType<typeof createApi>} Api */

/**
 * Where the weighing list of a block is, as JSON or, with ".csv", for other programs.
 * @param {number | string} block
 * @param {number} season
 * @param {{number?: number, error?: number, again?: boolean}} wish
 * @param {"" | ".csv"} [form]
 */
export function weighingPath(block, season, { number, error, again }, form = "") {
	const words = [`season=${season}`];
	if (number) words.push(`number=${number}`);
	else if (error) words.push(`error=${error}`);
	if (again) words.push("again=1");
	return `/api/blocks/${encodeURIComponent(block)}/weighing${form}?${words.join("&")}`;
}

/**
 * Reads an answer to its end; one that breaks off on the way is as good as none.
 * @template T
 * @param {Response} response
 * @param {(response: Response) => Promise<T>} read
 * @param {AbortSignal} [signal] that of whoever asked
 */
async function whole(response, read, signal) {
	try {
		return await read(response);
	} catch (cause) {
		if (signal?.aborted) throw cause;
		throw new ApiError(cause instanceof SyntaxError ? "the server's answer cannot be understood" : "the server cannot be reached", 0, { cause });
	}
}

/** @param {Response} response */
async function problem(response) {
	let text = `the server answered ${response.status}`;
	let field;
	try {
		const body = await response.json();
		text = body.detail || body.title || text;
		field = body.field;
	} catch {
		// An answer from something in between that is no JSON: the status must do.
	}
	return new ApiError(text, response.status, { field });
}
