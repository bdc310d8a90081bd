// What the page of zones is about, in its address:
// #block=B3&season=2027&show=kept&open=ID&with=ID

import { readAbout } from "./reporthash.js";

/**
 * @typedef {"cut" | "kept"} ZonesPart
 * @typedef {object} ZonesAbout
 * @property {string} block code or id; empty: the first one
 * @property {number} season
 * @property {ZonesPart} part
 * @property {string | null} open version that is looked at
 * @property {string | null} compared version that it is compared with
 */

export const PARTS = /** @type {const} */ (["cut", "kept"]);

const ID = /^[0-9a-f-]{36}$/;

/**
 * Reads what an address says; what it says wrongly is left out.
 * @param {string} hash with or without #
 * @returns {Partial<ZonesAbout>}
 */
export function readZones(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	const { block, season } = readAbout(hash);
	/** @type {Partial<ZonesAbout>} */
	const about = {};
	if (block) about.block = block;
	if (season) about.season = season;
	const part = PARTS.find((p) => p === words.get("show"));
	if (part) about.part = part;
	const open = words.get("open");
	const compared = words.get("with");
	if (open && ID.test(open)) about.open = open;
	if (compared && ID.test(compared)) about.compared = compared;
	return about;
}

/** @param {ZonesAbout} about @returns {string} with # */
export function writeZones({ block, season, part, open, compared }) {
	const words = [`block=${encodeURIComponent(block)}`, `season=${season}`];
	if (part !== "cut") words.push(`show=${part}`);
	if (open) words.push(`open=${open}`);
	if (compared) words.push(`with=${compared}`);
	return `#${words.join("&")}`;
}
