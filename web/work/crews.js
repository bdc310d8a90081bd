// The crews: who there is, added, changed, removed.

import { sending } from "../lib/once.js";
import { readNumber } from "../lib/units.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";
import { blame, choice, faultLine, labelled, tick, wholeOf } from "./fields.js";
import { ownOperations } from "./ownoperations.js";
import { reading } from "./reading.js";

/** @typedef {import("./api.js").Crew} Crew */

const LANGUAGES = /** @type {const} */ (["en", "es", "fr", "pt"]);

/** @type {Crew} */
const FRESH = { name: "", people: 4, hours_per_day: 8, skilled: false, language: "" };

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountCrews(work, place) {
	const { app, api } = work;
	const { t } = app;
	const list = h("div", { class: "work-list" });
	const parts = reading(app, list, { ask: api.crews, draw: (crews) => (crews.length ? crews.map(card) : [h("p", { class: "state", id: "no-crews" }, t("work.no_crews"))]), loading: t("work.crews_loading") });
	const save = async (/** @type {Crew} */ crew) => {
		await api.saveCrew(crew);
		toast(app, t("work.crew_saved", { crew: crew.name }));
		void parts.read(false);
	};
	const remove = async (/** @type {Crew} */ crew) => {
		try {
			await api.removeCrew(crew.name);
			toast(app, t("work.crew_removed", { crew: crew.name }), { act: { label: t("work.undo"), run: () => void save(crew).catch((error) => toast(app, t("work.not_done", { why: why(error) }), { trouble: true })) } });
		} catch (error) {
			toast(app, t("work.not_done", { why: why(error) }), { trouble: true });
		}
		void parts.read(false);
	};

	/** @param {Crew} crew */
	const card = (crew) => {
		const body = h("div", { class: "work-card", data: { crew: crew.name } });
		const view = () => show(body,
			h("h2", {}, crew.name),
			h("p", {}, [t("work.people", { n: crew.people }), t("work.hours_a_day", { hours: t.number(crew.hours_per_day, 2) }), t(crew.skilled ? "work.skilled_yes" : "work.skilled_no"), t("work.phones_in", { language: languageText(crew.language) })].join(" · ")),
			h("div", { class: "acts" },
				h("a", { class: "button", href: `/field#crew=${encodeURIComponent(crew.name)}` }, t("work.phone_page")),
				button(t("work.change"), edit, { "aria-label": t("work.change_crew", { crew: crew.name }), data: { key: `change-${crew.name}` } }),
				button(t("work.remove"), () => void remove(crew), { "aria-label": t("work.remove_crew", { crew: crew.name }), data: { key: `remove-${crew.name}` } })));
		const edit = () => {
			show(body, h("h2", {}, t("work.change_crew", { crew: crew.name })), form(`edit-${crew.name}`, crew, true, view));
			body.querySelector("input")?.focus();
		};
		view();
		return body;
	};

	/** @param {string} language */
	const languageText = (language) => (language ? t(`work.language_${language}`) : t("work.language_own"));

	/** @param {string} id @param {Crew} crew @param {boolean} known its name stays @param {() => void} [cancel] */
	const form = (id, crew, known, cancel) => {
		const prefix = id.replace(/[^\w-]/g, "-");
		const name = h("input", { id: `${prefix}-name`, maxlength: "80", autocomplete: "off" });
		const people = h("input", { id: `${prefix}-people`, class: "short", inputmode: "numeric" });
		const hours = h("input", { id: `${prefix}-hours`, class: "short", inputmode: "decimal" });
		[name.value, people.value, hours.value] = [crew.name, String(crew.people), String(crew.hours_per_day)];
		const skilled = tick(`${prefix}-skilled`, t("work.skilled"), crew.skilled);
		const language = choice(`${prefix}-language`, [["", t("work.language_own")], ...LANGUAGES.map((l) => /** @type {[string, string]} */ ([l, t(`work.language_${l}`)]))], crew.language);
		const fault = faultLine(`${prefix}-fault`);
		const element = h("form", { class: "work-form", novalidate: true, on: { submit: sending(async () => {
			const n = wholeOf(people, 1, 500);
			const long = readNumber(hours.value);
			if (!name.value.trim()) return blame(fault, name, t("work.name_missing"));
			if (n === null) return blame(fault, people, t("record.wrong_range", { from: "1", to: "500" }));
			if (long === null || long <= 0 || long > 16) return blame(fault, hours, t("record.wrong_range", { from: t.number(0.5, 1), to: "16" }));
			blame(fault, null);
			try {
				await save({ name: name.value.trim(), people: n, hours_per_day: long, skilled: skilled.input.checked, language: language.value });
				if (!known) {
					name.value = "";
					name.focus();
				}
			} catch (error) {
				fault.textContent = t("work.not_done", { why: why(error) });
			}
		}) } },
			known ? null : labelled(t("work.name"), name), labelled(t("work.people_field"), people), labelled(t("work.hours_field"), hours), labelled(t("work.language"), language),
			skilled.element,
			h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t(known ? "work.save" : "work.add_crew")), cancel ? button(t("work.cancel"), cancel) : null), fault);
		return element;
	};

	show(place,
		h("section", { class: "part", "aria-labelledby": "crews-title" }, h("h1", { id: "crews-title" }, t("work.crews_title")), h("p", {}, t("work.crews_what")), list),
		section("add-crew", t("work.new_crew"), form("new-crew", FRESH, false)), ownOperations(work));
	void parts.read(true);
	return { reload: () => {}, stop: parts.stop };
}
