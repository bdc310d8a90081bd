// The shapes of pruning plans as the server sends them, for the type check, and
// small readings of them that pages and tests share.

/**
 * @typedef {{drought: boolean, untreated_every: number}} PlanOptions
 * @typedef {{text: string, vines: number, instruction?: any}} InstructionCount
 *
 * @typedef {object} Sum
 * @property {number} positions
 * @property {number} living
 * @property {number[] | null} nodes entry k counts vines with k nodes
 * @property {number[] | null} canes
 * @property {InstructionCount[] | null} instructions the most frequent first
 * @property {Record<string, number> | null} by_bound
 * @property {Record<string, number> | null} by_flag
 * @property {Record<string, number> | null} by_reason
 * @property {number} nodes_in_all
 * @property {number} area_ha 0: not known
 * @property {number} nodes_per_ha
 * @property {number} cap_per_vine 0: none
 * @property {number} cap_per_ha 0: none
 * @property {boolean} within_caps
 * @property {number} expected_kg
 * @property {number} expected_kg_per_ha
 * @property {{budburst: number, clusters_per_shoot: number, cluster_g: number}} [yield]
 * @property {number} hours of one person
 *
 * @typedef {object} Preview
 * @property {number} season
 * @property {Sum | null} sum
 * @property {string} [unclear]
 * @property {string[] | null} [notes]
 *
 * @typedef {{id: number, made: string, by: string, source: string, vines: number | null, nodes: number | null}} Version
 * @typedef {{vine: number, address: string, nodes: number, canes: number, reason: string, by?: string, id?: number, author?: string}} Override nodes, canes: -1 as computed
 *
 * @typedef {object} Plan
 * @property {number} season
 * @property {number} block
 * @property {string} code
 * @property {{id: number, made: string, by: string, source: string, options: PlanOptions | null, standards: any} | null} plan
 * @property {boolean} fresh what is known now gives the same plan
 * @property {Sum | null} sum
 * @property {Version[] | null} versions
 * @property {Override[] | null} overrides
 * @property {string} [unclear]
 * @property {string[] | null} [notes]
 *
 * @typedef {object} Comparison
 * @property {number} now
 * @property {number} with
 * @property {number} vines
 * @property {number} changed
 * @property {number} nodes_now
 * @property {number} nodes_with
 * @property {number} more
 * @property {number} fewer
 * @property {{vine: number, address: string, now: string, with: string}[] | null} list
 *
 * @typedef {{name: string, value: number, unit?: string}} Param
 * @typedef {{key: string, params?: Param[] | null, source: string, text: string}} Step
 * @typedef {{face: string, diameter_mm?: number, season?: number}} Cut
 *
 * @typedef {{arm: string, left: number, use: number, remove?: number, done?: string}} RenewalPlan seasons; done: none, left, used or removed
 *
 * @typedef {object} VinePlan
 * @property {number} season
 * @property {number} vine
 * @property {string} address
 * @property {string} line such as "1 cane of 8, 2 spurs of 2"
 * @property {number} nodes
 * @property {number} load
 * @property {number} crop
 * @property {Step[] | null} steps
 * @property {{kind: string, when: string, text: string}[] | null} follow_ups
 * @property {Override | null} override
 * @property {{id: number, text: string} | null} planned
 * @property {string[] | null} rule
 * @property {{name: string, path: string, climb_mm: number, text: string, expect?: string[] | null, cuts: Cut[] | null}[] | null} arms
 * @property {{arm: string, step: string, season: number, text: string}[] | null} [renewals]
 * @property {RenewalPlan[] | null} [renewal_plans]
 * @property {string} drawing SVG text
 * @property {string[] | null} cautions
 *
 * @typedef {object} ShootSeen a candidate as it was looked at; mm, 0 not measured
 * @property {"spur" | "cane" | "old wood"} on
 * @property {number} node
 * @property {number} out_mm
 * @property {number} wood_years
 * @property {"" | "below" | "above" | "side"} faces
 * @property {number} base_mm
 * @property {number} internode_mm
 * @property {number} diameter_mm
 * @property {boolean} sound
 * @property {boolean} base_bud_sound
 *
 * @typedef {{name: string, shoots: ShootSeen[]}} ArmSeen
 * @typedef {{shoot: number, nodes: number, text: string, climb_mm: number, climb_known: boolean, drawback: string}} SpurChoice shoots are counted from 1
 *
 * @typedef {object} ArmChoice
 * @property {string} name
 * @property {SpurChoice | null} spur
 * @property {{shoot: number, verdict: string, why: string} | null} cane
 * @property {SpurChoice | null} rebuild
 * @property {string[]} follow_ups
 * @property {{shoot: number, text: string, drawback: string}[]} alternatives
 * @property {{shoot: number, reason: string}[]} unusable
 * @property {string[]} alarms
 * @property {string[]} notes
 * @property {string[]} rule
 *
 * @typedef {{arms: ArmChoice[], keep: {arm: string, free: boolean, text: string} | null, cautions: string[]}} WoodAnswer
 *
 * @typedef {{word: string, colour: string, text: string, runs: number, vines: number}} Mark
 * @typedef {{from: number, to: number, mark: string, text: string, vines: number, alone: boolean}} Piece
 *
 * @typedef {object} Runs
 * @property {number} season
 * @property {number} block
 * @property {string} code
 * @property {Mark[] | null} marks
 * @property {{row: number, label: string, pieces: Piece[] | null}[] | null} rows
 * @property {number} misfit nodes per vine
 * @property {number} runs
 *
 * @typedef {"balance" | "mean" | "greatest"} Goal
 * @typedef {{goal: Goal, change: number, limit: number}} RunsWish
 *
 * @typedef {{vines: {id: number, address: string, text: string, nodes: number}[] | null}} Practice
 *
 * @typedef {object} Departure
 * @property {string} key
 * @property {number} vines
 * @property {number} planned mean nodes
 * @property {number} left
 * @property {number} mean of left less planned
 * @property {number} sd
 * @property {number} exact share
 * @property {number} within_1
 * @property {number} within_2
 * @property {string} leaning
 *
 * @typedef {object} Difference
 * @property {number} treated
 * @property {number} untreated
 * @property {number} mean_treated
 * @property {number} mean_untreated
 * @property {number} mean
 * @property {number} low
 * @property {number} high
 * @property {number} confidence
 * @property {boolean} told
 *
 * @typedef {{vines: number, ratio: number, read: string, by: Record<string, number> | null}} Budburst shoots counted in spring to nodes left
 *
 * @typedef {object} Left
 * @property {Departure} all
 * @property {Departure[] | null} rows
 * @property {Departure[] | null} pruners
 * @property {Budburst | null} budburst
 * @property {Difference | null} treated
 * @property {string} [why] why there is nothing of the kind
 *
 * @typedef {object} FollowUps
 * @property {{id: number, address: string, job: string, text: string, done: boolean}[] | null} vines
 * @property {number} count
 */

