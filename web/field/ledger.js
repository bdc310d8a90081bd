// What this phone has recorded, laid over what the server said when there was a
// signal. Pure: the page tells it of records, it tells how vines stand.

import { CONDITIONS, PROGRESS } from "../lib/model.js";

/**
 * @typedef {import("./types.js").FieldEvent} FieldEvent
 * @typedef {import("./types.js").Logged} Logged
 * @typedef {{progress?: number, condition?: number, grams?: number}} Over grams: pruning weight, -1 none
 */

/** The operation of lists of vines to weigh: for it, weights count too. */
export const WEIGHING = "weighing";
const DONE = PROGRESS.indexOf("done");
/** Records that the bundle knows of are kept this long, so that they can be taken back. */
const KEEP_MS = 3 * 24 * 3600_000;

/** Sorted by when they were made; the sequence tells, not the clock. @param {Logged} a @param {Logged} b */
const bySeq = (a, b) => a.event.seq - b.event.seq;

export class Ledger {
	/** @param {Logged[]} entries */
	constructor(entries) {
		/** @type {Map<string, Logged>} */
		this.entries = new Map([...entries].sort(bySeq).map((e) => [e.id, e]));
		/** @type {Set<string>} ids that were taken back */
		this.taken = new Set();
		/** @type {Set<string>} ids that the server refused; they do not count */
		this.refused = new Set();
		/** @type {Map<number, Logged[]>} by row */
		this.rows = new Map();
		for (const e of this.entries.values()) this.#index(e);
	}

	/** Those that are here already, by way of the outbox, are left as they are. @param {FieldEvent[]} events @param {number} now @returns {Logged[]} what is new */
	add(events, now) {
		const fresh = events.filter((event) => !this.entries.has(event.id)).map((event) => ({ id: event.id, event, sent: false, covered: false, kept: now }));
		for (const e of fresh) {
			this.entries.set(e.id, e);
			this.#index(e);
		}
		return fresh;
	}

	/** @param {Logged} e */
	#index(e) {
		if (e.event.kind === "void") this.taken.add(e.event.value.event);
		const row = e.event.row ?? 0;
		const list = this.rows.get(row);
		if (list) list.push(e);
		else this.rows.set(row, [e]);
	}

	/** The server has them now. @param {string[]} ids @returns {Logged[]} those that changed */
	sent(ids) {
		return ids.map((id) => this.entries.get(id)).filter((e) => !!e && !e.sent).map((e) => Object.assign(/** @type {Logged} */ (e), { sent: true }));
	}

	/** Ids that the server had before a bundle was asked for. */
	sentIds() {
		return [...this.entries.values()].filter((e) => e.sent && !e.covered).map((e) => e.id);
	}

	/**
	 * What is to be written when a bundle came that was asked for after these were
	 * sent. Changes nothing yet: records go on to count until the bundle that shows
	 * them is the one in use.
	 * @param {string[]} ids
	 * @param {number} now
	 * @returns {{changed: Logged[], dropped: string[]}}
	 */
	coverage(ids, now) {
		const covered = new Set(ids);
		const all = [...this.entries.values()];
		const old = all.filter((e) => (e.covered || covered.has(e.id)) && now - e.kept > KEEP_MS);
		const dropped = old.map((e) => e.id);
		return { changed: all.filter((e) => covered.has(e.id) && !dropped.includes(e.id)).map((e) => ({ ...e, covered: true })), dropped };
	}

	/** The bundle is in use now. @param {{changed: Logged[], dropped: string[]}} what */
	cover({ changed, dropped }) {
		for (const { id } of changed) {
			const e = this.entries.get(id);
			if (e) e.covered = true;
		}
		for (const id of dropped) {
			const e = this.entries.get(id);
			if (e) this.#drop(e);
		}
	}

	/** A record that was refused and let go no longer counts. @param {string} id */
	forget(id) {
		const e = this.entries.get(id);
		if (!e) return;
		this.#drop(e);
		if (e.event.kind === "void") this.taken.delete(e.event.value.event);
	}

	/** @param {Logged} e */
	#drop(e) {
		this.entries.delete(e.id);
		const row = e.event.row ?? 0;
		this.rows.set(row, (this.rows.get(row) ?? []).filter((o) => o !== e));
	}

	/**
	 * How vines of a row stand by this phone's records that the bundle does not
	 * know of.
	 * @param {{row: number, vines: [number: number, id: number, ...rest: number[]][]}} row
	 * @param {string} operation
	 * @returns {Map<number, Over>}
	 */
	over(row, operation) {
		/** @type {Map<number, Over>} */
		const over = new Map();
		for (const e of this.rows.get(row.row) ?? []) {
			if (e.covered || e.event.kind === "void") continue;
			const says = this.taken.has(e.id) || this.refused.has(e.id) ? null : meaning(e.event, operation);
			if (!says) continue;
			const vines = e.event.vines ?? row.vines.map((v) => v[1]);
			for (const id of vines) over.set(id, { ...over.get(id), ...says });
		}
		this.#takeBackCovered(row, operation, over);
		return over;
	}

	// A record that the bundle shows, taken back since: the place is open again
	// until the next bundle says what holds.
	/** @param {{row: number, vines: [number: number, id: number, ...rest: number[]][]}} row @param {string} operation @param {Map<number, Over>} over */
	#takeBackCovered(row, operation, over) {
		for (const e of this.rows.get(row.row) ?? []) {
			if (e.event.kind !== "void" || e.covered) continue;
			const first = this.entries.get(e.event.value.event);
			if (!first?.covered) continue;
			const says = meaning(first.event, operation);
			for (const id of first.event.vines ?? row.vines.map((v) => v[1])) {
				const mine = over.get(id) ?? {};
				if (says?.progress !== undefined && mine.progress === undefined) over.set(id, { ...mine, progress: 0 });
				if (says?.condition !== undefined && mine.condition === undefined) over.set(id, { ...mine, condition: 0 });
				if (says?.grams !== undefined && mine.grams === undefined) over.set(id, { ...mine, grams: -1 });
			}
		}
	}

	/** The newest record in a row that can be taken back. @param {number} row @returns {Logged | null} */
	last(row) {
		const list = this.rows.get(row) ?? [];
		for (let i = list.length - 1; i >= 0; i--) if (list[i].event.kind !== "void" && !this.taken.has(list[i].id)) return list[i];
		return null;
	}

	/** Records not taken back that speak of any of these vines. @param {number} row @param {Set<number>} vines */
	about(row, vines) {
		return (this.rows.get(row) ?? []).filter((e) => e.event.kind !== "void" && !this.taken.has(e.id) && e.event.vines?.some((v) => vines.has(v)));
	}
}

/** What a record says of a vine's progress in an operation, or of its condition. @param {FieldEvent} event @param {string} operation @returns {Over | null} */
function meaning(event, operation) {
	switch (event.kind) {
		case "pruned":
			return operation === "pruning" ? { progress: DONE } : null;
		case "work":
			return event.value.operation === operation ? { progress: PROGRESS.indexOf(event.value.progress) } : null;
		case "measure":
			return operation === WEIGHING && event.value.quantity === "pruning_weight" ? { grams: event.value.value } : null;
		case "condition":
			return { condition: CONDITIONS.indexOf(event.value.condition) };
	}
	return null;
}
