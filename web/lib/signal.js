// A value that tells others when it changes.

/**
 * @template {object} T
 * @param {T} initial
 */
export function createSignal(initial) {
	let value = initial;
	/** @type {Set<(value: T, old: T) => void>} */
	const listeners = new Set();
	return {
		get: () => value,
		/**
		 * Changes some fields. Listeners hear of it only if one really differs.
		 * @param {Partial<T>} patch
		 */
		set(patch) {
			const keys = /** @type {(keyof T)[]} */ (Object.keys(patch));
			if (keys.every((k) => Object.is(patch[k], value[k]))) return;
			const old = value;
			value = { ...value, ...patch };
			for (const listener of [...listeners]) listener(value, old);
		},
		/**
		 * @param {(value: T, old: T) => void} listener
		 * @returns {() => void} stops listening
		 */
		on(listener) {
			listeners.add(listener);
			return () => listeners.delete(listener);
		},
	};
}

/**
 * @template {object} T
 * @typedef {ReturnType<typeof createSignal<T>>} Signal
 */
