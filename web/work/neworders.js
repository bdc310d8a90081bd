// New orders: what is to be done where, by whom and when; the proposal that the
// server makes of it; kept only when a person says so.

import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { addDays, dayIn, dayWords, isDay } from "./days.js";
import { blame, choice, faultLine, labelled, tick, wholeOf } from "./fields.js";
import { nameOf } from "./head.js";
import { mountProposal } from "./proposalview.js";
import { reading } from "./reading.js";

/**
 * @typedef {import("./api.js").Crew} Crew
 * @typedef {import("./api.js").Progress} Progress
 * @typedef {import("./api.js").ShareWish} ShareWish
 */

const RULES = /** @type {const} */ (["all", "weak", "young", "follow-ups", "sick"]);
const MOST_DAYS = 60;
const USUAL_DAYS = 5;
const SUNDAY = 0;

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountNew(work, place) {
	const { app, api, about } = work;
	const { t } = app;
	const { season, operation } = about.get();
	const body = h("div", { class: "work-body" });
	const parts = reading(app, body, {
		ask: async (signal) => {
			const [crews, progress] = await Promise.all([api.crews(signal), api.progress(season, operation, signal)]);
			return { crews, blocks: progress.blocks };
		},
		draw: ({ crews, blocks }) => (crews.length ? formAndProposal(work, crews, blocks) : [h("p", { class: "state" }, t("work.no_crews")), button(t("work.to_crews"), () => about.set({ part: "crews" }), { data: { key: "to-crews" } })]),
		loading: t("work.new_loading"),
	});
	show(place, h("section", { class: "part", "aria-labelledby": "new-title" }, h("h1", { id: "new-title" }, t("work.new_title", { operation: nameOf(app, operation), season: String(season) })), h("p", {}, t("work.new_what"))), body);
	void parts.read(true);
	return { reload: () => {}, stop: parts.stop };
}

/** @param {import("./main.js").Work} work @param {Crew[]} crews @param {Progress["blocks"]} blocks */
function formAndProposal(work, crews, blocks) {
	const { app, api } = work;
	const { t } = app;
	const place = h("div", { id: "proposal", class: "work-body" });
	const say = (/** @type {string} */ text) => show(place, h("p", { class: "state", role: "status" }, text));
	let turn = 0;
	const ask = async (/** @type {ShareWish} */ wish) => {
		const mine = ++turn;
		/** Another proposal was asked for since, or the person is elsewhere. */
		const late = () => mine !== turn || !place.isConnected;
		document.documentElement.dataset.work = "sharing";
		say(t("work.sharing"));
		try {
			await mountProposal(work, place, wish, await api.share(wish), crews, late);
			if (late()) return;
			document.documentElement.dataset.work = "proposed";
		} catch (error) {
			if (late()) return;
			document.documentElement.dataset.work = "failed";
			show(place, h("div", { class: "trouble", role: "alert" }, h("p", {}, t("work.share_failed", { why: why(error) })), button(t("app.try_again"), () => void ask(wish))));
		}
	};
	return [shareForm(work, crews, blocks, ask), place];
}

