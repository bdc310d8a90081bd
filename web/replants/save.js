// Keeps settings for replants, for a block or for the estate, and leaves all other
// standards as they are: what a block takes from the estate it goes on taking.

import { differing, forEstate } from "../lib/standards.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {string | null} block null: the estate
 * @param {import("../lib/replants.js").ReplantSettings} replants
 */
export async function saveReplants(app, block, replants) {
	const estate = await app.api.standards(null);
	if (block === null) return app.api.saveStandards(null, app.by.get(), { ...forEstate(estate.standards), replants });
	const mine = await app.api.standards(block);
	const value = differing(/** @type {any} */ ({ ...mine.standards, replants }), estate.standards);
	// A system that nobody set is read from the block's own words: it stays so.
	if (!mine.own && value.pruning) delete value.pruning.system;
	return app.api.saveStandards(mine.block, app.by.get(), value);
}
