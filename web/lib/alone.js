// One page of this computer sends at a time. It only saves the server work: a record
// that is sent twice is known by its id. So no page may keep the others from sending.

/** A page that holds the lock so long is asleep or dead; no request lasts so long. */
const HELD_MS = 45_000;

/**
 * @param {Pick<LockManager, "request"> | undefined} locks
 * @param {{name?: string, now?: () => number, heldMs?: number}} [how]
 * @returns {<T>(work: () => Promise<T>) => Promise<T | undefined>} undefined where another page is at it
 */
export function onePage(locks, { name = "courson-outbox", now = Date.now, heldMs = HELD_MS } = {}) {
	/** Since when another page has been found at it, without a break. @type {number | null} */
	let since = null;
	return async (work) => {
		if (!locks) return work();
		/** @type {Promise<any> | null} */
		let done = null;
		const begin = () => (done = work());
		const steal = since !== null && Math.abs(now() - since) > heldMs;
		try {
			await locks.request(name, steal ? { steal: true } : { ifAvailable: true }, (lock) => {
				since = lock ? null : (since ?? now());
				return lock ? begin() : undefined;
			});
		} catch {
			// Where the browser gives no locks, or another page took this one over, the work goes on all the same.
			if (!done) begin();
		}
		return done ?? undefined;
	};
}
