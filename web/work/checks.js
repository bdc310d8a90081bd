// Vines of a day drawn at random, to be looked at: what was planned beside what
// was left, with room for what is found.

import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { addDays, dayIn, dayWords, isDay } from "./days.js";
import { blame, faultLine, labelled, wholeOf } from "./fields.js";
import { mapPath } from "./hash.js";
import { nameOf } from "./head.js";
import { reading } from "./reading.js";

const USUAL_NUMBER = 5;
const MOST = 100;

/** @typedef {{day: string, number: number, seed?: number}} Wish */

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountChecks(work, place) {
	const { app, api, about } = work;
	const { t } = app;
	const { season, operation } = about.get();
	/** @type {Wish | null} */
	let wish = null;
	const body = h("div", { class: "work-body" });
	const parts = reading(app, body, {
		ask: async (signal) => {
			wish ??= { day: await lastDay(work, signal), number: USUAL_NUMBER };
			return { wish, ...(await api.checks({ season, ...wish }, signal)) };
		},
		draw: ({ wish: asked, vines }) => [form(app, asked, ask), list(work, asked.day, vines)],
		loading: t("work.checks_loading"),
	});
	const ask = (/** @type {Wish} */ now) => {
		wish = now;
		void parts.read(true);
	};
	show(place, h("section", { class: "part", "aria-labelledby": "checks-title" }, h("h1", { id: "checks-title" }, t("work.checks_title")),
		h("p", { class: "no-print" }, operation === "pruning" ? t("work.checks_what") : t("work.checks_pruning", { operation: nameOf(app, operation) }))), body);
	void parts.read(true);
	return { reload: () => {}, stop: parts.stop };
}

/** Yesterday, or the last day before it on which something was done. @param {import("./main.js").Work} work @param {AbortSignal} signal */
async function lastDay({ app, api, about }, signal) {
	const yesterday = addDays(dayIn(app.estate.zone, new Date()), -1);
	const { days } = await api.progress(about.get().season, "pruning", signal);
	return days.filter((d) => d.done > 0 && d.day <= yesterday).at(-1)?.day ?? yesterday;
}

/** @param {import("../map/app.js").App} app @param {Wish} wish @param {(wish: Wish) => void} ask */
function form({ t }, wish, ask) {
	const day = h("input", { id: "check-day", type: "date" });
	const number = h("input", { id: "check-number", class: "short", inputmode: "numeric" });
	[day.value, number.value] = [wish.day, String(wish.number)];
	const fault = faultLine("check-fault");
	const go = (/** @type {number | undefined} */ seed) => {
		const n = wholeOf(number, 1, MOST);
		if (!isDay(day.value)) return blame(fault, day, t("work.no_day"));
		if (n === null) return blame(fault, number, t("record.wrong_range", { from: "1", to: String(MOST) }));
		ask({ day: day.value, number: n, ...(seed === undefined ? {} : { seed }) });
	};
	return h("form", { class: "work-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		go(wish.seed);
	} } }, labelled(t("work.check_day"), day), labelled(t("work.check_number"), number),
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("work.draw")),
			button(t("work.draw_again"), () => go(crypto.getRandomValues(new Uint32Array(1))[0]), { data: { key: "draw-again" } }), button(t("report.print"), () => print())), fault);
}

/** @param {import("./main.js").Work} work @param {string} day @param {import("./api.js").CheckVine[]} vines */
function list({ app, about }, day, vines) {
	const { t } = app;
	const { season } = about.get();
	const title = t("work.checks_of", { day: dayWords(t.language, day, "long") });
	if (!vines.length) return section("drawn", title, h("p", { class: "state", id: "no-checks" }, t("work.no_checks")));
	const blocks = new Map(app.blocks.get().list.map((b) => [b.code, b.id]));
	const heads = [t("table.vine"), t("work.done_by_whom"), t("work.planned"), t("work.left_col"), t("work.found")];
	const head = (/** @type {string} */ text) => h("th", { scope: "col" }, text);
	return section("drawn", title, h("p", {}, t("work.checks_n", { n: vines.length })),
		h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": title }, h("table", { class: "work-checks" }, h("caption", {}, title), h("thead", {}, h("tr", {}, ...heads.map(head))),
			h("tbody", {}, ...vines.map((v) => h("tr", { data: { vine: v.id } },
				h("th", { scope: "row" }, h("a", { class: "to-map", href: mapPath(season, blocks.get(v.address.split("/")[0]) ?? 0, { vine: v.id }) }, v.address)),
				h("td", {}, v.by || "–"), h("td", { class: "wrap" }, v.planned || t("work.no_plan")), h("td", {}, v.left), h("td", { class: "found-box" })))))),
		h("p", { class: "hint" }, t("work.checks_hint")));
}
