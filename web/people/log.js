// The log of changes, a day at a time, for all or one person.

import { button, h, show } from "../map/dom.js";
import { tableOf } from "../report/section.js";
import { choice, field, reading } from "./pieces.js";
import { actText, clockText, dayBeside, dayText, endText, targetOf, whoIn } from "./words.js";

/** @typedef {import("./pieces.js").People} People */

/** @param {People} people @param {HTMLElement} place */
export function mountLog(people, place) {
	const { t, api } = people;
	const body = h("div", { class: "people-body" });
	let day = "";
	let who = "*";
	const go = (/** @type {string} */ to) => {
		if (!to) return;
		day = to;
		void read();
	};
	const read = reading(people, body, () => api.log(day), (got) => {
		day = got.day;
		return drawDay(people, got, { go, who, keep: (name) => (who = name) });
	});
	show(place, h("section", { class: "part", "aria-labelledby": "log-title" }, h("h1", { id: "log-title" }, t("people.log_title")), h("p", {}, t("people.log_what")), body));
	void read();
}

/**
 * @param {People} people
 * @param {{day: string, days: string[], acts: import("./api.js").Act[]}} got
 * @param {{go: (day: string) => void, who: string, keep: (name: string) => void}} wish
 */
function drawDay({ t }, { day, days, acts }, { go, who, keep }) {
	const beside = (/** @type {1 | -1} */ way, /** @type {string} */ text, /** @type {string} */ key) => {
		const to = dayBeside(days, day, way);
		return button(text, () => go(to), { "aria-disabled": String(!to), data: { key } });
	};
	const all = [...new Set([...days, day])].sort().reverse();
	const list = choice(all.map((d) => [d, dayText(t.language, d)]), day);
	list.dataset.key = "log-day";
	list.addEventListener("change", () => go(list.value));
	const names = whoIn(acts);
	const persons = choice([["*", t("people.log_all")], ...names.map((n) => /** @type {[string, string]} */ ([n, n || t("people.log_nobody")]))], names.includes(who) ? who : "*");
	persons.dataset.key = "log-who";
	const table = h("div", { role: "group" });
	const draw = () => {
		const lines = acts.filter((a) => persons.value === "*" || a.user === persons.value);
		const caption = t("people.log_count", { n: lines.length, day: dayText(t.language, day) });
		show(table, lines.length ? tableOf(caption, [t("people.log_time"), t("people.log_by"), t("people.log_did"), t("people.log_end")],
			lines.map((a) => [h("time", { datetime: a.time }, clockText(t.language, a.time)), a.user || t("people.log_nobody"), h("span", {}, actText(t, a), " ", h("strong", {}, targetOf(a))), endText(t, a)])) : h("p", { class: "state" }, t("people.log_none")));
	};
	persons.addEventListener("change", () => {
		keep(persons.value);
		draw();
	});
	draw();
	return [
		h("div", { class: "people-days no-print" }, field("log-day", "day", t("people.log_day"), list).element,
			beside(-1, t("people.log_before"), "log-before"), beside(1, t("people.log_after"), "log-after"),
			field("log-who", "who", t("people.log_who"), persons).element),
		table,
	];
}