/** Which way a pruner departs from the plan, by the server's word. @type {Record<string, string>} */
export const LEANINGS = { "too many": "many", "too few": "few", even: "even", "too few vines to tell": "short" };

/** What is planned when nothing special is wanted. @returns {PlanOptions} */
export function plainOptions() {
	return { drought: false, untreated_every: 0 };
}

/**
 * Joins entries of a histogram where there are too many for bars that can be
 * told apart: the fewest whole nodes to a bar so that at most `most` remain.
 * Empty ends are left out.
 * @param {number[] | null | undefined} counts entry k counts vines with k
 * @param {number} most
 * @returns {{from: number, to: number, n: number}[]} both ends inclusive
 */
export function barsOf(counts, most) {
	const list = counts ?? [];
	const first = list.findIndex((n) => n > 0);
	if (first < 0) return [];
	let last = list.length - 1;
	while (list[last] === 0) last--;
	const wide = Math.max(1, Math.ceil((last - first + 1) / most));
	const start = wide > 1 ? first - (first % wide) : first;
	/** @type {{from: number, to: number, n: number}[]} */
	const bars = [];
	for (let from = start; from <= last; from += wide) {
		const n = list.slice(Math.max(0, from), from + wide).reduce((a, b) => a + b, 0);
		bars.push({ from, to: from + wide - 1, n });
	}
	return bars;
}

/** Mean of a histogram, null where it is empty. @param {number[] | null | undefined} counts */
export function meanOfCounts(counts) {
	let vines = 0;
	let sum = 0;
	(counts ?? []).forEach((n, k) => {
		vines += n;
		sum += k * n;
	});
	return vines ? sum / vines : null;
}

/** Entries of a tally, the most frequent first. @param {Record<string, number> | null | undefined} tally @returns {[string, number][]} */
export function ranked(tally) {
	return Object.entries(tally ?? {}).sort((a, b) => b[1] - a[1] || (a[0] < b[0] ? -1 : 1));
}

/** The address of a block's runs, as JSON or, with ".csv", for other programs. @param {number | string} block @param {number} season @param {RunsWish} wish @param {"" | ".csv"} [form] */
export function runsPath(block, season, { goal, change, limit }, form = "") {
	const words = [`season=${season}`, `goal=${goal}`, goal === "balance" ? `change=${change}` : `limit=${limit}`];
	return `/api/blocks/${encodeURIComponent(block)}/pruning/runs${form}?${words.join("&")}`;
}
