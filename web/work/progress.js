// How far an operation has got: when it will be done, day by day, by block, by
// crew; what the log teaches of its pace; and who met in one row.

import { onceAtATime } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section, tableOf } from "../report/section.js";
import { burnUp, byDay, byState, verdictOf } from "./burnup.js";
import { burnChart } from "./burnchart.js";
import { clashSection } from "./clashes.js";
import { dayIn, dayWords, isDay } from "./days.js";
import { bar, blame, faultLine, labelled, whoField } from "./fields.js";
import { mapPath } from "./hash.js";
import { nameOf } from "./head.js";
import { reading } from "./reading.js";
import { fromText } from "./words.js";

/** @typedef {import("./api.js").Progress} Progress */

/** Days shown before the rest is folded away. */
const RECENT = 10;

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountProgress(work, place) {
	const { app, api, about } = work;
	const { t } = app;
	const { season, operation } = about.get();
	const body = h("div", { class: "work-body" });
	const parts = reading(app, body, {
		ask: async (signal) => {
			const [progress, crews] = await Promise.all([api.progress(season, operation, signal), api.crews(signal)]);
			return { progress, crews };
		},
		draw: ({ progress, crews }) => view(work, progress, crews.map((c) => c.name), () => void parts.read(false)),
		loading: t("work.progress_loading"),
		typing: () => body.querySelector("#deadline")?.contains(document.activeElement) ?? false,
	});
	show(place, h("section", { class: "part", "aria-labelledby": "progress-title" }, h("h1", { id: "progress-title" }, t("work.progress_title", { operation: nameOf(app, operation), season: String(season) }))), body);
	void parts.read(true);
	return { reload: parts.news, stop: parts.stop };
}

/** @param {import("./main.js").Work} work @param {Progress} progress @param {string[]} crews @param {() => void} reload */
function view(work, progress, crews, reload) {
	const { app } = work;
	const { t } = app;
	const vines = progress.blocks.reduce((n, b) => n + b.vines, 0);
	const done = progress.blocks.reduce((n, b) => n + b.done, 0);
	if (!vines) return [h("p", { class: "state", id: "no-work" }, t("work.no_work"))];
	const chart = burnUp(progress, dayIn(app.estate.zone, new Date()));
	return [
		section("finish", t("work.finish"), h("p", { class: "work-says" }, fromText(app, { vines, done })), bar(done, vines, t("work.whole")), h("p", { class: "work-says", id: "forecast" }, forecastText(app, progress.forecast, done >= vines)),
			progress.forecast?.why ? h("p", { class: "hint" }, progress.forecast.why) : null, deadlineForm(work, progress, reload),
			chart ? burnChart(app, chart, progress.days) : h("p", { class: "state" }, t("work.nothing_recorded"))),
		blockSection(work, progress),
		daySection(app, progress, crews),
		rateSection(app, progress),
		clashSection(work, progress.clashes),
	];
}

/**
 * When the work will be done, and whether that is in time.
 * @param {import("../map/app.js").App} app
 * @param {Progress["forecast"]} f
 * @param {boolean} finished
 */
export function forecastText(app, f, finished) {
	const { t } = app;
	if (finished) return t("work.finished");
	if (!f) return t("work.no_forecast");
	const day = (/** @type {string} */ d) => dayWords(t.language, d);
	const hours = t("work.left_hours", { n: Math.round(f.left_hours) });
	if (!f.likely) return `${hours} ${t(f.early ? "work.beyond" : "work.no_forecast")}`;
	const tenths = Math.round(10 * f.level);
	const range = f.late ? t("work.between", { tenths, early: day(f.early), late: day(f.late) }) : t("work.from_early", { early: day(f.early || f.likely) });
	const verdict = { none: "", kept: t("work.deadline_kept", { day: day(f.deadline) }), missed: t("work.deadline_missed", { day: day(f.deadline) }), doubt: t("work.deadline_doubt", { day: day(f.deadline) }) }[verdictOf(f)];
	return `${hours} ${t("work.forecast", { likely: day(f.likely), range })}${verdict ? `; ${verdict}` : ""}.`;
}

