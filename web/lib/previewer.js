// Asks for a preview while somebody types: not at every key, never two at a
// time, and the last good one stays until a better one is there.

/**
 * @template W, A
 * @typedef {{state: "none" | "asking" | "ready" | "failed", good: A | null, of: W | null, error: unknown}} Previewed of: the wish that the good answer belongs to
 */

/** How long somebody must have paused. */
const PAUSE_MS = 350;

/** @template W, A */
export class Previewer {
	/**
	 * @param {object} parts
	 * @param {(wish: W, signal: AbortSignal) => Promise<A>} parts.ask
	 * @param {(now: Previewed<W, A>) => void} parts.onChange
	 * @param {(ms: number, then: () => void) => any} [parts.later]
	 * @param {(timer: any) => void} [parts.never]
	 */
	constructor({ ask, onChange, later = (ms, then) => setTimeout(then, ms), never = (timer) => clearTimeout(timer) }) {
		this.ask = ask;
		this.onChange = onChange;
		this.later = later;
		this.never = never;
		/** @type {any} */
		this.timer = null;
		/** @type {AbortController | null} */
		this.running = null;
		/** @type {Previewed<W, A>} */
		this.now = { state: "none", good: null, of: null, error: null };
	}

	/** @param {W} wish @param {boolean} [atOnce] */
	want(wish, atOnce = false) {
		this.never(this.timer);
		this.running?.abort();
		this.#set({ state: "asking" });
		this.timer = this.later(atOnce ? 0 : PAUSE_MS, () => void this.#run(wish));
	}

	stop() {
		this.never(this.timer);
		this.running?.abort();
	}

	/** @param {W} wish */
	async #run(wish) {
		const mine = (this.running = new AbortController());
		try {
			const good = await this.ask(wish, mine.signal);
			if (!mine.signal.aborted) this.#set({ state: "ready", good, of: wish, error: null });
		} catch (error) {
			if (!mine.signal.aborted) this.#set({ state: "failed", error });
		}
	}

	/** @param {Partial<Previewed<W, A>>} change */
	#set(change) {
		this.now = { ...this.now, ...change };
		this.onChange(this.now);
	}
}
