// Standards while somebody changes them: what counts now, what was changed, and
// what is to be kept of it.

import { plainOptions } from "./pruning.js";
import { createSignal } from "./signal.js";
import { at, differing, forEstate, withAt } from "./standards.js";

/**
 * @typedef {import("./standards.js").Standards} Standards
 * @typedef {import("./standards.js").Settled} Settled
 * @typedef {{standards: Standards, options: import("./pruning.js").PlanOptions}} Wish
 */

/**
 * @param {Settled} settled what counts for the block
 * @param {Standards} estate what counts where a block has nothing of its own
 * @param {import("./pruning.js").Plan | null} plan whose options are gone on with
 * @param {string} [words] what the block itself says of its training system
 */
export function createDraft(settled, estate, plan, words = "") {
	const first = { standards: settled.standards, options: plan?.plan?.options ?? plainOptions() };
	const now = createSignal(first);
	return {
		settled,
		/** @param {() => void} listener */
		on: (listener) => now.on(listener),
		/** @returns {Wish} */
		wish: () => now.get(),
		/** @param {string} path @returns {any} */
		get: (path) => at(now.get().standards, path),
		/** @param {string} path @param {any} value */
		set: (path, value) => now.set({ standards: withAt(now.get().standards, path, value) }),
		/** @param {Partial<import("./pruning.js").PlanOptions>} options */
		options: (options) => now.set({ options: { ...now.get().options, ...options } }),
		/** Standards other than those in force. */
		changed: () => JSON.stringify(now.get().standards) !== JSON.stringify(first.standards),
		undo: () => now.set({ standards: first.standards }),
		/** Where the block goes its own way, key by key; the rest follows the estate. */
		forBlock() {
			const { standards } = now.get();
			const out = differing(standards, estate);
			const system = JSON.stringify(standards.pruning.system) !== JSON.stringify(first.standards.pruning.system);
			// A system that nobody set is read from the block's own words: it stays so.
			if (!settled.own && !system && out.pruning) delete out.pruning.system;
			return out;
		},
		forEstate: () => forEstate(now.get().standards),
		/** The block differs from the estate in something that can be given back: not in a system that its own words name. */
		apart() {
			const { pruning, ...rest } = differing(settled.standards, estate);
			const keys = Object.keys(pruning ?? {}).filter((key) => key !== "system" || settled.standards.pruning.system.name.toLowerCase() !== words.trim().toLowerCase());
			return settled.own && keys.length + Object.keys(rest).length > 0;
		},
	};
}

/** @typedef {ReturnType<typeof createDraft>} Draft */
