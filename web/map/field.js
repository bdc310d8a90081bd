// One field of a form: its label, what is wrong with it, and how its text is read.

import { h } from "./dom.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {object} Field
 * @property {string} name
 * @property {HTMLElement} line
 * @property {() => any} read the value, undefined for none; throws a Slip
 * @property {(text: string) => void} blame shows what is wrong
 * @property {string} raw what is in it now
 */

/** Something typed that cannot be meant. */
export class Slip extends Error {}

/**
 * @param {App} app
 * @param {string} id
 * @param {string} name
 * @param {string} label
 * @param {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} control
 * @param {(text: string) => any} read
 * @param {string} [hint]
 * @returns {Field}
 */
export function field(app, id, name, label, control, read, hint) {
	control.id = `${id}-${name}`;
	const fault = h("p", { class: "fault", id: `${control.id}-fault`, role: "alert" });
	const note = hint ? h("p", { class: "hint", id: `${control.id}-hint` }, hint) : null;
	control.setAttribute("aria-describedby", [fault.id, note?.id].filter(Boolean).join(" "));
	return {
		name,
		line: h("div", { class: "line" }, h("label", { for: control.id }, label), control, note, fault),
		read: () => read(control.value.trim()),
		get raw() {
			return control.value;
		},
		set raw(typed) {
			control.value = typed;
		},
		blame(text) {
			fault.textContent = text;
			control.setAttribute("aria-invalid", text ? "true" : "false");
			if (text) control.focus();
		},
	};
}

/** @param {[string, string][]} options @param {string} [value] @param {() => void} [onChange] */
export function select(options, value, onChange) {
	const control = h("select", {}, ...options.map(([v, label]) => h("option", { value: v }, label)));
	if (value) control.value = value;
	if (onChange) control.addEventListener("change", onChange);
	return control;
}

export const text = (/** @type {string} */ typed) => typed || undefined;

/** @param {App} app @param {number} from @param {number} to @param {number} example */
export function whole(app, from, to, example) {
	return (/** @type {string} */ typed) => {
		if (!typed) return undefined;
		if (!/^\d+$/.test(typed)) throw new Slip(app.t("record.wrong_whole", { example }));
		const n = Number(typed);
		if (n < from || n > to) throw new Slip(app.t("record.wrong_range", { from: String(from), to: String(to) }));
		return n;
	};
}

/** @param {Field[]} before @param {string} name */
export function rawOf(before, name) {
	return before.find((f) => f.name === name)?.raw;
}
