// The stands that the page holds: loaded once, then kept up by what changed.

import { SHOWN, overlay } from "./overlay.js";
import { BYTE_COLUMNS, applyDelta, decodeStand } from "./stand.js";

/**
 * @typedef {import("./stand.js").Stand} Stand
 * @typedef {import("./model.js").FieldEvent} FieldEvent
 * @typedef {import("./model.js").Totals} Totals
 * @typedef {object} StandChange
 * @property {Stand} stand
 * @property {boolean} fresh a new stand; all of it is to be drawn
 * @property {number[]} indexes vines whose bytes changed, where not fresh
 * @property {Totals} [totals] as the server counts them now
 */

/** Vine-seasons held before the longest unused stand is let go. */
const LIMIT = 4_000_000;

/** How long an acknowledged record is shown over an answer that does not have it yet. */
const SETTLE_MS = 10_000;

export class Stands {
	/**
	 * @param {Pick<import("./api.js").Api, "stand" | "standSince">} api
	 * @param {{limit?: number, settleMs?: number}} [options]
	 */
	constructor(api, { limit = LIMIT, settleMs = SETTLE_MS } = {}) {
		this.api = api;
		this.limit = limit;
		this.settleMs = settleMs;
		/** @type {Map<string, Stand>} longest unused first */
		this.held = new Map();
		/** @type {Map<string, Promise<Stand>>} */
		this.loading = new Map();
		/** @type {Map<string, "changed" | "ground">} what changed while a stand was on its way: its answer may not have it */
		this.missed = new Map();
		/** @type {Map<string, {again: boolean, done: Promise<void>}>} */
		this.refreshing = new Map();
		/** @type {Map<string, Set<number>>} vines under an overlay */
		this.touched = new Map();
		/** @type {FieldEvent[]} */
		this.waiting = [];
		/** @type {Map<FieldEvent, number>} acknowledged, with the revision that had them not yet */
		this.settling = new Map();
		/** @type {import("./overlay.js").Journal} */
		this.journal = new Map();
		/** @type {Set<(change: StandChange) => void>} */
		this.listeners = new Set();
	}

	/** @param {(change: StandChange) => void} listener */
	on(listener) {
		this.listeners.add(listener);
	}

	/**
	 * The stand if it is here already.
	 * @param {number} block
	 * @param {number} season
	 */
	peek(block, season) {
		const key = `${block}/${season}`;
		const stand = this.held.get(key);
		if (stand) {
			this.held.delete(key);
			this.held.set(key, stand);
		}
		return stand;
	}

	/**
	 * @param {number} block
	 * @param {number} season
	 * @returns {Promise<Stand>}
	 */
	load(block, season) {
		const here = this.peek(block, season);
		if (here) return Promise.resolve(here);
		return this.#fetch(block, season);
	}

	/** @param {number} block @param {number} season @returns {Promise<Stand>} */
	#fetch(block, season) {
		const key = `${block}/${season}`;
		let promise = this.loading.get(key);
		if (!promise) {
			promise = this.api
				.stand(block, season)
				.then((buffer) => this.#keep(key, decodeStand(buffer)))
				.finally(() => {
					this.loading.delete(key);
					this.#makeUp(key, block, season);
				});
			this.loading.set(key, promise);
		}
		return promise;
	}

