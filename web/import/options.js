// What a person says about the files. What they leave open stands first and is
// marked; the rest is there to put right what was recognised wrongly.

import { h, show } from "../map/dom.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Problem} Problem
 * @typedef {{name: string, kind: "text" | "number" | "choice" | "flag", choices?: string[]}} Option
 */

const ENDS = ["first", "N", "NE", "E", "SE", "S", "SW", "W", "NW"];

/** @type {Option[]} */
const OPTIONS = [
	{ name: "season", kind: "number" },
	{ name: "crs", kind: "text" },
	{ name: "block", kind: "text" },
	{ name: "numbering_end", kind: "choice", choices: ENDS },
	{ name: "vine_spacing_m", kind: "number" },
	{ name: "row_spacing_m", kind: "number" },
	{ name: "decimal", kind: "choice", choices: ["point", "comma"] },
	{ name: "delimiter", kind: "choice", choices: ["comma", "semicolon", "tab", "bar"] },
	{ name: "encoding", kind: "choice", choices: ["utf-8", "windows-1252", "utf-16le", "utf-16be"] },
	{ name: "form", kind: "choice", choices: ["GeoJSON", "table", "shapefile", "GeoPackage", "KML", "GPX", "workbook", "NMEA"] },
	{ name: "as", kind: "choice", choices: ["blocks", "rows", "vines", "measures", "survey", "detections"] },
	{ name: "date", kind: "text" },
	{ name: "by", kind: "text" },
	{ name: "shift", kind: "choice", choices: ["take-off", "leave"] },
	{ name: "whole_rows", kind: "flag" },
	{ name: "accuracy_m", kind: "number" },
];

/** @param {Import} page @param {HTMLElement} place */
export function mountOptions(page, place) {
	const asked = h("div", {});
	const more = h("div", { class: "import-options" });
	const { t } = page;
	place.append(h("h2", {}, t("import.say")), asked, h("details", { class: "import-more" }, h("summary", {}, t("import.more")), more));
	/** @type {object | null} */
	let drawn = null;
	return () => {
		const { report, files } = page.state;
		place.hidden = !files.length;
		if (drawn === report && report) return;
		drawn = report;
		const open = questions(report?.problems ?? []);
		show(asked, open.length
			? h("div", { class: "import-asked" }, h("p", {}, t("import.asked", { n: open.length })), ...open.map((p) => question(page, p)))
			: h("p", { class: "state" }, t("import.nothing_asked")));
		const names = open.map((p) => p.ask?.option);
		show(more, ...OPTIONS.filter((o) => !names.includes(o.name)).map((o) => field(page, o, t(`import.opt_${o.name}`))));
	};
}

/** One problem for each question: many lines may ask the same. @param {Problem[]} problems */
export function questions(problems) {
	const out = new Map();
	for (const p of problems) if (p.ask && !(p.ask.option === "column" && !p.ask.choices?.length)) {
		const key = `${p.ask.option} ${p.ask.option === "unit" || p.ask.option === "column" ? p.ask.of ?? "" : ""}`;
		if (!out.has(key)) out.set(key, p);
	}
	return /** @type {Problem[]} */ ([...out.values()]);
}

/** @param {Import} page @param {Problem} p */
function question(page, p) {
	const ask = /** @type {import("./api.js").Question} */ (p.ask);
	const { t } = page;
	const words = h("p", { class: "import-question" }, p.text);
	if (ask.option === "unit") return h("div", {}, words, unitField(page, ask));
	if (ask.option === "layers") return h("div", {}, words, ticks(page, ask.choices ?? []));
	if (ask.option === "column") return h("div", {}, words, ask.of ? columnField(page, ask) : h("p", {}, t("import.say_columns")));
	const option = OPTIONS.find((o) => o.name === ask.option);
	if (!option) return h("div", {}, words);
	return h("div", {}, words, field(page, option, t(`import.opt_${option.name}`)));
}

/** @param {Import} page @param {Option} option @param {string} label */
function field({ t, state, say }, option, label) {
	const id = `say-${option.name}`;
	const hint = t.has(`import.hint_${option.name}`) ? t(`import.hint_${option.name}`) : "";
	const about = hint ? { "aria-describedby": `${id}-hint` } : {};
	const said = state.order[option.name] ?? "";
	const now = option.kind === "flag" ? (said ? "yes" : "") : said;
	const input = option.kind === "choice" || option.kind === "flag"
		? h("select", { id, ...about, data: { key: id } }, h("option", { value: "" }, t(option.kind === "flag" ? "import.no" : "import.as_found")), ...(option.choices ?? ["yes"]).map((c) => h("option", { value: c }, t.has(`import.word_${c}`) ? t(`import.word_${c}`) : c)))
		: h("input", { id, ...about, inputmode: option.kind === "number" ? "decimal" : null, autocomplete: "off", spellcheck: "false", data: { key: id } });
	input.value = String(now);
	const fault = h("p", { class: "fault", role: "alert" });
	input.addEventListener("change", () => {
		const text = input.value.trim();
		const value = option.kind === "flag" ? text === "yes" : option.kind === "number" && text ? Number(text.replace(",", ".")) : text;
		if (typeof value === "number" && !(value > 0)) {
			fault.textContent = t("import.wrong_number");
			return;
		}
		fault.textContent = "";
		say({ [option.name]: value });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, label), input, hint ? h("p", { class: "hint", id: `${id}-hint` }, hint) : null, fault);
}

/** The unit of a column whose name says none. @param {Import} page @param {import("./api.js").Question} ask */
function unitField({ t, state, say }, ask) {
	const id = `unit-${ask.of}`;
	const list = h("select", { id, data: { key: id } }, h("option", { value: "" }, t("import.choose_one")), ...(ask.choices ?? []).map((u) => h("option", { value: u }, u)));
	list.addEventListener("change", () => {
		const c = state.report?.seen?.flatMap((s) => s.columns).find((x) => x.name === ask.of);
		if (list.value && c) say({ columns: { ...state.order.columns, [c.name]: `${c.field}_${list.value}` } });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, t("import.unit_of", { column: ask.of ?? "" })), list);
}

/** Which column holds something. @param {Import} page @param {import("./api.js").Question} ask */
function columnField({ t, state, say }, ask) {
	const id = `which-${ask.of}`;
	const list = h("select", { id, data: { key: id } }, h("option", { value: "" }, t("import.choose_one")), ...(ask.choices ?? []).map((c) => h("option", { value: c }, c)));
	list.addEventListener("change", () => {
		if (list.value) say({ columns: { ...state.order.columns, [list.value]: ask.of ?? "" } });
	});
	return h("div", { class: "import-field" }, h("label", { for: id }, t("import.which_column", { field: ask.of ?? "" })), list);
}

/** Which layers of a file. @param {Import} page @param {string[]} names */
function ticks({ t, state, say }, names) {
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
