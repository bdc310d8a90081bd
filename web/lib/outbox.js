// Records on their way to the server. A record leaves this computer only when
// the server has said, for its id, that it is stored or was known; a refused
// one stays in sight with the reason until a person settles it.

/**
 * @typedef {import("./model.js").FieldEvent} FieldEvent
 * @typedef {{event: FieldEvent, refused?: string}} Entry
 *
 * @typedef {object} OutboxStore where records wait; every method resolves when it is done for good
 * @property {(drafts: FieldEvent[]) => Promise<FieldEvent[]>} add numbers and keeps them
 * @property {() => Promise<Entry[]>} list in the order they were made
 * @property {(ids: string[]) => Promise<void>} remove
 * @property {(id: string, reason: string) => Promise<void>} refuse
 *
 * @typedef {object} OutboxState
 * @property {Entry[]} entries
 * @property {boolean} sending
 * @property {string | null} trouble why the last try did not get through
 * @property {number | null} lastSent ms
 * @property {number} skewMs server clock minus ours, at the last answer
 */

const BATCH_EVENTS = 200;
const BATCH_BYTES = 1_500_000;
const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 30_000;
/** So few records are still worth a request of their own, on a line on which more do not get through. */
const FEWEST_EVENTS = 10;
/** While nothing gets through, new records do not ask for another try sooner than this. */
const LEAST_WAIT_MS = 3_000;
/** Other pages tell when they change the store; all the same it is read anew this often. */
const READ_AGAIN_MS = 60_000;

export class Outbox {
	/**
	 * @param {object} parts
	 * @param {OutboxStore} parts.store
	 * @param {Pick<import("./api.js").Api, "postEvents">} parts.api
	 * @param {<T>(work: () => Promise<T>) => Promise<T | undefined>} [parts.alone] runs work unless another page does so
	 * @param {(events: FieldEvent[]) => any} [parts.onStored] the records leave this computer when this is done
	 * @param {() => void} [parts.tellOthers] other pages on this computer
	 * @param {(ms: number, then: () => void) => any} [parts.later]
	 */
	constructor({ store, api, alone = (work) => work(), onStored, tellOthers, later = (ms, then) => setTimeout(then, ms) }) {
		this.store = store;
		this.api = api;
		this.alone = alone;
		this.later = later;
		/** @type {Set<(state: OutboxState) => void>} */
		this.listeners = new Set();
		this.onStored = onStored ?? (() => {});
		this.tellOthers = tellOthers ?? (() => {});
		/** @type {OutboxState} */
		this.state = { entries: [], sending: false, trouble: null, lastSent: null, skewMs: 0 };
		this.fails = 0;
		this.triedAt = 0;
		this.readAt = -Infinity;
		/** @type {any} null where no try is planned */
		this.timer = null;
		/** Records of the next batch: fewer while the line is too slow for many. */
		this.size = BATCH_EVENTS;
		/** @type {Promise<void> | null} */
		this.running = null;
		this.asked = false;
	}

	/** @param {(state: OutboxState) => void} listener */
	on(listener) {
		this.listeners.add(listener);
	}

	/** Events that still wait, in the order they were made. */
	get waiting() {
		return this.state.entries.filter((e) => e.refused === undefined).map((e) => e.event);
	}

	/** Reads what waits from earlier and begins to send. */
	async open() {
		await this.reload();
		void this.kick();
	}

	/** Another page changed the store. */
	async reload() {
		this.readAt = Date.now();
		this.#show({ entries: await this.store.list() });
	}

	/**
	 * Keeps records for good, then sends them. Resolves once they are kept.
	 * @param {FieldEvent[]} drafts
	 */
	async add(drafts) {
		const events = await this.store.add(drafts);
		this.#show({ entries: [...this.state.entries, ...events.map((event) => ({ event }))] });
		this.tellOthers();
		if (!this.fails || Math.abs(Date.now() - this.triedAt) > LEAST_WAIT_MS) void this.kick();
		else if (!this.running) this.#plan();
		return events;
	}

	/**
	 * A person has read why a record was refused and lets it go.
	 * @param {string} id
	 */
	async letGo(id) {
		await this.store.remove([id]);
		await this.reload();
		this.tellOthers();
	}

	/** Tries to send now. Resolves when nothing more can be done for the moment. */
	kick() {
		this.asked = true;
		this.running ??= this.#run();
		return this.running;
	}

	/** The line may be there again, or a person asks: what failed before does not count. */
	hurry() {
		this.fails = 0;
		return this.kick();
	}

