// A list on the phones: handed to one crew or to all, with how far it has got, until
// it is withdrawn.

import { onceAtATime, sending } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {{id: string, crew: string, by: string, made: string, number: number}} Handed
 */

/**
 * @template {Handed} T
 * @typedef {object} How which lists, and their words
 * @property {number} season of the list on the page
 * @property {() => number} number of vines that would be handed over now
 * @property {(signal: AbortSignal) => Promise<T[]>} lists that were handed over
 * @property {(crew: string) => Promise<unknown>} give
 * @property {(id: string) => Promise<unknown>} withdraw
 * @property {{about: string, give: (n: number) => string, given: (n: number) => string, withdrawn: string, name: (one: T) => string, done: (one: T) => string}} words
 * @property {(one: T) => number} done how many of its vines
 */

/**
 * @template {Handed} T
 * @param {App} app
 * @param {How<T>} how
 */
export function handOverSection(app, how) {
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
			const lists = await how.lists(mine.signal);
			if (mine.signal.aborted) return;
			show(handed, ...shown(app, how, lists, withdraw));
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
	const withdraw = (/** @type {T} */ one) => change(() => how.withdraw(one.id), how.words.withdrawn);
	void read();
	const go = h("button", { type: "submit", class: "main" });
	const count = () => {
		go.textContent = how.words.give(how.number());
		go.disabled = !how.number();
	};
	count();
	const now = how.season === app.estate.season;
	const form = now ? formOf(app, go, (crew) => {
		const n = how.number();
		return change(() => how.give(crew), how.words.given(n));
	}) : h("p", { class: "hint" }, t("weigh.other_season", { season: String(app.estate.season) }));
	const whole = section("phones", t("weigh.phones"), h("p", {}, how.words.about), handed, form, said, fault);
	whole.classList.add("no-print");
	return { section: whole, reload: () => void read(), count, stop: () => running?.abort() };
}

/** To whom. @param {App} app @param {HTMLElement} go @param {(crew: string) => Promise<unknown>} give */
function formOf(app, go, give) {
	const { t } = app;
	const crew = h("select", { id: "weigh-crew" }, h("option", { value: "" }, t("weigh.all_crews")));
	void app.api.crews().then((crews) => crew.append(...crews.map((c) => h("option", { value: c.name }, c.name)))).catch(() => {});
	return h("form", { class: "weigh-form", id: "hand-over", on: { submit: sending(() => give(crew.value)) } },
		h("label", { for: "weigh-crew" }, t("weigh.to_crew")), crew, go);
}

/** @template {Handed} T @param {App} app @param {How<T>} how @param {T[]} lists @param {(one: T) => void} withdraw */
function shown(app, { words, done }, lists, withdraw) {
	const { t } = app;
	if (!lists.length) return [h("p", { class: "state" }, t("weigh.none_handed"))];
	const day = new Intl.DateTimeFormat(t.language, { dateStyle: "medium" });
	return [h("ul", { class: "handed-lists" }, ...lists.map((one) => h("li", { data: { list: one.id } },
		h("strong", {}, words.name(one)),
		h("span", {}, one.by ? t("weigh.handed_when", { by: one.by, day: day.format(new Date(one.made)) }) : day.format(new Date(one.made))),
		h("span", { class: "handed-done" }, words.done(one)),
		h("progress", { max: String(one.number), value: String(done(one)), "aria-label": t("weigh.handed_progress") }),
		button(t("weigh.withdraw"), () => withdraw(one), { data: { key: `withdraw-${one.id}` } }))))];
}
