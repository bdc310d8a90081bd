// The version of zones in use, of the blocks that were asked for.

/** @typedef {import("./zones.js").Version} Version */

export class ZoneVersions {
	/** @param {{zonesOf: (block: number, season: number) => Promise<import("./zones.js").ZonesList>}} api */
	constructor(api) {
		this.api = api;
		/** @type {Map<string, Version | null>} null: none is kept */
		this.known = new Map();
		/** @type {Set<string>} */
		this.asked = new Set();
		/** @type {Set<() => void>} */
		this.listeners = new Set();
	}

	/** @param {() => void} listener */
	on(listener) {
		this.listeners.add(listener);
	}

	/** The version in use; while it is not known it is asked for, and listeners hear of it. @param {number} block @param {number} season @returns {Version | null} */
	get(block, season) {
		const key = `${block}/${season}`;
		const known = this.known.get(key);
		if (known === undefined && !this.asked.has(key)) void this.#read(key, block, season);
		return known ?? null;
	}

	/** @param {number} block */
	forget(block) {
		for (const key of [...this.known.keys()]) if (key.startsWith(`${block}/`)) this.known.delete(key);
		for (const listener of this.listeners) listener();
	}

	/** @param {string} key @param {number} block @param {number} season */
	async #read(key, block, season) {
		this.asked.add(key);
		try {
			const { versions } = await this.api.zonesOf(block, season);
			this.known.set(key, versions[0] ?? null);
			for (const listener of this.listeners) listener();
		} catch {
			// The line is down: asked again when somebody looks again.
		} finally {
			this.asked.delete(key);
		}
	}
}
