// What each source said of a place, and when it is to be looked at again.

import { daysBetween, dueOn } from "../lib/gapanswers.js";
import { wordKey } from "../lib/replants.js";
import { h } from "../map/dom.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Said} Said
 */

/**
 * When to look again: on a day to come, today, or so many days ago. In a season that
 * is over only the day is told.
 * @param {App} app
 * @param {string} day
 * @param {string} today
 * @param {number} season
 */
export function dueText({ t, estate }, day, today, season) {
	const how = season < estate.season ? "later" : dueOn(day, today);
	return how === "overdue" ? t("due.overdue", { day, n: daysBetween(day, today) }) : t(how === "today" ? "due.today" : "due.later", { day });
}

/** "Crews saw: missing (2027-01-12)". @param {App} app @param {Said} s */
function saidText({ t }, s) {
	return t("said.one", { source: t(`gaps.source_${wordKey(s.source)}`), state: t(`gaps.state_${wordKey(s.state)}`), day: s.day });
}

/** All sources in one line. @param {App} app @param {Said[]} said */
export const saidLine = (app, said) => said.map((s) => saidText(app, s)).join("; ");

/** One line for each source, with who or which survey, and its own words. @param {App} app @param {Said[]} said */
export function saidList(app, said) {
	return said.length ? h("ul", { class: "said-list", "aria-label": app.t("said.title") }, ...said.map((s) => h("li", {}, saidText(app, s), h("span", { class: "hint" }, ` ${[s.text, s.by].filter(Boolean).join(", ")}`)))) : null;
}
