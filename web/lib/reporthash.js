// What a report is about, in its address: #block=H3&season=2027&since=2025&show=weighing

/**
 * @typedef {"report" | "weighing"} Part
 * @typedef {object} About
 * @property {string} block code or id; empty: the first one
 * @property {number} season
 * @property {number | null} since season compared with; null: the latest that can be
 * @property {Part} part
 */

/**
 * Reads what an address says; what it says wrongly is left out.
 * @param {string} hash with or without #
 * @returns {Partial<About>}
 */
export function readAbout(hash) {
	const words = new URLSearchParams(hash.replace(/^#/, ""));
	/** @type {Partial<About>} */
	const about = {};
	const block = words.get("block");
	if (block && block.length <= 80) about.block = block;
	for (const key of /** @type {const} */ (["season", "since"])) {
		const text = words.get(key);
		if (text !== null && /^\d{4}$/.test(text) && Number(text) >= 1850 && Number(text) <= 2200) about[key] = Number(text);
	}
	if (words.get("show") === "weighing") about.part = "weighing";
	return about;
}

/** @param {About} about @returns {string} with # */
export function writeAbout({ block, season, since, part }) {
	const words = [`block=${encodeURIComponent(block)}`, `season=${season}`];
	if (since) words.push(`since=${since}`);
	if (part === "weighing") words.push("show=weighing");
	return `#${words.join("&")}`;
}

/**
 * A zoom at which bounds fill a map of so many pixels, at most 19.
 * @param {[number, number, number, number]} bounds degrees
 * @param {number} [pixels]
 */
export function zoomFor([w, s, e, n], pixels = 420) {
	const high = (n - s) / Math.max(0.05, Math.cos((((s + n) / 2) * Math.PI) / 180));
	const degrees = Math.max(e - w, high, 1e-6);
	return Math.min(19, Math.max(2, Math.log2((360 * pixels) / (512 * degrees))));
}