	async #run() {
		clearTimeout(this.timer);
		this.timer = null;
		try {
			while (this.asked) {
				this.asked = false;
				await this.#try();
			}
		} finally {
			// In one step with the last look at what was asked: no request to send gets lost between.
			this.running = null;
			this.#plan();
		}
	}

	async #try() {
		this.triedAt = Date.now();
		try {
			await this.alone(() => this.#sendAll());
			this.fails = 0;
			if (this.state.trouble) this.#show({ trouble: null });
		} catch (error) {
			this.fails++;
			this.#show({ trouble: error instanceof Error ? error.message : String(error) });
		}
		this.#show({ sending: false });
	}

	/** Every end of a try plans the next one, while anything waits. */
	#plan() {
		if (this.timer !== null || !this.waiting.length) return;
		this.timer = this.later(this.#wait(), () => {
			this.timer = null;
			void this.kick();
		});
	}

	/** Waits longer after each failure, with some randomness. */
	#wait() {
		const ms = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.max(0, this.fails - 1));
		return ms * (0.7 + 0.6 * Math.random());
	}

	async #sendAll() {
		if (Math.abs(Date.now() - this.readAt) > READ_AGAIN_MS) await this.reload();
		let size = this.size;
		for (let batch = this.#batch(size); batch.length; batch = this.#batch(size)) {
			this.#show({ sending: true });
			let answer;
			try {
				answer = await this.api.postEvents(batch);
			} catch (error) {
				const status = /** @type {any} */ (error).status;
				if (![400, 413, 422].includes(status)) {
					// On a slow line many records take longer than a request may: fewer get through.
					if (!status) this.size = Math.max(FEWEST_EVENTS, Math.ceil(Math.min(this.size, batch.length) / 2));
					throw error;
				}
				// The batch as a whole was not taken: find the record that is to blame.
				if (batch.length === 1) await this.#refuse(batch[0].id, /** @type {Error} */ (error).message);
				size = batch.length === 1 ? this.size : Math.ceil(batch.length / 2);
				continue;
			}
			await this.#take(batch, answer);
			if (batch.length >= this.size) this.size = Math.min(BATCH_EVENTS, 2 * this.size);
			size = this.size;
		}
	}

	/** @param {number} size */
	#batch(size) {
		const batch = [];
		let bytes = 0;
		for (const event of this.waiting) {
			bytes += JSON.stringify(event).length;
			if (batch.length && (batch.length >= size || bytes > BATCH_BYTES)) break;
			batch.push(event);
		}
		return batch;
	}

	/**
	 * @param {FieldEvent[]} batch
	 * @param {import("./model.js").PostAnswer} answer
	 */
	async #take(batch, answer) {
		const byId = new Map(answer.results.map((r) => [r.id.toLowerCase(), r]));
		const stored = batch.filter((e) => ["stored", "known"].includes(byId.get(e.id)?.result ?? ""));
		const refused = batch.filter((e) => byId.get(e.id)?.result === "refused");
		if (!stored.length && !refused.length) throw new Error("the server's answer names none of the records sent");
		await this.onStored(stored);
		await this.store.remove(stored.map((e) => e.id));
		/** @type {Map<string, string>} */
		const reasons = new Map(refused.map((e) => [e.id, byId.get(e.id)?.reason ?? ""]));
		for (const [id, reason] of reasons) await this.store.refuse(id, reason);
		// As the store is now; reading thousands again after each batch would hold up taps.
		const gone = new Set(stored.map((e) => e.id));
		const entries = this.state.entries.filter((e) => !gone.has(e.event.id)).map((e) => (reasons.has(e.event.id) ? { ...e, refused: reasons.get(e.event.id) } : e));
		this.#show({ entries, lastSent: Date.now(), skewMs: answer.skew_ms ?? 0, trouble: null });
		this.tellOthers();
	}

	/** @param {string} id @param {string} reason */
	async #refuse(id, reason) {
		await this.store.refuse(id, reason);
		await this.reload();
		this.tellOthers();
	}

	/** @param {Partial<OutboxState>} patch */
	#show(patch) {
		this.state = { ...this.state, ...patch };
		for (const listener of this.listeners)
			try {
				listener(this.state);
			} catch (error) {
				console.error(error); // a fault in what is shown must not keep records from being sent
			}
	}
}

/**
 * Keeps records in memory only: for tests, and where the browser has no database.
 * @returns {OutboxStore}
 */
export function memoryStore() {
	/** @type {Map<string, Entry>} */
	const entries = new Map();
	let seq = Date.now() * 1000;
	return {
		async add(drafts) {
			const events = drafts.map((d) => ({ ...d, seq: ++seq }));
			for (const event of events) entries.set(event.id, { event });
			return events;
		},
		list: async () => [...entries.values()],
		remove: async (ids) => ids.forEach((id) => entries.delete(id)),
		async refuse(id, reason) {
			const entry = entries.get(id);
			if (entry) entries.set(id, { ...entry, refused: reason });
		},
	};
}
