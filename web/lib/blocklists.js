// The blocks of each season as the server told them last. Answers may overtake one
// another: of two that tell of one block, that with the higher revision counts.

/** @typedef {import("./model.js").Block} Block */

export class BlockLists {
	constructor() {
		/** @type {Map<number, {blocks: Block[], at: number}>} */
		this.seasons = new Map();
		/** @type {Map<string, Block>} the newest that came of each block and season */
		this.newest = new Map();
	}

	/** @param {number} season @returns {{blocks: Block[], at: number} | undefined} */
	get(season) {
		return this.seasons.get(season);
	}

	/** A whole list came. @param {number} season @param {Block[]} blocks @param {number} at ms */
	put(season, blocks, at) {
		this.seasons.set(season, { blocks: blocks.map((b) => this.#newer(season, b)), at });
	}

	/** One block came; kept also where its list is still on its way. @param {number} season @param {Block} block @param {number} at ms */
	putOne(season, block, at) {
		const now = this.#newer(season, block);
		const here = this.seasons.get(season);
		if (!here) return;
		const known = here.blocks.some((b) => b.id === now.id);
		here.blocks = known ? here.blocks.map((b) => (b.id === now.id ? now : b)) : [...here.blocks, now].sort((a, b) => a.code.localeCompare(b.code));
		here.at = at;
	}

	/** Lets go what is known of all seasons but one. @param {number} season */
	keepOnly(season) {
		for (const other of [...this.seasons.keys()]) if (other !== season) this.seasons.delete(other);
	}

	/** Nothing that is known counts any more. */
	clear() {
		this.seasons.clear();
		this.newest.clear();
	}

	/** @param {number} season @param {Block} block */
	#newer(season, block) {
		const key = `${season}/${block.id}`;
		const known = this.newest.get(key);
		if (known && known.revision > block.revision) return known;
		this.newest.set(key, block);
		return block;
	}
}
