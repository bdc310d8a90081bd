// Days on which nobody can work, for rain or whatever else: marked, listed, taken
// back. What is open of such a day moves on, and the finish with it.

import { sending } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";
import { dayIn, dayWords, isDay } from "./days.js";
import { blame, faultLine, labelled, tick, whoField, wholeOf } from "./fields.js";

/** Days that open orders move on at most, as the server has it. */
const MOST_DAYS = 60;

/**
 * What a lost day asks: how far orders move on, and whether later ones do too.
 * @param {import("../map/app.js").App} app
 * @param {string} id
 * @param {string} usual
 */
export function moveFields({ t }, id, usual) {
	const days = h("input", { id: `on-${id}`, class: "short", inputmode: "numeric", data: { key: `on-${id}` } });
	days.value = usual;
	const later = tick(`later-${id}`, t("work.rain_later"), true);
	return {
		days,
		elements: [labelled(t("work.rain_days"), days, t("work.rain_hint")), later.element],
		/** @param {number} least @param {HTMLElement} fault @returns {{days: number, later: boolean} | null} null: said what is wrong */
		read(least, fault) {
			const n = wholeOf(days, least, MOST_DAYS);
			if (n === null) {
				blame(fault, days, t("record.wrong_range", { from: String(least), to: String(MOST_DAYS) }));
				return null;
			}
			return { days: n, later: later.input.checked };
		},
	};
}

/** @param {import("./main.js").Work} work @param {string[]} lost @param {() => void} reload */
export function lostSection({ app, api, about }, lost, reload) {
	const { t } = app;
	const { season } = about.get();
	const words = (/** @type {string} */ day) => dayWords(t.language, day, "long");
	const fault = faultLine("lost-fault");
	const by = whoField(app, "lost-by");
	const send = async (/** @type {{day: string, lost: boolean, days?: number, later?: boolean}} */ wish, /** @type {(moved: number) => string} */ said) => {
		try {
			const { moved } = await api.lostDay({ season, by: by.value.trim(), ...wish });
			toast(app, said(moved));
			if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
			reload();
		} catch (error) {
			fault.textContent = t("work.not_done", { why: why(error) });
		}
	};
	const day = h("input", { id: "lost-day", type: "date", data: { key: "lost-day" } });
	day.value = dayIn(app.estate.zone, new Date());
	const move = moveFields(app, "lost", "1");
	const form = h("form", { id: "lost", class: "work-form no-print", novalidate: true, on: { submit: sending(async () => {
		if (!isDay(day.value)) return blame(fault, day, t("work.no_day"));
		const how = move.read(0, fault);
		if (!how) return;
		blame(fault, null);
		await send({ day: day.value, lost: true, ...how }, (moved) => `${t("work.lost_set", { day: words(day.value) })} ${t("work.moved", { n: moved })}`);
	}) } }, labelled(t("work.lost_day"), day), ...move.elements, labelled(t("work.who"), by), h("div", { class: "acts" }, h("button", { type: "submit", data: { key: "lose" } }, t("work.lose_day"))), fault);
	return section("lost-days", t("work.lost_days"), h("p", {}, t("work.lost_what")),
		lost.length ? h("ul", { class: "work-lost" }, ...lost.map((d) => h("li", { data: { day: d } }, words(d), button(t("work.lost_back"), () => void send({ day: d, lost: false }, () => t("work.lost_gone", { day: words(d) })), { class: "small no-print", "aria-label": t("work.lost_back_day", { day: words(d) }), data: { key: `back-${d}` } })))) : h("p", { class: "state" }, t("work.lost_none")),
		form);
}
