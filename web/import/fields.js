// The fields in which something is said about the files. Each tells the page at
// once, and the files are looked at anew.

import { h } from "../map/dom.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {object} Option
 * @property {string} name of it in the order
 * @property {"text" | "number" | "any" | "numbers" | "choice" | "tick"} kind a number is above 0, "any" is not
 * @property {string[]} [choices]
 * @property {"files" | "survey" | "points" | "image"} [of] what it has to do with; all where it is left out
 * @property {boolean} [asked] it must be answered
 */

/** What the order holds of an option, as a text. @param {Import["state"]} state @param {Option} option */
function held({ order }, { name }) {
	if (name === "canopy_index") return order.units?.canopy_index ?? "";
	const now = order[name];
	return Array.isArray(now) ? now.join(" ") : String(now ?? "");
}

/** The change of an order that an answer is, or null where it is none. @param {Option} option @param {string} text @returns {Record<string, any> | null} */
export function change({ name, kind }, text) {
	if (name === "canopy_index") return { units: text ? { canopy_index: text } : "" };
	if (!text || kind === "text" || kind === "choice") return { [name]: text };
	const numbers = text.split(/[\s;]+/).map((n) => Number(n.replace(",", ".")));
	if (numbers.some((n) => !Number.isFinite(n))) return null;
	if (kind === "numbers") return { [name]: numbers };
	if (numbers.length > 1 || (kind === "number" && !(numbers[0] > 0))) return null;
	return { [name]: numbers[0] };
}

/** @param {Import} page @param {Option} option @param {string} label */
export function field(page, option, label) {
	const { t, state, say } = page;
	if (option.kind === "tick") return tickField(page, option, label);
	const id = `say-${option.name}`;
	const hint = t.has(`import.hint_${option.name}`) ? t(`import.hint_${option.name}`) : "";
	const about = hint ? { "aria-describedby": `${id}-hint` } : {};
	const input = option.kind === "choice"
		? h("select", { id, ...about, data: { key: id } }, h("option", { value: "" }, t(option.asked ? "import.choose_one" : "import.as_found")), ...(option.choices ?? []).map((c) => h("option", { value: c }, word(t, c))))
		: h("input", { id, ...about, inputmode: option.kind === "number" ? "decimal" : null, autocomplete: "off", spellcheck: "false", data: { key: id } });
	input.value = held(state, option);
	const fault = h("p", { class: "fault", role: "alert" });
	input.addEventListener("change", () => {
		const said = change(option, input.value.trim());
		fault.textContent = said ? "" : t(option.kind === "number" ? "import.wrong_number" : "import.wrong_numbers");
		if (said) say(said);
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, label), input, hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null, fault);
}

/** @param {import("../lib/text.js").Texts} t @param {string} choice */
const word = (t, choice) => (t.has(`import.word_${choice}`) ? t(`import.word_${choice}`) : choice);

/** @param {Import} page @param {Option} option @param {string} label */
function tickField({ state, say }, option, label) {
	const box = h("input", { type: "checkbox", id: `say-${option.name}`, data: { key: `say-${option.name}` } });
	box.checked = state.order[option.name] === true;
	box.addEventListener("change", () => say({ [option.name]: box.checked || "" }));
	return h("div", { class: "import-field" }, h("label", { class: "check", for: box.id }, box, label));
}

/**
 * What the numbers of an image mean: one of what is proposed, or that they are
 * right as they are. @param {Import} page @param {import("./api.js").Question} ask @param {string} label
 */
export function choiceField({ t, say }, ask, label) {
	const id = `choose-${ask.option}`;
	const text = (/** @type {string} */ c) => {
		const [factor, add] = c.split(" ");
		if (c === "sure") return t("import.word_sure");
		if (ask.option === "no_value") return t("import.mean_none", { numbers: c.split(" ").join(", ") });
		if (ask.option === "no_beyond") return t("import.beyond_none");
		return add ? t("import.times_add", { factor, add }) : t("import.times", { factor });
	};
	const list = h("select", { id, data: { key: id } }, h("option", { value: "" }, t("import.choose_one")), ...(ask.choices ?? []).map((c) => h("option", { value: c }, text(c))));
	list.addEventListener("change", () => {
		const [factor, add] = list.value.split(" ").map(Number);
		if (list.value === "sure") say({ sure: true });
		else if (list.value && ask.option === "no_value") say({ no_value: list.value.split(" ").map(Number) });
		else if (list.value && ask.option === "no_beyond") say({ no_beyond: true });
		else if (list.value) say({ factor, add: add ?? "" });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, label), list);
}

/** The unit of a column whose name says none. @param {Import} page @param {import("./api.js").Question} ask */
export function unitField({ t, state, say }, ask) {
	const id = `unit-${ask.of}`;
	const list = h("select", { id, data: { key: id } }, h("option", { value: "" }, t("import.choose_one")), ...(ask.choices ?? []).map((u) => h("option", { value: u }, u)));
	list.addEventListener("change", () => {
		const c = state.report?.seen?.flatMap((s) => s.columns).find((x) => x.name === ask.of);
		if (list.value && c) say({ columns: { ...state.order.columns, [c.name]: `${c.field}_${list.value}` } });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, t("import.unit_of", { column: ask.of ?? "" })), list);
}

/** Which column holds something. @param {Import} page @param {import("./api.js").Question} ask */
export function columnField({ t, state, say }, ask) {
	const id = `which-${ask.of}`;
	const list = h("select", { id, data: { key: id } }, h("option", { value: "" }, t("import.choose_one")), ...(ask.choices ?? []).map((c) => h("option", { value: c }, c)));
	list.addEventListener("change", () => {
		if (list.value) say({ columns: { ...state.order.columns, [list.value]: ask.of ?? "" } });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, t("import.which_column", { field: ask.of ?? "" })), list);
}

/** Which layers of a file. @param {Import} page @param {string[]} names */
export function ticks({ t, state, say }, names) {
	return h("fieldset", { class: "import-ticks" }, h("legend", {}, t("import.opt_layers")), ...names.map((name, i) => {
		const box = h("input", { type: "checkbox", id: `layer-${i}`, data: { key: `layer-${i}` } });
		box.checked = (state.order.layers ?? []).includes(name);
		box.addEventListener("change", () => {
			const now = new Set(state.order.layers ?? []);
			if (box.checked) now.add(name);
			else now.delete(name);
			say({ layers: [...now] });
		});
		return h("label", { class: "check", for: box.id }, box, name);
	}));
}
