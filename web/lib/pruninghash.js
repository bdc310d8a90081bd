// What the page of a pruning plan is about, in its address:
// #block=B3&season=2027&show=runs&with=12

import { readAbout } from "./reporthash.js";

/**
 * @typedef {"plan" | "runs" | "practice" | "after"} PruningPart
 * @typedef {object} PruningAbout
 * @property {string} block code or id; empty: the first one
 * @property {number} season
 * @property {PruningPart} part
 * @property {number | null} compared version that the newest is compared with
 */

export const PARTS = /** @type {const} */ (["plan", "runs", "practice", "after"]);

/**
 * Reads what an address says; what it says wrongly is left out.
 * @param {string} hash with or without #
 * @returns {Partial<PruningAbout>}
 */
export function readPruning(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	const { block, season } = readAbout(hash);
	/** @type {Partial<PruningAbout>} */
	const about = {};
	if (block) about.block = block;
	if (season) about.season = season;
	const part = PARTS.find((p) => p === words.get("show"));
	if (part) about.part = part;
	const id = words.get("with");
	if (id && /^\d{1,15}$/.test(id)) about.compared = Number(id);
	return about;
}

/** @param {PruningAbout} about @returns {string} with # */
export function writePruning({ block, season, part, compared }) {
	const words = [`block=${encodeURIComponent(block)}`, `season=${season}`];
	if (part !== "plan") words.push(`show=${part}`);
	if (compared) words.push(`with=${compared}`);
	return `#${words.join("&")}`;
}
