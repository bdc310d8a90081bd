// Changes as the server tells them (server-sent events), with patience when the
// line is down.

/**
 * @typedef {{block: number, revision: number, ground: boolean, plan: boolean, seasons?: number[]}} Change
 * @typedef {{block: number, season: number, found: string, state: string}} Found findings of a block that are ready, or failed
 * @typedef {"connecting" | "live" | "reconnecting"} LineState
 */

const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 30_000;

export class Stream {
	/**
	 * @param {object} parts
	 * @param {() => EventSource} parts.connect
	 * @param {(change: Change) => void} parts.onChange
	 * @param {(found: Found) => void} [parts.onFound]
	 * @param {(version: string, again: boolean) => void} parts.onHello again: changes may have been missed
	 * @param {(state: LineState) => void} parts.onState
	 * @param {(ms: number, then: () => void) => any} [parts.later]
	 */
	constructor({ connect, onChange, onFound = () => {}, onHello, onState, later = (ms, then) => setTimeout(then, ms) }) {
		this.connect = connect;
		this.onChange = onChange;
		this.onFound = onFound;
		this.onHello = onHello;
		this.onState = onState;
		this.later = later;
		this.fails = 0;
		this.greeted = false;
		this.closed = false;
		/** @type {EventSource | null} */
		this.source = null;
		/** @type {any} */
		this.timer = 0;
	}

	open() {
		clearTimeout(this.timer);
		this.source?.close();
		const source = this.connect();
		this.source = source;
		this.onState(this.greeted ? "reconnecting" : "connecting");
		source.addEventListener("hello", (e) => {
			const again = this.greeted;
			this.greeted = true;
			this.fails = 0;
			this.onState("live");
			this.onHello(read(e)?.version ?? "", again);
		});
		source.addEventListener("change", (e) => {
			const change = read(e);
			if (change) this.onChange(change);
		});
		source.addEventListener("found", (e) => {
			const found = read(e);
			if (found) this.onFound(found);
		});
		source.onerror = () => {
			if (this.closed || this.source !== source) return;
			source.close();
			this.source = null;
			this.onState("reconnecting");
			const ms = Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** this.fails++) * (0.7 + 0.6 * Math.random());
			this.timer = this.later(ms, () => this.open());
		};
	}

	/** Tries at once, if the line is down. */
	hurry() {
		if (!this.closed && this.source === null) this.open();
	}

	/** The computer came to a line, perhaps another one: the old connection may be dead without saying so. */
	renew() {
		if (!this.closed) this.open();
	}

	close() {
		this.closed = true;
		clearTimeout(this.timer);
		this.source?.close();
	}
}

/** @param {Event} event */
function read(event) {
	try {
		return JSON.parse(/** @type {MessageEvent} */ (event).data);
	} catch {
		return null;
	}
}
