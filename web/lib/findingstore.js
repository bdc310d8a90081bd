// What the page holds of findings: a summary of every block per season, and the
// details of the blocks that were asked for.

import { underWay } from "./findings.js";

/**
 * @typedef {import("./findings.js").EstateFindings} EstateFindings
 * @typedef {import("./findings.js").BlockFindings} BlockFindings
 * @typedef {import("./findings.js").BlockSummary} BlockSummary
 */

/** How long until findings that are under way are asked about again. */
const AGAIN_MS = 2_500;

export class Findings {
	/**
	 * @param {Pick<import("./api.js").Api, "findings" | "blockFindings">} api
	 * @param {{later?: (ms: number, then: () => void) => any}} [parts]
	 */
	constructor(api, { later = (ms, then) => setTimeout(then, ms) } = {}) {
		this.api = api;
		this.later = later;
		/** @type {Map<number, EstateFindings>} */
		this.seasons = new Map();
		/** @type {Map<string, BlockFindings>} */
		this.blocks = new Map();
		/** @type {Map<string, Promise<BlockFindings>>} */
		this.loading = new Map();
		/** @type {Map<number, {again: boolean}>} seasons that are being read; again: something was found meanwhile */
		this.reading = new Map();
		/** @type {Set<number>} seasons that will be read again in a moment */
		this.waiting = new Set();
		/** @type {Set<() => void>} */
		this.listeners = new Set();
	}

	/** @param {() => void} listener */
	on(listener) {
		this.listeners.add(listener);
	}

	#tell() {
		for (const listener of this.listeners) listener();
	}

	/** What is known of a block. @param {number} block @param {number} season @returns {BlockSummary | undefined} */
	summary(block, season) {
		return this.seasons.get(season)?.blocks.find((b) => b.block === block);
	}

	/**
	 * Reads the summaries of a season, and again while some are under way. Errors
	 * are left to the next reading: the map does not hang on findings.
	 * @param {number} season
	 * @param {() => number} shown the season that is looked at by then
	 */
	async read(season, shown = () => season) {
		const running = this.reading.get(season);
		if (running) {
			running.again = true;
			return;
		}
		const mine = { again: false };
		this.reading.set(season, mine);
		try {
			do {
				mine.again = false;
				this.seasons.set(season, await this.api.findings(season));
				this.#tell();
			} while (mine.again);
		} catch {
			return;
		} finally {
			this.reading.delete(season);
		}
		const busy = this.seasons.get(season)?.blocks.some((b) => underWay(b.state));
		if (!busy || this.waiting.has(season)) return;
		this.waiting.add(season);
		this.later(AGAIN_MS, () => {
			this.waiting.delete(season);
			if (shown() === season) void this.read(season, shown);
		});
	}

	/** The details of a block if they are here. @param {number} block @param {number} season */
	peek(block, season) {
		return this.blocks.get(`${block}/${season}`);
	}

	/** @param {number} block @param {number} season @returns {Promise<BlockFindings>} */
	load(block, season) {
		const here = this.peek(block, season);
		if (here) return Promise.resolve(here);
		const key = `${block}/${season}`;
		let promise = this.loading.get(key);
		if (!promise) {
			promise = this.api.blockFindings(block, season).then((found) => {
				// What is not ready yet is shown, but not kept; nor is an answer that something overtook.
				if (!underWay(found.state) && this.loading.get(key) === promise) this.blocks.set(key, found);
				this.#tell();
				return found;
			}).finally(() => {
				if (this.loading.get(key) === promise) this.loading.delete(key);
			});
			this.loading.set(key, promise);
		}
		return promise;
	}

	/** Lets go what is known of a block: another season's change may rest on it. @param {number} block */
	forget(block) {
		for (const map of [this.blocks, this.loading]) for (const key of [...map.keys()]) if (key.startsWith(`${block}/`)) map.delete(key);
	}
}
