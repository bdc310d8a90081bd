// One setting of the standards: its name, its value with its unit, and where its
// first value is from.

import { scaleOf, shownIn, typedIn } from "../lib/standards.js";
import { h } from "../map/dom.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/draft.js").Draft} Draft
 * @typedef {import("../lib/standards.js").Setting} Setting
 * @typedef {{control: HTMLElement, fault: HTMLElement, wrong: boolean}} Kept
 * @typedef {Map<string, Kept>} Fields what is in the form now, by path
 */

/** The key of a setting in the table of texts. @param {string} path */
export function keyOf(path) {
	return path.replace(/^pruning\./, "").replaceAll(".", "_");
}

/**
 * @param {App} app
 * @param {Draft} draft
 * @param {Fields} fields
 * @param {Setting} s
 * @param {(value: any) => void} [then] after a change
 */
export function settingLine(app, draft, fields, s, then) {
	const { t } = app;
	const key = keyOf(s.path);
	const id = `set-${key}`;
	const hint = t.has(`why.${key}`) ? h("p", { class: "hint", id: `${id}-hint` }, t(`why.${key}`)) : null;
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const put = (/** @type {any} */ value) => {
		draft.set(s.path, value);
		then?.(value);
	};
	const control = controlOf(app, draft, s, id, (value) => {
		mark(kept, value === null ? wrongText(app, s) : "");
		if (value !== null) put(value);
	});
	control.setAttribute("aria-describedby", [fault.id, hint?.id].filter(Boolean).join(" "));
	/** @type {Kept} */
	const kept = { control, fault, wrong: false };
	fields.set(s.path, kept);
	const [, unit] = scaleOf(s, app.units.us);
	const word = unit ? t(`in.${unit}`) : "";
	if (s.kind === "check") return h("div", { class: "set" }, h("label", { class: "check", for: id }, control, t(`set.${key}`)), hint, fault);
	return h("div", { class: "set" }, h("label", { for: id }, t(`set.${key}`)),
		h("div", { class: "set-value" }, control, word ? h("span", { class: "set-unit", id: `${id}-unit` }, word) : null), hint, fault);
}

/** @param {App} app @param {Draft} draft @param {Setting} s @param {string} id @param {(value: any) => void} act */
function controlOf(app, draft, s, id, act) {
	const value = draft.get(s.path);
	if (s.kind === "words") {
		const list = h("select", { id, on: { change: () => act(list.value) } }, ...(s.words ?? []).map((w) => h("option", { value: w }, app.t(`word.${keyOf(s.path)}_${w}`))));
		list.value = String(value ?? "");
		return list;
	}
	if (s.kind === "check") {
		const box = h("input", { type: "checkbox", id, on: { change: () => act(box.checked) } });
		box.checked = value === true;
		return box;
	}
	const { us } = app.units;
	const input = h("input", { id, class: s.kind === "text" ? null : "short", inputmode: s.kind === "text" ? null : s.kind === "whole" ? "numeric" : "decimal", maxlength: "80", autocomplete: "off", on: { input: () => act(typedIn(s, input.value, us)) } });
	input.value = shownIn(s, value, us);
	return input;
}

/** @param {App} app @param {Setting} s */
function wrongText(app, s) {
	const { us } = app.units;
	const write = (/** @type {number} */ n) => shownIn({ ...s, kind: "number" }, n, us);
	return app.t(s.kind === "whole" ? "standards.wrong_whole" : "standards.wrong", { from: write(s.low ?? 0), to: write(s.high ?? 0) });
}

/** Says what is wrong with a field, or takes it back. @param {Kept} kept @param {string} text */
export function mark(kept, text) {
	kept.wrong = text !== "";
	kept.fault.textContent = text;
	kept.control.setAttribute("aria-invalid", String(kept.wrong));
}
