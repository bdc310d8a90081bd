// Fields of the forms of this page: each keeps its text, says what is wrong with it
// beside it, and gives its value.

import { readNumber } from "../lib/units.js";
import { h } from "../map/dom.js";

/** @typedef {import("./main.js").Ground} Ground */
/**
 * @typedef {object} Field
 * @property {HTMLElement} line
 * @property {HTMLInputElement | HTMLSelectElement} control
 * @property {() => any} value undefined where it is wrong
 * @property {(text: string) => void} blame
 */

/**
 * @param {string} name as the server calls it
 * @param {string} label
 * @param {HTMLInputElement | HTMLSelectElement} control
 * @param {() => any} read undefined where it is wrong
 * @param {{hint?: string, unit?: string}} [more]
 * @returns {Field}
 */
function field(name, label, control, read, { hint, unit } = {}) {
	control.id = `g-${name.replaceAll("_", "-")}`;
	const fault = h("p", { class: "fault", id: `${control.id}-fault`, role: "alert" });
	const note = hint ? h("p", { class: "hint", id: `${control.id}-hint` }, hint) : null;
	control.setAttribute("aria-describedby", [fault.id, note?.id].filter(Boolean).join(" "));
	return {
		line: h("div", { class: "ground-field" }, h("label", { for: control.id }, label), unit ? h("div", { class: "ground-value" }, control, h("span", {}, unit)) : control, note, fault),
		control, value: read,
		blame(text) {
			fault.textContent = text;
			control.setAttribute("aria-invalid", String(text !== ""));
		},
	};
}

/**
 * A number; a length is shown in the estate's unit and given in metres.
 * @param {Ground} page
 * @param {string} name
 * @param {{label: string, value?: number, low: number, high: number, length?: boolean, whole?: boolean, empty?: number, hint?: string, changed: () => void}} about low and high in the unit shown; empty: what nothing written means
 */
export function numberField({ t, units }, name, { label, value, low, high, length = false, whole = false, empty, hint, changed }) {
	const input = h("input", { inputmode: whole ? "numeric" : "decimal", autocomplete: "off", maxlength: "12", on: { input: () => {
		me.blame("");
		changed();
	} } });
	const write = (/** @type {number} */ n) => String(Number((length ? units.shown("spacing", n) : n).toPrecision(6)));
	input.value = value === undefined ? "" : write(value);
	const me = Object.assign(field(name, label, input, () => {
		const text = input.value.trim();
		if (text === "" && empty !== undefined) return empty;
		const n = readNumber(text);
		const good = n !== null && n >= low && n <= high && (!whole || Number.isInteger(n));
		me.blame(good ? "" : t(whole ? "zones.wrong_whole" : "zones.wrong", { from: t.number(low, 2), to: t.number(high, 2) }));
		return good ? (length ? units.stored("spacing", n) : n) : undefined;
	}, { hint, unit: length ? units.unit("spacing") : undefined }), { set: (/** @type {number} */ n) => void (input.value = write(n)) });
	return me;
}

/** @param {string} name @param {{label: string, most: number, hint?: string, changed?: () => void, complete?: string}} about */
export function textField(name, { label, most, hint, changed, complete = "off" }) {
	const input = h("input", { maxlength: String(most), autocomplete: complete, on: { input: () => {
		me.blame("");
		changed?.();
	} } });
	const me = field(name, label, input, () => input.value.trim(), { hint });
	return me;
}

/** @param {string} name @param {{label: string, of: [string, string][], hint?: string, changed: () => void}} about */
export function choiceField(name, { label, of, hint, changed }) {
	const list = h("select", { on: { change: () => {
		me.blame("");
		changed();
	} } }, ...of.map(([value, text]) => h("option", { value }, text)));
	const me = field(name, label, list, () => list.value, { hint });
	return me;
}

/** @param {string} name @param {{label: string, hint?: string, changed: () => void}} about @returns {Field} */
export function tickField(name, { label, hint, changed }) {
	const box = h("input", { type: "checkbox", id: `g-${name}`, on: { change: () => changed() } });
	const fault = h("p", { class: "fault", id: `${box.id}-fault`, role: "alert" });
	box.setAttribute("aria-describedby", fault.id);
	return {
		line: h("div", { class: "ground-field" }, h("label", { class: "check", for: box.id }, box, label), hint ? h("p", { class: "hint" }, hint) : null, fault),
		control: box, value: () => box.checked,
		blame: (text) => void (fault.textContent = text),
	};
}

/** The sides of a block by compass, after a first word for none. @param {import("../lib/text.js").Texts} t @param {string} none @returns {[string, string][]} */
export function compass(t, none) {
	return [["", none], ...["N", "NE", "E", "SE", "S", "SW", "W", "NW"].map((w) => /** @type {[string, string]} */ ([w, t(`ground.side_${w.toLowerCase()}`)]))];
}

/**
 * Says at its field what the server refused; false where there is no such field.
 * @param {Record<string, Field>} fields
 * @param {unknown} error
 */
export function blameField(fields, error) {
	const name = /** @type {{field?: string}} */ (error)?.field ?? "";
	if (!fields[name] || !(error instanceof Error)) return false;
	fields[name].blame(error.message);
	return true;
}

/** What all fields say, null where one is wrong. @param {Record<string, Field>} fields @returns {Record<string, any> | null} */
export function read(fields) {
	const out = Object.fromEntries(Object.entries(fields).map(([name, f]) => [name, f.value()]));
	return Object.values(out).some((v) => v === undefined) ? null : out;
}
