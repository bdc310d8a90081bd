// A second press while the first is under way.

/**
 * Work that is not begun again while it runs: whoever presses twice because nothing
 * seems to happen does not record, send or make a thing twice.
 * @template {any[]} A
 * @template T
 * @param {(...args: A) => Promise<T>} work
 * @returns {(...args: A) => Promise<T | undefined>} undefined where it runs already
 */
export function onceAtATime(work) {
	let running = false;
	return async (...args) => {
		if (running) return undefined;
		running = true;
		try {
			return await work(...args);
		} finally {
			running = false;
		}
	};
}

/** A form's listener that sends nothing twice. @param {() => Promise<any>} work */
export function sending(work) {
	const once = onceAtATime(work);
	return (/** @type {Event} */ e) => {
		e.preventDefault();
		void once();
	};
}
