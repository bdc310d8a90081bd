// Rows done and left by day, crew and block: numbers for the chart and its tables.

/**
 * @typedef {import("./api.js").RowDay} RowDay
 * @typedef {{day: string, done: number[], together: number, left: number}} DayRows done by crew; left: of all rows, after that day
 * @typedef {{crew: string, done: number, left: number}} CrewRows left: in its open orders
 */

/** @param {RowDay[]} list */
export function rowSums(list) {
	const done = list.reduce((n, r) => n + r.done, 0);
	const left = list.reduce((n, r) => n + r.left, 0);
	const unordered = list.filter(isUnordered).reduce((n, r) => n + r.left, 0);
	return { rows: done + left, done, left, unordered };
}

/** Left in no order: no crew has it. @param {RowDay} r */
const isUnordered = (r) => !r.day && !r.crew;

/**
 * Days on which rows came to their end, in order.
 * @param {RowDay[]} list
 * @returns {{crews: string[], days: DayRows[]}} crews: most rows first, rows of nobody known last
 */
export function rowsByDay(list) {
	const crews = rowsByCrew(list).filter((c) => c.done).map((c) => c.crew);
	const { rows } = rowSums(list);
	/** @type {Map<string, number[]>} */
	const days = new Map();
	for (const r of list) {
		if (!r.done) continue;
		const done = days.get(r.day) ?? crews.map(() => 0);
		done[crews.indexOf(r.crew)] += r.done;
		days.set(r.day, done);
	}
	let left = rows;
	return {
		crews,
		days: [...days].sort(([a], [b]) => (a < b ? -1 : 1)).map(([day, done]) => {
			const together = done.reduce((a, b) => a + b, 0);
			left -= together;
			return { day, done, together, left };
		}),
	};
}

/** @param {RowDay[]} list @returns {CrewRows[]} most rows done first; of nobody known, and in no order, last */
export function rowsByCrew(list) {
	/** @type {Map<string, CrewRows>} */
	const crews = new Map();
	for (const { crew, done, left } of list) {
		const sum = crews.get(crew) ?? { crew, done: 0, left: 0 };
		crews.set(crew, { crew, done: sum.done + done, left: sum.left + left });
	}
	return [...crews.values()].sort((a, b) => Number(!a.crew) - Number(!b.crew) || b.done - a.done || a.crew.localeCompare(b.crew));
}
