// After pruning: what was left beside what was planned, by row and by pruner; how
// the nodes opened; treated and untreated vines; and the jobs that wait.

import { LEANINGS } from "../lib/pruning.js";
import { signed } from "../map/foundwords.js";
import { h, show } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { noPlan, reading } from "./reading.js";
import { vineLink } from "./vinelink.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/pruning.js").Departure} Departure
 */

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountAfter({ app, about }, place) {
	const { t } = app;
	const { block, season } = about.get();
	const id = app.blocks.get().list.find((b) => b.code === block || String(b.id) === block)?.id ?? 0;
	const left = h("div", { class: "plan-body" });
	const jobs = h("div", { class: "plan-body" });
	const first = reading(app, left, { ask: (signal) => app.api.left(block, season, signal), draw: (answer) => leftView(app, answer), loading: "after.loading", none: () => noPlan(app, about) });
	const second = reading(app, jobs, { ask: (signal) => app.api.followUps(block, season, signal), draw: (answer) => [jobsView(app, answer, season, id, block)], loading: "after.loading_jobs", mark: "jobs" });
	show(place, h("section", { class: "part", "aria-labelledby": "after-title" }, h("h1", { id: "after-title" }, t("after.heading", { code: block, season: String(season) }))), left, jobs);
	void first.read(true);
	void second.read(true);
	return {
		reload() {
			void first.read(false);
			void second.read(false);
		},
		stop() {
			first.stop();
			second.stop();
		},
	};
}

/** @param {App} app @param {import("../lib/pruning.js").Left} left */
function leftView(app, left) {
	const { t } = app;
	if (!left.all?.vines) return [h("p", { class: "state" }, left.why ? t("after.none_why", { why: left.why }) : t("after.none")), ...differences(app, left)];
	return [
		section("left", t("after.left"), h("p", { class: "says" }, says(app, left.all)), h("p", { class: "hint" }, t("after.left_hint"))),
		left.pruners?.length ? section("pruners", t("after.pruners"), departures(app, t("after.pruners_caption"), t("after.pruner"), left.pruners)) : null,
		left.rows?.length ? section("by-row", t("after.by_row"), departures(app, t("after.by_row_caption"), t("table.row"), left.rows)) : null,
		...differences(app, left),
	];
}

/** @param {App} app @param {Departure} d */
function says(app, d) {
	const { t } = app;
	return t("after.says", { n: d.vines, left: t.number(d.left, 1), planned: t.number(d.planned, 1), lean: leaning(app, d) });
}

/** Which way somebody leans, in words. @param {App} app @param {Departure} d */
function leaning(app, d) {
	const word = LEANINGS[d.leaning];
	return word ? app.t(`lean.${word}`, { by: app.t.number(Math.abs(d.mean), 1) }) : d.leaning;
}

/** @param {App} app @param {string} caption @param {string} first @param {Departure[]} list */
function departures(app, caption, first, list) {
	const { t } = app;
	const share = (/** @type {number} */ n) => t.percent(Math.round(n * 1000), 1000);
	return tableOf(caption, [first, `${t("patch.vines")}#`, `${t("after.planned")}#`, `${t("after.was_left")}#`, `${t("report.difference")}#`, `${t("after.exact")}#`, `${t("after.within_1")}#`, `${t("after.within_2")}#`, t("after.leaning")],
		list.map((d) => [d.key || t("pruning.nobody"), t.number(d.vines), t.fixed(d.planned, 1), t.fixed(d.left, 1), signed(app, d.mean, 1), share(d.exact), share(d.within_1), share(d.within_2), leaning(app, d)]));
}

/** @param {App} app @param {import("../lib/pruning.js").Left} left */
function differences(app, left) {
	return [budburst(app, left.budburst), treated(app, left.treated)];
}

/** @param {App} app @param {import("../lib/pruning.js").Budburst | null} b */
function budburst(app, b) {
	const { t } = app;
	if (!b?.vines) return null;
	const by = Object.entries(b.by ?? {}).filter(([, n]) => n > 0);
	const word = (/** @type {string} */ read) => (t.has(`budburst.${read}`) ? t(`budburst.${read}`) : read);
	return section("budburst", t("after.budburst"), h("p", {}, t("after.budburst_says", { n: b.vines, ratio: t.fixed(b.ratio, 2), read: word(b.read) })),
		by.length ? tableOf(t("after.budburst"), [t("after.budburst_read"), `${t("patch.vines")}#`], by.map(([read, n]) => [word(read), t.number(n)])) : null);
}

/** @param {App} app @param {import("../lib/pruning.js").Difference | null} d */
function treated(app, d) {
	const { t } = app;
	if (!d) return null;
	const write = (/** @type {number} */ n) => t.number(n, 1);
	return section("treated", t("after.treated"), h("p", {}, t(d.told ? "after.told" : "after.not_told", { mean: signed(app, d.mean, 1), low: signed(app, d.low, 1), high: signed(app, d.high, 1) })),
		tableOf(t("after.treated"), [t("report.group"), `${t("patch.vines")}#`, `${t("patch.mean")}#`], [[t("after.is_treated"), t.number(d.treated), write(d.mean_treated)], [t("after.is_untreated"), t.number(d.untreated), write(d.mean_untreated)]]),
		h("p", { class: "hint" }, t("after.treated_hint")));
}

/** @param {App} app @param {import("../lib/pruning.js").FollowUps} jobs @param {number} season @param {number} block @param {string} code */
function jobsView(app, jobs, season, block, code) {
	const { t } = app;
	const list = jobs.vines ?? [];
	if (!list.length) return section("jobs", t("jobs.title"), h("p", { class: "state" }, t("jobs.none")));
	return section("jobs", t("jobs.title"), h("p", {}, t("jobs.says", { n: jobs.count })),
		h("p", { class: "no-print" }, h("a", { class: "button", href: `/api/blocks/${encodeURIComponent(code)}/pruning/follow-ups.csv?season=${season}`, download: "" }, t("jobs.csv"))),
		tableOf(t("jobs.title"), [t("table.vine"), t("jobs.what"), t("jobs.state")], list.map((v) => [vineLink(app, season, block, v.id, v.address), v.text, t(v.done ? "jobs.done" : "jobs.open")])));
}
