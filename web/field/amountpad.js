// Large keys for an amount, the unit beside it, and one button that keeps it.

import { onceAtATime } from "../lib/once.js";
import { decimal, judge, pressed, unitsOf } from "./amount.js";
import { buzz, h, tap } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./amount.js").What} What
 */

/**
 * What is wrong with the number, what was typed with its keys, the button. An impossible amount is refused,
 * an unlikely one is asked about once: pressing again keeps it.
 * @param {App} app
 * @param {object} parts
 * @param {() => What} parts.what
 * @param {(unit: string) => Promise<void> | void} parts.onUnit another unit was chosen; it shows when it is kept
 * @param {(value: Record<string, any>) => Promise<any>} parts.keep
 */
export function amountPad(app, { what, onUnit, keep }) {
	const { t } = app;
	const mark = t.number(0.5, 1).replaceAll(/\d/g, "");
	let typed = "";
	let asked = false;
	/** @type {Promise<void>} a unit that is being kept */
	let changing = Promise.resolve();
	const number = h("output", { class: "amount-typed", "aria-live": "polite", "aria-label": t("amount.typed") }, "–");
	const said = h("p", { class: "amount-said", role: "alert" });
	const save = tap(t("amount.keep"), "done", () => void press(), { key: "keep", class: "main" });
	const label = /** @type {HTMLElement} */ (save.lastChild);
	const fresh = () => {
		asked = false;
		said.textContent = "";
		label.textContent = t("amount.keep");
	};
	const press = async () => {
		await changing; // judged by the unit that shows
		const judged = judge(t, what(), typed, asked);
		if ("value" in judged) return keep(judged.value);
		const { key, words } = "fault" in judged ? judged.fault : judged.ask;
		said.textContent = t(key, words);
		asked = "ask" in judged;
		if (asked) label.textContent = t("amount.all_the_same");
		buzz([200, 100, 200]);
	};
	const put = (/** @type {string} */ key) => {
		typed = pressed(typed, key);
		number.textContent = typed.replace(".", mark) || "–";
		fresh();
	};
	const key = (/** @type {string} */ k, /** @type {string} */ text, /** @type {Record<string, any>} */ more = {}) =>
		h("button", { type: "button", class: "tap key", data: { key: `digit-${k}` }, ...more, on: { click: () => put(k) } }, text);
	const digits = (/** @type {string} */ list) => list.split("").map((d) => key(d, d));
	const keys = h("div", { class: "keypad amount-keys" },
		...digits("123"), key("back", "⌫", { "aria-label": t("keypad.back") }),
		...digits("456"), decimal(what().quantity) ? key(".", mark, { "aria-label": t("amount.mark") }) : h("span", {}),
		...digits("7890"));
	const display = h("div", { class: "amount" }, number, unitButton(app, what, async (unit) => {
		await (changing = Promise.resolve(onUnit(unit)));
		fresh();
	}));
	return { said, numbers: h("div", { class: "numbers" }, display, keys), save };
}

/** The unit; each press brings the next one. @param {App} app @param {() => What} what @param {(unit: string) => Promise<void>} on */
function unitButton(app, what, on) {
	const { t } = app;
	const units = unitsOf(what().quantity);
	const name = (/** @type {string} */ u) => (u === "score" ? what().scale : t(`unit.${u}`));
	if (units.length < 2) return h("span", { class: "amount-unit", data: { unit: units[0] } }, name(units[0]));
	const next = onceAtATime(async () => {
		await on(units[(units.indexOf(what().unit) + 1) % units.length]);
		const { unit } = what();
		button.dataset.unit = unit;
		/** @type {HTMLElement} */ (button.lastChild).textContent = name(unit);
		button.setAttribute("aria-label", t("amount.unit", { unit: name(unit) }));
	});
	const button = tap(name(what().unit), null, () => void next(), { key: "unit", class: "amount-unit", "aria-label": t("amount.unit", { unit: name(what().unit) }) });
	button.dataset.unit = what().unit;
	return button;
}
