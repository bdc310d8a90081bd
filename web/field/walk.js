// The arithmetic of walking along a row: which vine comes next, where a gap lies,
// which post section a vine is in. Pure; numbers are those on the row.

/**
 * @typedef {import("./types.js").FieldRow} FieldRow
 * @typedef {object} Spot one place of the row
 * @property {number} number
 * @property {number} id
 * @property {number} condition
 * @property {number} text
 * @property {number} mark
 * @property {number} progress
 * @property {boolean} gap known before this phone was here: nothing living stands there
 *
 * @typedef {object} Walk
 * @property {Spot[]} spots in walking order
 * @property {Map<number, number>} index by number
 * @property {boolean} far the walk begins at the far end
 * @property {number} section
 * @property {number} last the highest number
 */

export const DONE = 2;
export const SKIPPED = 4;
const DEAD = 5;
const MISSING = 6;

/** @param {{condition: number}} spot */
export const alive = (spot) => spot.condition !== DEAD && spot.condition !== MISSING;

/** Living and not done yet; a skipped one is open too, but is not come back to by itself. @param {Spot} spot */
export const open = (spot) => alive(spot) && spot.progress !== DONE && spot.progress !== SKIPPED;

/**
 * @param {FieldRow} row
 * @param {"near" | "far"} start
 * @param {Map<number, {progress?: number, condition?: number}>} over what this phone recorded, by vine
 * @returns {Walk}
 */
export function walkOf(row, start, over) {
	const spots = row.vines.map(([number, id, condition, text, progress, mark]) => {
		const mine = over.get(id);
		return { number, id, text, mark, gap: !alive({ condition }), condition: mine?.condition ?? condition, progress: mine?.progress ?? progress };
	});
	const far = start === "far";
	const last = spots.length ? spots[spots.length - 1].number : 0;
	if (far) spots.reverse();
	return { spots, index: new Map(spots.map((s, i) => [s.number, i])), far, section: row.section, last: Math.max(last, row.to || 0) };
}

/** The first open place at or after an index, -1 for none. @param {Walk} walk @param {number} from */
export function nextOpen(walk, from) {
	for (let i = Math.max(0, from); i < walk.spots.length; i++) if (open(walk.spots[i])) return i;
	return -1;
}

/** The first living place at or after an index, -1 for none. @param {Walk} walk @param {number} from */
export function nextAlive(walk, from) {
	for (let i = Math.max(0, from); i < walk.spots.length; i++) if (alive(walk.spots[i])) return i;
	return -1;
}

/**
 * The first run of known gaps between two places, itself not counted; until -1
 * means to the end of the row.
 * @param {Walk} walk
 * @param {number} from
 * @param {number} until
 */
export function gapBetween(walk, from, until) {
	const stop = until < 0 ? walk.spots.length : until;
	let i = from + 1;
	while (i < stop && !walk.spots[i].gap) i++;
	if (i >= stop) return null;
	let j = i;
	while (j + 1 < stop && walk.spots[j + 1].gap) j++;
	return { first: walk.spots[i].number, last: walk.spots[j].number, count: j - i + 1, index: i, lastIndex: j };
}

/**
 * Post section and slot of a vine, counted from the end where the walk begins, so
 * that they start anew at each post that is passed.
 * @param {Walk} walk
 * @param {number} number
 * @returns {{section: number, slot: number, of: number} | null} null where sections are not known
 */
export function slotOf(walk, number) {
	const size = walk.section;
	if (!(size > 1) || number < 1) return null;
	const near = Math.ceil(number / size);
	const slot = number - (near - 1) * size;
	if (!walk.far) return { section: near, slot, of: sizeOf(walk, near) };
	const sections = Math.ceil(walk.last / size);
	const of = sizeOf(walk, near);
	return { section: sections - near + 1, slot: of - slot + 1, of };
}

/** @param {Walk} walk @param {number} near section counted from the near end */
function sizeOf(walk, near) {
	return Math.min(walk.section, walk.last - (near - 1) * walk.section);
}

/** Index of the last place before the next post, for "done to the post". @param {Walk} walk @param {number} index */
export function endOfSection(walk, index) {
	const here = slotOf(walk, walk.spots[index].number);
	if (!here) return index;
	let i = index;
	while (i + 1 < walk.spots.length && slotOf(walk, walk.spots[i + 1].number)?.section === here.section) i++;
	return i;
}

/** Counts for lists. @param {Walk} walk */
export function tally(walk) {
	const count = { alive: 0, done: 0, skipped: 0, left: 0 };
	for (const spot of walk.spots) {
		if (!alive(spot)) continue;
		count.alive++;
		if (spot.progress === DONE) count.done++;
		else if (spot.progress === SKIPPED) count.skipped++;
		else count.left++;
	}
	return count;
}

/** Numbers as runs, such as 3–5, 9. @param {number[]} numbers ascending @returns {[number, number][]} */
export function runsOf(numbers) {
	/** @type {[number, number][]} */
	const out = [];
	for (const n of numbers) {
		const last = out[out.length - 1];
		if (last && n === last[1] + 1) last[1] = n;
		else out.push([n, n]);
	}
	return out;
}