	/** Asks once more where something changed while the stand was on its way. @param {string} key @param {number} block @param {number} season */
	#makeUp(key, block, season) {
		const missed = this.missed.get(key);
		this.missed.delete(key);
		if (!missed || !this.held.has(key)) return;
		const more = missed === "ground" ? this.#fetch(block, season) : this.#refreshOne(key);
		more.catch(() => {}); // the line is down: all is asked for again when it is back
	}

	/** @param {string} key @param {Stand} stand */
	#keep(key, stand) {
		this.held.delete(key);
		this.held.set(key, stand);
		this.touched.set(key, overlay(stand, this.#events(), this.journal));
		let vines = 0;
		for (const s of this.held.values()) vines += s.count;
		for (const [old, s] of this.held) {
			if (vines <= this.limit || old === key) break;
			this.held.delete(old);
			this.touched.delete(old);
			vines -= s.count;
		}
		this.#tell({ stand, fresh: true, indexes: [] });
		return stand;
	}

	/**
	 * Asks what changed in every season held of a block, once more if told again
	 * while asking.
	 * @param {number} block
	 * @param {boolean} [ground] rows or vines changed: load anew
	 * @param {number} [season] only this one
	 */
	async refresh(block, ground = false, season) {
		const about = (/** @type {string} */ key) => key.startsWith(`${block}/`) && (season === undefined || key === `${block}/${season}`);
		for (const key of this.loading.keys()) if (about(key) && this.missed.get(key) !== "ground") this.missed.set(key, ground ? "ground" : "changed");
		const keys = [...this.held.keys()].filter(about);
		await Promise.all(keys.map((key) => (ground ? this.#fetch(block, Number(key.split("/")[1])) : this.#refreshOne(key))));
	}

	/** @param {string} key */
	async #refreshOne(key) {
		const running = this.refreshing.get(key);
		if (running) {
			running.again = true;
			return running.done;
		}
		const job = { again: false, done: Promise.resolve() };
		job.done = (async () => {
			do {
				job.again = false;
				const stand = this.held.get(key);
				if (stand) await this.#ask(key, stand);
			} while (job.again);
		})().finally(() => this.refreshing.delete(key));
		this.refreshing.set(key, job);
		return job.done;
	}

	/** @param {string} key @param {Stand} stand */
	async #ask(key, stand) {
		const delta = await this.api.standSince(stand.block, stand.season, stand.revision, stand.found);
		if (this.held.get(key) !== stand) return;
		if (delta.whole) {
			await this.#fetch(stand.block, stand.season);
			return;
		}
		const changed = applyDelta(stand, delta);
		this.#dropSettled(stand);
		this.#overlay(key, stand, changed, delta.totals);
	}

	/** @param {Stand} stand */
	#dropSettled(stand) {
		for (const [event, revision] of this.settling)
			if (event.block === stand.block && event.season === stand.season && stand.revision > revision) this.settling.delete(event);
	}

	/**
	 * Shows the records that wait, and no others.
	 * @param {FieldEvent[]} waiting in the order they were made
	 */
	setWaiting(waiting) {
		this.waiting = waiting;
		this.#overlayAll();
	}

	/**
	 * Keeps showing acknowledged records until the stand has them.
	 * @param {FieldEvent[]} events
	 */
	settle(events) {
		for (const event of events) {
			const stand = this.held.get(`${event.block}/${event.season}`);
			if (stand) this.settling.set(event, stand.revision);
		}
		setTimeout(() => {
			for (const event of events) this.settling.delete(event);
			this.#overlayAll();
		}, this.settleMs);
	}

	#events() {
		const settling = [...this.settling.keys()].filter((e) => !this.waiting.some((w) => w.id === e.id));
		return [...settling, ...this.waiting];
	}

	#overlayAll() {
		for (const [key, stand] of this.held) this.#overlay(key, stand, []);
	}

	/**
	 * Puts the shown columns right: the base, then what waits.
	 * @param {string} key
	 * @param {Stand} stand
	 * @param {number[]} changed in the base
	 * @param {Totals} [totals]
	 */
	#overlay(key, stand, changed, totals) {
		const before = this.touched.get(key) ?? new Set();
		for (const i of changed) for (const c of BYTE_COLUMNS) stand[c][i] = stand.base[c][i];
		for (const i of before) for (const c of SHOWN) stand[c][i] = stand.base[c][i];
		const after = overlay(stand, this.#events(), this.journal);
		this.touched.set(key, after);
		const indexes = [...new Set([...changed, ...before, ...after])];
		if (indexes.length || totals) this.#tell({ stand, fresh: false, indexes, totals });
	}

	/** @param {StandChange} change */
	#tell(change) {
		for (const listener of this.listeners) listener(change);
	}
}
