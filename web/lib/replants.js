// The answers about gaps and replants, for the type check, and what the page works
// out of them without the server: its address, walking order, steps for many.

import { readAbout } from "./reporthash.js";

/**
 * @typedef {{value: number, low: number, high: number, unit: string, source: string, year: number}} Assumption
 * @typedef {{id: number, address: string, row: string, row_id: number, number: number, lon: number, lat: number}} VinePlace
 * @typedef {{source: string, day: string, by: string, text: string, score?: number, state: string}} Said the last that one source said, and what would hold by it alone
 * @typedef {VinePlace & {action: string, text: string, reasons: string[], stands: string, look_again: string, said: Said[]}} Candidate
 * @typedef {VinePlace & {state: string, look_again: string, contradictions: string[], run: number, reasons: string[], said: Said[]}} ReviewItem
 * @typedef {VinePlace & {stage: string, since: string, batch: string, grade: string, by: string, note: string, next: string[]}} StepPlace
 * @typedef {{survey: number, holes: number, planted: number, agreed: number, mismatches: {id: number, address: string, survey: boolean, hole: boolean, planted: boolean, text: string}[]}} Settled
 * @typedef {{kind: string, name: string, day: string, by: string, points: number, sure: number, noticed: number, doubtful: number, aside: number, east_m: number, north_m: number}} Evidence
 * @typedef {{gaps: number, positions: number, share: number, low: number, high: number, level: number, rows: number, after_allowance: number, text: string}} Rate
 * @typedef {{key: string, count: number, of: number, share: number, limit: number, beyond: boolean, to_go: number, text: string, source: string}} LimitNote
 * @typedef {{season: number, stood: number, lost: number, share: number, gaps: number, planted: number, by_cause: number[]}} YearLosses
 * @typedef {{seasons: number, at_risk: number, lost: number, share: number, low: number, high: number}} SurvivalStep
 * @typedef {{batch: string, known: boolean, curve: {plants: number, lost: number, level: number, steps: SurvivalStep[]}}} BatchSurvival
 * @typedef {{year: number, season: number, living: number, gaps: number, yield_kg: number, sold_kg: number, permitted_hl_ha: number, sales: number, picking: number, tending: number, replants: number, replacing: number, block: number, cash: number, factor: number, present: number, total: number}} Year
 * @typedef {{way: string, npv_per_ha: number, npv: number, replants: number, years: Year[]}} WayPlan
 * @typedef {{key: string, label: string, unit: string, at: number[], npv_per_ha: number[][], turns: boolean, break_even: number, to: string, text: string}} Sensitivity
 * @typedef {{plans: WayPlan[], sensitivity: Sensitivity[], advice: string[]}} WayComparison
 * @typedef {{cultivar: string, clone: string, rootstock: string}} Sort
 * @typedef {Sort & {positions: number, plants: number, in_hand: number, order: number, blocks: string[] | null}} OrderLine
 * @typedef {{lines: OrderLine[], holes: number, stakes: number, guards: number, drippers: number, order_by: string, late: boolean, soon: boolean, notes: string[] | null}} Order
 * @typedef {{id: number, row: string, positions: number, gaps: number, counted: number | null}} SampledRow
 * @typedef {{seed: number, rows: SampledRow[], allowance: number, rate: Rate, text: string}} RowSample
 *
 * @typedef {object} ReplantSettings the part replants of the standards
 * @property {Record<string, any>} find
 * @property {Record<string, any>} rules
 * @property {Record<string, number>} limits
 * @property {Record<string, number>} life
 * @property {Record<string, any>} money
 * @property {Record<string, number>} order
 * @property {number} fill_over_years
 * @property {boolean} keep_up
 * @property {number} horizon_years
 * @property {(Sort & {plants: number})[]} stock
 *
 * @typedef {object} Replants
 * @property {number} block
 * @property {string} code
 * @property {number} season
 * @property {string} today in the estate's time zone
 * @property {string} variety
 * @property {string} clone
 * @property {string} rootstock
 * @property {Record<string, number>} counts places by what is taken to stand there
 * @property {Rate} gap_rate
 * @property {Candidate[]} candidates
 * @property {{row: string, items: ReviewItem[]}[]} review
 * @property {LimitNote[]} limits
 * @property {{median_leaf: number, living: number, remaining_years: number, notes: string[] | null}} outlook
 * @property {WayComparison | null} comparison
 * @property {string} why
 * @property {{causes: string[] | null, years: YearLosses[] | null}} losses
 * @property {StepPlace[]} places
 * @property {Settled} settled
 * @property {Evidence[]} evidence
 * @property {Order | null} order
 * @property {string[]} cautions
 * @property {{source: string, counts: Record<string, number>, of: number}[]} by_source
 * @property {RowSample | null} sample
 * @property {BatchSurvival[] | null} survival
 * @property {string[]} layers what is to be told of layered vines
 * @property {ReplantSettings} settings
 * @property {{part: string, key: string, value: string, source: string}[]} figures
 * @property {{area_ha: number, positions: number, gaps: number, remaining: number, horizon: number}} case
 *
 * @typedef {{id: string, crew: string, by: string, made: string, number: number, done: number, later: number}} HandedReview a list of places to look at on the phones
 * @typedef {{season: number, settings?: object, plant_on?: string, potted?: boolean, sample?: {rows: number, seed: number, counted?: Record<string, number>}}} ReplantWish
 * @typedef {{vine: number, season: number, stands: string, look_again: string, today: string, confirmed: boolean, reasons: string[], said: Said[], why: string, place: StepPlace | null}} VineReplant
 * @typedef {{season: number, blocks: {block: number, code: string, positions: number, gaps: number, share: number, replace: number, look: number, test: number, on_the_way: number, advice: string}[], order: Order | null}} EstateReplants
 */

