// Pieces of this page: forms that show a refusal beside its field, a question
// asked once, and what is shown only once.

import { ApiError } from "../lib/api.js";
import { onceAtATime } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { madeUpPassword } from "./words.js";

/**
 * @typedef {import("./main.js").People} People
 * @typedef {{key: string, input: HTMLInputElement | HTMLSelectElement, fault: HTMLElement, element: HTMLElement}} Field
 */

/**
 * A field with its label, and a place for what is wrong with it.
 * @param {string} id
 * @param {string} key the server's name of the field
 * @param {string} text
 * @param {HTMLInputElement | HTMLSelectElement} input
 * @param {{hint?: string, beside?: HTMLElement}} [more]
 * @returns {Field}
 */
export function field(id, key, text, input, { hint, beside } = {}) {
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	input.id = id;
	input.setAttribute("aria-describedby", [hint ? `${id}-hint` : "", fault.id].filter(Boolean).join(" "));
	return { key, input, fault, element: h("div", { class: "people-field" }, h("label", { for: id }, text), input, hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null, beside, fault) };
}

/** @param {[string, string][]} options value and text @param {string} [value] */
export function choice(options, value) {
	const select = h("select", {}, ...options.map(([v, text]) => h("option", { value: v }, text)));
	if (value !== undefined) select.value = value;
	return select;
}

/** A new password: one's own, or one made up and shown. @param {People} people @param {string} id @param {string} key @param {string} text @param {boolean} [offer] */
export function passwordField({ t }, id, key, text, offer = true) {
	const input = h("input", { type: "password", autocomplete: "new-password", autocapitalize: "none", spellcheck: "false" });
	const see = h("input", { type: "checkbox", on: { change: () => (input.type = see.checked ? "text" : "password") } });
	const suggest = () => {
		input.value = madeUpPassword((n) => crypto.getRandomValues(new Uint8Array(n)));
		input.type = "text";
		see.checked = true;
		input.focus();
		input.select();
	};
	return field(id, key, text, input, {
		hint: t("people.password_hint"),
		beside: h("div", { class: "acts" }, h("label", { class: "check" }, see, t("people.password_see")), offer ? button(t("people.password_make"), suggest) : null),
	});
}

/**
 * @param {People} people
 * @param {string} id
 * @param {Field[]} fields the first also shows what belongs to none
 * @param {string} label of the button
 * @param {() => Promise<void>} send
 * @param {() => void} [cancel]
 */
export function formOf({ t }, id, fields, label, send, cancel) {
	let waiting = false;
	const clear = () => {
		for (const f of fields) {
			f.fault.textContent = "";
			f.input.removeAttribute("aria-invalid");
		}
	};
	const blame = (/** @type {unknown} */ error) => {
		const named = error instanceof ApiError ? fields.find((f) => f.key === error.field && !f.element.hidden) : undefined;
		const f = named ?? fields[0];
		f.fault.textContent = error instanceof ApiError && !error.passing ? why(error) : t("people.not_done", { why: why(error) });
		f.input.setAttribute("aria-invalid", "true");
		f.input.focus();
	};
	return h("form", { class: "people-form", id, novalidate: true, on: { submit: async (/** @type {Event} */ e) => {
		e.preventDefault();
		if (waiting) return;
		waiting = true;
		clear();
		await send().catch(blame);
		waiting = false;
	} } }, ...fields.map((f) => f.element), h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, label), cancel ? button(t("people.cancel"), cancel) : null));
}

/**
 * Asks once, where the thing stands, and says what is lost.
 * @param {People} people
 * @param {HTMLElement} place
 * @param {{what: string, yes: string, run: () => Promise<void>, no: () => void}} parts
 */
export function askOnce({ t }, place, { what, yes, run, no }) {
	const fault = h("p", { class: "fault", role: "alert" });
	const go = onceAtATime(run);
	const keep = button(t("people.keep"), no, { data: { key: "keep" } });
	show(place, h("div", { class: "people-ask", role: "group", "aria-label": yes }, h("p", {}, what),
		h("div", { class: "acts" }, button(yes, () => void go().catch((error) => (fault.textContent = why(error))), { data: { key: "yes" } }), keep), fault));
	keep.focus();
}

/**
 * A text to copy. @param {People} people @param {string} id @param {string} label @param {string} text
 * @returns {HTMLElement[]}
 */
export function toCopy({ t, announce }, id, label, text) {
	const input = h("input", { id, class: "people-secret", readonly: true, spellcheck: "false", on: { focus: () => input.select() } });
	input.value = text;
	const said = h("span", { role: "status" });
	const copy = async () => {
		try {
			await navigator.clipboard.writeText(text);
			said.textContent = t("people.copied");
		} catch { // without https browsers keep the clipboard shut: it is marked, to be copied by hand
			input.focus();
			said.textContent = t("people.copy_by_hand");
		}
		announce(said.textContent ?? "");
	};
	return [h("label", { for: id }, label), input, h("div", { class: "acts no-print" }, button(t("people.copy"), () => void copy(), { class: "main" }), said)];
}

/**
 * Fills a place with an answer of the server; draws nothing anew that is as before.
 * @template A
 * @param {People} people
 * @param {HTMLElement} place
 * @param {() => Promise<A>} ask
 * @param {(answer: A) => (HTMLElement | null)[]} draw
 */
export function reading({ t }, place, ask, draw) {
	const { dataset } = document.documentElement;
	let shown = "";
	let turn = 0;
	const read = async () => {
		const mine = ++turn;
		try {
			const answer = await ask();
			if (mine !== turn || !place.isConnected) return;
			const now = JSON.stringify(answer);
			if (now !== shown) show(place, ...draw(answer));
			shown = now;
			dataset.people = "ready";
		} catch (error) {
			if (mine !== turn || !place.isConnected) return;
			shown = "";
			dataset.people = "failed";
			show(place, h("div", { class: "trouble", role: "alert" }, h("p", {}, t("people.failed", { why: why(error) })), button(t("app.try_again"), () => void read(), { data: { key: "again" } })));
		}
	};
	dataset.people = "loading";
	show(place, h("p", { class: "state", role: "status" }, t("app.loading")));
	return read;
}
