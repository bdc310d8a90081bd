// Sides by compass words.

/** @typedef {import("./pen.js").LonLat} LonLat */

const WORDS = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];

/**
 * The two sides of a line by the nearest of eight compass words, the northern or
 * eastern one first: across the way from its first to its last point. Near enough for
 * lines of a few kilometres.
 * @param {LonLat[]} line
 * @returns {string[]}
 */
export function sidesOf(line) {
	const [a, b] = [line[0], line[line.length - 1]];
	const east = (b[0] - a[0]) * Math.cos(((a[1] + b[1]) / 2) * (Math.PI / 180));
	const bearing = (Math.atan2(east, b[1] - a[1]) * 180) / Math.PI;
	const one = (Math.round((bearing + 90) / 45) + 8) % 8;
	const other = (one + 4) % 8;
	return [one, other].sort((x, y) => rank(x) - rank(y)).map((k) => WORDS[k]);
}

/** North before south, east before west. @param {number} k */
const rank = (k) => (k === 7 ? -1 : k);