/**
 * @typedef {"gaps" | "review" | "compare" | "places" | "order"} ReplantPart
 * @typedef {{block: string, season: number, part: ReplantPart}} ReplantAbout
 */

export const PARTS = /** @type {const} */ (["gaps", "review", "compare", "places", "order"]);

/** What can be taken to stand in a place, from what is sure to what is open. */
export const STATES = ["missing", "dead standing", "dead above graft", "doubtful", "suspected", "living", "not judged"];

/** The steps of a place on its way to a new plant. */
export const STAGES = ["to replace", "ordered", "hole dug", "planted", "took", "failed", "withdrawn"];

/** @param {string} hash @returns {Partial<ReplantAbout>} */
export function readReplants(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	const { block, season } = readAbout(hash);
	const part = PARTS.find((p) => p === words.get("show"));
	return { ...(block ? { block } : {}), ...(season ? { season } : {}), ...(part ? { part } : {}) };
}

/** @param {ReplantAbout} about @returns {string} with # */
export function writeReplants({ block, season, part }) {
	return `#block=${encodeURIComponent(block)}&season=${season}${part === "gaps" ? "" : `&show=${part}`}`;
}

/** The key of a word of the server in the table of texts. @param {string} word */
export function wordKey(word) {
	return word.toLowerCase().replace(/[^a-z]+/g, "_");
}

/**
 * Candidates and places on their way as one list, in the order of the rows; a
 * place that is both comes once.
 * @param {Replants} answer
 */
export function allPlaces({ candidates, places }) {
	/** @type {Map<number, VinePlace & {candidate?: Candidate, place?: StepPlace}>} */
	const byId = new Map();
	for (const c of candidates) byId.set(c.id, { ...plainPlace(c), candidate: c });
	for (const p of places) if (p.stage !== "withdrawn") byId.set(p.id, { ...(byId.get(p.id) ?? plainPlace(p)), place: p });
	const rank = new Map([...candidates, ...places].map((v) => [v.row_id, v.row]));
	const rows = [...rank].sort((a, b) => byLabel(a[1], b[1])).map(([id]) => id);
	return [...byId.values()].sort((a, b) => rows.indexOf(a.row_id) - rows.indexOf(b.row_id) || a.number - b.number);
}

/** @param {VinePlace} v @returns {VinePlace} */
function plainPlace({ id, address, row, row_id, number, lon, lat }) {
	return { id, address, row, row_id, number, lon, lat };
}

/** Row labels as people count them: 2 before 10, A before B. @param {string} a @param {string} b */
function byLabel(a, b) {
	return a.localeCompare(b, "en", { numeric: true });
}

/** @typedef {ReturnType<typeof allPlaces>[number]} ListedPlace */

/**
 * The order of a walk back and forth: every other row that has something to do is
 * walked from its far end.
 * @template {VinePlace} T
 * @param {T[]} list in the order of the rows
 * @returns {T[]}
 */
export function walkOrder(list) {
	/** @type {Map<number, T[]>} */
	const rows = new Map();
	for (const v of list) rows.set(v.row_id, [...(rows.get(v.row_id) ?? []), v]);
	return [...rows.values()].flatMap((row, k) => (k % 2 ? [...row].reverse() : row));
}

/**
 * The steps that can follow for every chosen place; a place that is not on its way
 * begins as to replace.
 * @param {ListedPlace[]} chosen
 * @returns {string[]} in the order of the stages
 */
export function commonSteps(chosen) {
	if (!chosen.length) return [];
	return STAGES.filter((s) => chosen.every((v) => (v.place ? v.place.next.includes(s) : s === "to replace")));
}

/** @typedef {{what: string, stage: string, reason: string}} PlaceFilter each "" for all; stage "-": not on its way */

/** @param {ListedPlace[]} list @param {PlaceFilter} filter */
export function filtered(list, { what, stage, reason }) {
	return list.filter((v) => (!what || v.candidate?.action === what) && (!reason || v.candidate?.reasons.includes(reason)) && (!stage || (stage === "-" ? !v.place : v.place?.stage === stage)));
}

/**
 * The share alive after so many seasons, with its interval; null where the plants
 * were not followed so long that any step says it and none was lost.
 * @param {BatchSurvival["curve"]} curve
 * @param {number} seasons
 */
export function aliveAfter({ steps }, seasons) {
	const step = steps.filter((s) => s.seasons <= seasons).at(-1);
	return step ? { share: step.share, low: step.low, high: step.high } : { share: 1, low: null, high: null };
}
