// What a person can say stands in a place, and the records that say it: the same on
// the desk's page and on the phone. Pure.

/** The state, and the record of the person who decides. @type {[string, Record<string, any>][]} */
export const ANSWERS = [
	["missing", { condition: "missing", confirmed: true }],
	["dead standing", { condition: "dead", confirmed: true }],
	["dead above graft", { condition: "dead", cause: "above graft", confirmed: true }],
	["living", { condition: "bearing", confirmed: true }],
];

/** How much later a doubtful vine is looked at again. */
export const AGAIN_DAYS = 30;

/** The record that a place is to be looked at again. @param {Date} [now] */
export function lookAgain(now = new Date()) {
	const day = new Date(now);
	day.setDate(day.getDate() + AGAIN_DAYS);
	day.setHours(12, 0, 0, 0); // at noon, so that it is that day in every zone near
	return { condition: "doubtful", look_again: day.toISOString() };
}

/** Whole days from one day to another, such as 2027-01-12. @param {string} from @param {string} to */
export function daysBetween(from, to) {
	return Math.round((Date.parse(`${to}T12:00:00Z`) - Date.parse(`${from}T12:00:00Z`)) / 86_400_000);
}

/** How a day to look again lies to today. @param {string} day @param {string} today @returns {"later" | "today" | "overdue"} */
export function dueOn(day, today) {
	if (day > today) return "later";
	return day === today ? "today" : "overdue";
}
