// Pieces of the forms on this page.

import { h } from "../map/dom.js";

/** A label above its field. @param {string} text @param {HTMLElement} input with an id @param {string} [hint] */
export function labelled(text, input, hint = "") {
	if (hint) input.setAttribute("aria-describedby", `${input.id}-hint`);
	return h("div", { class: "work-field" }, h("label", { for: input.id }, text), input, hint ? h("p", { class: "hint", id: `${input.id}-hint` }, hint) : null);
}

/** @param {string} id @param {[string, string][]} options value and text @param {string} value */
export function choice(id, options, value) {
	const select = h("select", { id, data: { key: id } }, ...options.map(([v, text]) => h("option", { value: v }, text)));
	select.value = value;
	return select;
}

/** A tick with its words. @param {string} id @param {string} text @param {boolean} [on] */
export function tick(id, text, on = false) {
	const input = h("input", { type: "checkbox", id, data: { key: id } });
	input.checked = on;
	return { input, element: h("label", { class: "check" }, input, text) };
}

/** Who does this; kept for the next time. @param {import("../map/app.js").App} app @param {string} id */
export function whoField(app, id) {
	const input = h("input", { id, data: { key: id }, autocomplete: "name", maxlength: "80", on: { change: () => app.by.set(input.value.trim()) } });
	input.value = app.by.get();
	return input;
}

/** A whole number typed, or null. @param {HTMLInputElement} input @param {number} least @param {number} most */
export function wholeOf(input, least, most) {
	const text = input.value.trim();
	const n = /^\d{1,6}$/.test(text) ? Number(text) : NaN;
	return n >= least && n <= most ? n : null;
}

/**
 * Says what is wrong with a field and puts the cursor there.
 * @param {HTMLElement} place role=alert
 * @param {HTMLElement | null} input null: nothing is wrong
 * @param {string} [text]
 */
export function blame(place, input, text = "") {
	for (const e of place.closest("form, section")?.querySelectorAll("[aria-invalid=true]") ?? []) e.removeAttribute("aria-invalid");
	place.textContent = text;
	if (!input) return;
	input.setAttribute("aria-invalid", "true");
	input.focus();
}

/** A line that says what went wrong, empty at first. @param {string} id */
export function faultLine(id) {
	return h("p", { class: "fault", id, role: "alert" });
}

/**
 * Progress as a bar; the words beside it say the same.
 * @param {number} done
 * @param {number} all
 * @param {string} label
 */
export function bar(done, all, label) {
	return h("progress", { class: "work-bar", max: String(Math.max(1, all)), value: String(done), "aria-label": label });
}