/** @param {import("./main.js").Work} work @param {Progress} progress @param {() => void} reload */
function deadlineForm({ app, api, about }, progress, reload) {
	const { t } = app;
	const { season, operation } = about.get();
	const day = h("input", { id: "deadline-day", type: "date", data: { key: "deadline-day" } });
	day.value = progress.forecast?.deadline ?? "";
	const by = whoField(app, "deadline-by");
	const fault = faultLine("deadline-fault");
	const save = onceAtATime(async (/** @type {string} */ text) => {
		try {
			await api.deadline(season, operation, text, by.value.trim());
			toast(app, text ? t("work.deadline_set", { day: dayWords(t.language, text) }) : t("work.deadline_gone"));
			reload();
		} catch (error) {
			fault.textContent = t("work.not_done", { why: why(error) });
		}
	});
	return h("form", { id: "deadline", class: "work-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		if (!isDay(day.value)) return blame(fault, day, t("work.no_day"));
		blame(fault, null);
		void save(day.value);
	} } }, labelled(t("work.deadline"), day), labelled(t("work.who"), by),
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("work.set_deadline")), progress.forecast?.deadline ? button(t("work.no_deadline"), () => void save(""), { data: { key: "no-deadline" } }) : null), fault);
}

/** @param {import("./main.js").Work} work @param {Progress} progress */
function blockSection({ app, about }, progress) {
	const { t } = app;
	const { season } = about.get();
	const rows = byState(progress.blocks).map((b) => [
		h("a", { class: "to-map", href: mapPath(season, b.block, blockAt(app, b.block)) }, b.code), t.number(b.rows_done), t.number(b.rows - b.rows_done), t.number(b.done), t.number(b.vines - b.done), t.percent(b.done, b.vines)]);
	return section("blocks", t("work.by_block"), tableOf(t("work.by_block_caption"), [t("work.block_col"), `${t("work.rows_done")}#`, `${t("work.rows_left")}#`, `${t("work.vines_done")}#`, `${t("work.vines_to_go")}#`, `${t("work.share_done")}#`], rows));
}

/** @param {import("../map/app.js").App} app @param {number} id @returns {{at?: [number, number, number]}} */
function blockAt(app, id) {
	const b = app.blocks.get().list.find((k) => k.id === id);
	return b?.center ? { at: [...b.center, 17.5] } : {};
}

/** @param {import("../map/app.js").App} app @param {Progress} progress @param {string[]} known */
function daySection(app, progress, known) {
	const { t } = app;
	const { crews, days } = byDay(progress.crews, known);
	if (!days.length) return section("days", t("work.by_day"), h("p", { class: "state" }, t("work.nothing_recorded")));
	const heads = [t("work.day"), ...crews.map((c) => `${c || t("work.no_crew")}#`), `${t("work.together")}#`];
	const line = (/** @type {{day: string, done: number[]}} */ d) => [dayWords(t.language, d.day), ...d.done.map((n) => t.number(n)), t.number(d.done.reduce((a, b) => a + b, 0))];
	const rest = days.slice(RECENT);
	return section("days", t("work.by_day"), tableOf(t("work.by_day_caption"), heads, days.slice(0, RECENT).map(line)),
		rest.length ? h("details", { class: "beside" }, h("summary", {}, t("work.earlier_days", { n: rest.length })), tableOf(t("work.earlier_caption"), heads, rest.map(line))) : null);
}

/** @param {import("../map/app.js").App} app @param {Progress} progress */
function rateSection(app, progress) {
	const { t } = app;
	const named = (/** @type {string} */ cls) => (t.has(`work.class_${cls.replace(" ", "_")}`) ? t(`work.class_${cls.replace(" ", "_")}`) : cls);
	if (!progress.rates.length) return section("rates", t("work.rates"), h("p", { class: "state" }, t("work.no_rates")));
	const rows = progress.rates.map((r) => [[r.system, named(r.class)].filter(Boolean).join(" · "), t.number(r.per_hour, 1), r.standard ? t("work.planning_figure") : t("work.spread", { low: t.number(r.low, 1), high: t.number(r.high, 1) }), t.number(r.records)]);
	return section("rates", t("work.rates"), h("p", {}, t("work.rates_what")), tableOf(t("work.rates_caption"), [t("work.system_class"), `${t("work.per_hour")}#`, `${t("work.spread_col")}#`, `${t("work.records")}#`], rows));
}
