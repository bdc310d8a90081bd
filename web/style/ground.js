// The two grounds the map is drawn on, and inks that go with each. map/base.css
// has the same values for the rest of the page; a test compares them.

/**
 * @typedef {"light" | "dark"} GroundName
 * @typedef {object} Ground
 * @property {string} ground
 * @property {string} raised blocks far out
 * @property {string} ink text and the casing of every mark
 * @property {string} muted
 * @property {string} line outlines of blocks
 * @property {string} faint axes of rows under the vines
 * @property {string} tick inside filled marks
 */

/** @type {Record<GroundName, Ground>} */
export const GROUNDS = {
	light: { ground: "#f4f1e8", raised: "#e6e1d2", ink: "#1a1f1c", muted: "#4b524e", line: "#6a6f68", faint: "#d5cfbd", tick: "#ffffff" },
	dark: { ground: "#171b19", raised: "#232926", ink: "#f2f0ea", muted: "#b7bdb9", line: "#8a928d", faint: "#333b37", tick: "#111111" },
};

/** Glyphs are black in a white halo on either ground: one of the two edges stands out against any colour. */
export const GLYPH = { ink: "#111111", halo: "#ffffff" };

/**
 * Red, green and blue from 0 to 1.
 * @param {string} hex #rrggbb
 * @returns {[number, number, number]}
 */
export function rgb(hex) {
	const n = parseInt(hex.slice(1), 16);
	return [(n >> 16) / 255, ((n >> 8) & 255) / 255, (n & 255) / 255];
}