/** @param {import("./main.js").Work} work @param {Crew[]} crews @param {Progress["blocks"]} blocks @param {(wish: ShareWish) => Promise<void>} ask */
function shareForm({ app, about }, crews, blocks, ask) {
	const { t } = app;
	const { season, operation } = about.get();
	const where = blockTicks(app, blocks);
	const who = crews.map((c) => ({ crew: c, ...tick(`with-${c.name.replace(/[^\w-]/g, "-")}`, `${c.name} · ${t("work.people", { n: c.people })}`, true) }));
	const rule = choice("rule", RULES.map((r) => [r, t(`work.rule_${r}`)]), "all");
	const first = h("input", { id: "first-day", type: "date" });
	first.value = dayIn(app.estate.zone, new Date());
	const days = h("input", { id: "days", class: "short", inputmode: "numeric" });
	days.value = String(USUAL_DAYS);
	const off = daysOff(app);
	const redraw = () => off.draw(first.value, wholeOf(days, 1, MOST_DAYS) ?? 0);
	first.addEventListener("change", redraw);
	days.addEventListener("input", redraw);
	redraw();
	const every = tick("every-other", t("work.every_other"));
	const corner = choice("corner", [["near", t("work.from_near")], ["far", t("work.from_far")]], "near");
	const fault = faultLine("share-fault");
	const form = h("form", { class: "work-form work-new", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		const n = wholeOf(days, 1, MOST_DAYS);
		const chosen = where.chosen();
		const names = who.filter((w) => w.input.checked).map((w) => w.crew.name);
		if (!chosen.length) return blame(fault, where.first(), t("work.no_block_chosen"));
		if (!names.length) return blame(fault, who[0].input, t("work.no_crew_chosen"));
		if (!isDay(first.value)) return blame(fault, first, t("work.no_day"));
		if (n === null) return blame(fault, days, t("record.wrong_range", { from: "1", to: String(MOST_DAYS) }));
		blame(fault, null);
		void ask({ season, operation, blocks: chosen, rule: rule.value, crews: names, day: first.value, days: n, off: off.chosen(), every_other: every.input.checked, corner: corner.value });
	} } },
		where.element,
		h("fieldset", { class: "work-ticks" }, h("legend", {}, t("work.which_crews")), ...who.map((w) => w.element)),
		labelled(t("work.rule"), rule), labelled(t("work.first_day"), first), labelled(t("work.days"), days, t("work.days_hint")),
		off.element,
		labelled(t("work.from_end"), corner, t("work.near_hint")), every.element,
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main", data: { key: "share" } }, t("work.share"))), fault);
	return section("what", t("work.what_where"), form);
}

/** Blocks to tick, with what is left in each. @param {import("../map/app.js").App} app @param {Progress["blocks"]} blocks */
function blockTicks(app, blocks) {
	const { t } = app;
	const named = new Map(app.blocks.get().list.map((b) => [b.id, b.name]));
	const ticks = blocks.map((b) => {
		const left = b.vines - b.done;
		const words = [[b.code, named.get(b.block)].filter(Boolean).join(" "), left > 0 ? t("work.vines_left", { n: left }) : t("work.all_done")].join(" · ");
		return { block: b.block, left, ...tick(`block-${b.block}`, words) };
	});
	const all = (/** @type {boolean} */ on) => {
		for (const k of ticks) k.input.checked = on && k.left > 0;
	};
	const element = h("fieldset", { class: "work-ticks work-blocks" }, h("legend", {}, t("work.which_blocks")),
		h("div", { class: "acts" }, button(t("work.all_left"), () => all(true), { class: "small", data: { key: "all-blocks" } }), button(t("work.none"), () => all(false), { class: "small", data: { key: "no-blocks" } })),
		...ticks.map((k) => k.element));
	return { element, chosen: () => ticks.filter((k) => k.input.checked).map((k) => k.block), first: () => ticks[0]?.input ?? element };
}

/** Days without work, to tick; Sundays are ticked at first. @param {import("../map/app.js").App} app */
function daysOff(app) {
	const { t } = app;
	/** @type {Map<string, boolean>} */
	const set = new Map();
	let shown = /** @type {string[]} */ ([]);
	const list = h("div", { class: "work-days" });
	const summary = h("summary", { data: { key: "off" } });
	const element = h("details", { class: "beside work-off" }, summary, h("p", { class: "hint" }, t("work.off_hint")), list);
	const isOff = (/** @type {string} */ day) => set.get(day) ?? new Date(`${day}T00:00:00Z`).getUTCDay() === SUNDAY;
	const say = () => {
		const off = shown.filter(isOff);
		summary.textContent = off.length ? t("work.off_some", { n: off.length, days: off.slice(0, 3).map((d) => dayWords(t.language, d)).join(", ") + (off.length > 3 ? " …" : "") }) : t("work.off_none");
	};
	return {
		element,
		/** @param {string} first @param {number} n */
		draw(first, n) {
			shown = isDay(first) ? Array.from({ length: n }, (_, k) => addDays(first, k)) : [];
			show(list, ...shown.map((day) => {
				const one = tick(`off-${day}`, dayWords(t.language, day, "long"), isOff(day));
				one.input.addEventListener("change", () => {
					set.set(day, one.input.checked);
					say();
				});
				return one.element;
			}));
			say();
		},
		chosen: () => shown.filter(isOff),
	};
}
