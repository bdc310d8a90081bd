// One field of the order: its name, its value with its unit, and what is wrong
// with it in words beside it.

import { readNumber } from "../lib/units.js";
import { valueAt } from "../lib/zones.js";
import { h } from "../map/dom.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {{get: () => import("../lib/zones.js").Order, set: (path: string, value: any) => void}} Draft
 * @typedef {{control: HTMLElement, fault: HTMLElement, wrong: boolean}} Kept
 * @typedef {Map<string, Kept>} Fields by path
 * @typedef {{factor: number, word: string}} Unit what a kept number is multiplied with to be shown, and the word after it
 */

/** @param {string} path */
export const idOf = (path) => `z-${path.replaceAll(/[._]/g, "-")}`;

/**
 * A number.
 * @param {App} app
 * @param {Draft} draft
 * @param {Fields} fields
 * @param {{path: string, label: string, unit?: Unit, hint?: string, low?: number, high?: number, whole?: boolean, empty?: boolean}} about low and high in the unit shown; empty: nothing written means 0
 */
export function numberField(app, draft, fields, { path, label, unit = { factor: 1, word: "" }, hint, low = 0, high = 1e9, whole = false, empty = true }) {
	const { t } = app;
	const id = idOf(path);
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const input = h("input", { id, class: "short", inputmode: whole ? "numeric" : "decimal", autocomplete: "off", maxlength: "14", data: { key: id },
		"aria-describedby": [`${id}-fault`, hint ? `${id}-hint` : null].filter(Boolean).join(" "), on: { input: () => {
			const text = input.value.trim();
			const n = text === "" && empty ? 0 : readNumber(text);
			const bad = n === null || n < low && !(empty && n === 0) || n > high || whole && !Number.isInteger(n);
			mark(kept, bad ? t(whole ? "zones.wrong_whole" : "zones.wrong", { from: t.number(low, 4), to: t.number(high, 4) }) : "");
			if (!bad) draft.set(path, n / unit.factor);
		} } });
	const now = Number(valueAt(draft.get(), path) ?? 0) * unit.factor;
	input.value = now === 0 && empty ? "" : String(Number(now.toPrecision(8)));
	/** @type {Kept} */
	const kept = { control: input, fault, wrong: false };
	fields.set(path, kept);
	return h("div", { class: "set" }, h("label", { for: id }, label), h("div", { class: "set-value" }, input, unit.word ? h("span", { class: "set-unit" }, unit.word) : null), hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null, fault);
}

/**
 * A choice from a list.
 * @param {Draft} draft
 * @param {Fields} fields
 * @param {{path: string, label: string, of: [string, string][], hint?: string, number?: boolean, then?: (value: string) => void}} about
 */
export function choiceField(draft, fields, { path, label, of, hint, number = false, then }) {
	const id = idOf(path);
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const list = h("select", { id, "aria-describedby": [fault.id, hint ? `${id}-hint` : null].filter(Boolean).join(" "), data: { key: id }, on: { change: () => {
		mark(kept, "");
		draft.set(path, number ? Number(list.value) : list.value);
		then?.(list.value);
	} } }, ...of.map(([value, text]) => h("option", { value }, text)));
	list.value = String(valueAt(draft.get(), path) ?? "");
	/** @type {Kept} */
	const kept = { control: list, fault, wrong: false };
	fields.set(path, kept);
	return h("div", { class: "set" }, h("label", { for: id }, label), list, hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null, fault);
}

/** @param {Draft} draft @param {Fields} fields @param {{path: string, label: string, hint?: string}} about */
export function tickField(draft, fields, { path, label, hint }) {
	const id = idOf(path);
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const box = h("input", { type: "checkbox", id, "aria-describedby": fault.id, data: { key: id }, on: { change: () => draft.set(path, box.checked) } });
	box.checked = valueAt(draft.get(), path) === true;
	fields.set(path, { control: box, fault, wrong: false });
	return h("div", { class: "set" }, h("label", { class: "check", for: id }, box, label), hint ? h("p", { class: "hint" }, hint) : null, fault);
}

/** @param {Draft} draft @param {Fields} fields @param {{path: string, label: string}} about */
export function textField(draft, fields, { path, label }) {
	const id = idOf(path);
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const input = h("input", { id, maxlength: "80", autocomplete: "off", "aria-describedby": fault.id, data: { key: id }, on: { input: () => draft.set(path, input.value) } });
	input.value = String(valueAt(draft.get(), path) ?? "");
	fields.set(path, { control: input, fault, wrong: false });
	return h("div", { class: "set" }, h("label", { for: id }, label), input, fault);
}

/** Says what is wrong with a field, or takes it back. @param {Kept} kept @param {string} text */
export function mark(kept, text) {
	kept.wrong = text !== "";
	kept.fault.textContent = text;
	kept.control.setAttribute("aria-invalid", String(kept.wrong));
}

/** What the server says of a field; of all others it takes back what it said before. Tells whether there was a field. @param {Fields} fields @param {string} path @param {string} text */
export function blame(fields, path, text) {
	for (const [p, kept] of fields) {
		if (!kept.control.dataset.blamed || p === path) continue;
		delete kept.control.dataset.blamed;
		mark(kept, "");
	}
	const kept = fields.get(path);
	if (!kept) return false;
	kept.control.dataset.blamed = "1";
	mark(kept, text);
	return true;
}
