// The list on the phones: handed to one crew or to all, with how many vines are
// weighed, until it is withdrawn.

import { onceAtATime, sending } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Weighing} Weighing
 * @typedef {import("../lib/findings.js").HandedList} HandedList
 */

/**
 * @param {App} app
 * @param {Weighing} list the one that is shown on the page
 * @param {() => string} unit that weights are written in
 */
export function handOverSection(app, list, unit) {
	const { t } = app;
	const handed = h("div", { class: "handed", data: { state: "loading" } });
	const said = h("p", { role: "status", class: "handed-said" });
	const fault = h("p", { class: "fault", role: "alert" });
	/** @type {AbortController | null} */
	let running = null;
	const read = async () => {
		running?.abort();
		const mine = (running = new AbortController());
		try {
			const lists = await app.api.handedLists(list.block, list.season, mine.signal);
			if (mine.signal.aborted) return;
			show(handed, ...shown(app, lists, withdraw));
			handed.dataset.state = "ready";
		} catch (error) {
			if (mine.signal.aborted) return;
			show(handed, h("p", { class: "trouble", role: "alert" }, t("weigh.handed_failed", { why: why(error) })), button(t("app.try_again"), () => void read()));
			handed.dataset.state = "failed";
		}
	};
	/** Does something at the server, says so, and reads again. */
	const change = onceAtATime(async (/** @type {() => Promise<unknown>} */ act, /** @type {string} */ text) => {
		show(fault);
		show(said);
		try {
			await act();
			show(said, text);
		} catch (error) {
			show(fault, t("weigh.not_handed", { why: why(error) }));
		}
		await read();
	});
	const withdraw = (/** @type {HandedList} */ one) => change(() => app.api.withdrawHanded(one.id), t("weigh.withdrawn"));
	void read();
	const now = list.season === app.estate.season;
	const form = now ? formOf(app, list, (crew) => change(
		() => app.api.handOver({ by: app.by.get(), season: list.season, block: list.block, crew, unit: unit(), vines: list.vines.map((v) => v.id) }),
		t("weigh.handed_over", { n: list.vines.length }))) : h("p", { class: "hint" }, t("weigh.other_season", { season: String(app.estate.season) }));
	const whole = section("phones", t("weigh.phones"), h("p", {}, t("weigh.phones_how")), handed, form, said, fault);
	whole.classList.add("no-print");
	return { section: whole, reload: () => void read() };
}

/** To whom. @param {App} app @param {Weighing} list @param {(crew: string) => Promise<unknown>} give */
function formOf(app, list, give) {
	const { t } = app;
	const crew = h("select", { id: "weigh-crew" }, h("option", { value: "" }, t("weigh.all_crews")));
	void app.api.crews().then((crews) => crew.append(...crews.map((c) => h("option", { value: c.name }, c.name)))).catch(() => {});
	return h("form", { class: "weigh-form", id: "hand-over", on: { submit: sending(() => give(crew.value)) } },
		h("label", { for: "weigh-crew" }, t("weigh.to_crew")), crew,
		h("button", { type: "submit", class: "main" }, t("weigh.hand_over", { n: list.vines.length })));
}

/** @param {App} app @param {HandedList[]} lists @param {(one: HandedList) => void} withdraw */
function shown(app, lists, withdraw) {
	const { t } = app;
	if (!lists.length) return [h("p", { class: "state" }, t("weigh.none_handed"))];
	const day = new Intl.DateTimeFormat(t.language, { dateStyle: "medium" });
	return [h("ul", { class: "handed-lists" }, ...lists.map((one) => h("li", { data: { list: one.id } },
		h("strong", {}, t("weigh.handed_to", { n: one.number, crew: one.crew || t("weigh.all_crews"), unit: t(`unit.${one.unit}`) })),
		h("span", {}, one.by ? t("weigh.handed_when", { by: one.by, day: day.format(new Date(one.made)) }) : day.format(new Date(one.made))),
		h("span", { class: "handed-done" }, t("weigh.handed_done", { n: one.done }) + (one.skipped ? `, ${t("weigh.handed_skipped", { n: one.skipped })}` : "")),
		h("progress", { max: String(one.number), value: String(one.done + one.skipped), "aria-label": t("weigh.handed_progress") }),
		button(t("weigh.withdraw"), () => withdraw(one), { data: { key: `withdraw-${one.id}` } }))))];
}
