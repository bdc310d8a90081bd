// How far the work has got day by day, and where it is heading: numbers for the
// chart and its table.

import { addDays, daysBetween } from "./days.js";

/**
 * @typedef {import("./api.js").Progress} Progress
 * @typedef {object} BurnUp
 * @property {string} first day at the left edge
 * @property {string} last day at the right edge
 * @property {number} vines in all
 * @property {number} done
 * @property {{day: string, total: number}[]} line from 0 on the day before the first
 * @property {{from: string, total: number, early: string, likely: string, late: string} | null} ahead where the finish is foreseen
 * @property {string} deadline "" none
 */

/**
 * @param {Progress} progress
 * @param {string} today
 * @returns {BurnUp | null} null where there is nothing to draw
 */
export function burnUp({ blocks, days, forecast }, today) {
	const vines = blocks.reduce((n, b) => n + b.vines, 0);
	const done = blocks.reduce((n, b) => n + b.done, 0);
	if (!vines || (!days.length && !forecast?.likely)) return null;
	const line = days.map(({ day, total }) => ({ day, total }));
	if (line.length) line.unshift({ day: addDays(line[0].day, -1), total: line[0].total - days[0].done });
	const end = line[line.length - 1];
	const from = end && end.day > today ? end.day : today;
	const ahead = forecast?.likely && done < vines ? { from, total: end?.total ?? done, early: forecast.early || forecast.likely, likely: forecast.likely, late: forecast.late || forecast.likely } : null;
	const deadline = forecast?.deadline ?? "";
	const all = [line[0]?.day, end?.day, ahead?.from, ahead?.late, deadline].filter(Boolean).sort();
	const first = /** @type {string} */ (all[0]);
	const last = /** @type {string} */ (all[all.length - 1]);
	return { first, last: first === last ? addDays(first, 1) : last, vines, done, line, ahead, deadline };
}

/**
 * Days for the axis: whole weeks apart, at most so many.
 * @param {string} first
 * @param {string} last
 * @param {number} most
 */
export function daySteps(first, last, most) {
	const span = daysBetween(first, last);
	const raw = Math.max(1, span / Math.max(1, most));
	const step = raw <= 1 ? 1 : raw <= 2 ? 2 : 7 * Math.ceil(raw / 7);
	const list = [];
	for (let n = 0; n <= span; n += step) list.push(addDays(first, n));
	return list;
}

/**
 * Whether the deadline is kept, as a word.
 * @param {Progress["forecast"]} forecast
 * @returns {"none" | "kept" | "missed" | "doubt"}
 */
export function verdictOf(forecast) {
	if (!forecast?.deadline || !forecast.likely) return "none";
	return forecast.within === true ? "kept" : forecast.within === false ? "missed" : "doubt";
}

/**
 * Rows and vines by block, those under way first, then to come, then done.
 * @param {Progress["blocks"]} blocks
 */
export function byState(blocks) {
	const rank = (/** @type {{done: number, vines: number}} */ b) => (b.done >= b.vines ? 2 : b.done > 0 ? 0 : 1);
	return [...blocks].sort((a, b) => rank(a) - rank(b) || a.code.localeCompare(b.code, "en", { numeric: true }));
}

/**
 * Vines done by day and crew: a line per day, the newest first, a column per crew.
 * @param {Progress["crews"]} list
 * @param {string[]} known crews there are; others come after them
 */
export function byDay(list, known) {
	const crews = [...known.filter((c) => list.some((x) => x.crew === c)), ...[...new Set(list.map((x) => x.crew))].filter((c) => !known.includes(c)).sort()];
	const days = [...new Set(list.map((x) => x.day))].sort().reverse();
	return { crews, days: days.map((day) => ({ day, done: crews.map((c) => list.filter((x) => x.day === day && x.crew === c).reduce((n, x) => n + x.done, 0)) })) };
}
