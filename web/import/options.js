// What a person says about the files. What they leave open stands first and is
// marked; the rest is there to put right what was recognised wrongly.

import { h, show } from "../map/dom.js";
import { choiceField, columnField, field, ticks, unitField } from "./fields.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Problem} Problem
 * @typedef {import("./api.js").Report} Report
 * @typedef {import("./fields.js").Option} Option
 */

const ENDS = ["first", "N", "NE", "E", "SE", "S", "SW", "W", "NW"];

/** @type {Option[]} */
const OPTIONS = [
	{ name: "as", kind: "choice", choices: ["blocks", "rows", "vines", "measures", "survey", "detections", "raster"] },
	{ name: "season", kind: "number" },
	{ name: "crs", kind: "text" },
	{ name: "block", kind: "text" },
	{ name: "date", kind: "text" },
	{ name: "by", kind: "text" },
	{ name: "numbering_end", kind: "choice", choices: ENDS, of: "files" },
	{ name: "vine_spacing_m", kind: "number", of: "files" },
	{ name: "row_spacing_m", kind: "number", of: "files" },
	{ name: "decimal", kind: "choice", choices: ["point", "comma"], of: "files" },
	{ name: "delimiter", kind: "choice", choices: ["comma", "semicolon", "tab", "bar"], of: "files" },
	{ name: "encoding", kind: "choice", choices: ["utf-8", "windows-1252", "utf-16le", "utf-16be"], of: "files" },
	{ name: "form", kind: "choice", choices: ["GeoJSON", "table", "shapefile", "GeoPackage", "KML", "GPX", "workbook", "NMEA", "GeoTIFF"] },
	{ name: "whole_rows", kind: "tick", of: "survey" },
	{ name: "accuracy_m", kind: "number", of: "points" },
	{ name: "shift", kind: "choice", choices: ["take-off", "leave"], of: "points" },
	{ name: "canopy_index", kind: "text", of: "image" },
	{ name: "index", kind: "choice", choices: ["ndvi", "ratio"], of: "image" },
	{ name: "band", kind: "number", of: "image" },
	{ name: "red", kind: "number", of: "image" },
	{ name: "no_value", kind: "numbers", of: "image" },
	{ name: "factor", kind: "number", of: "image" },
	{ name: "add", kind: "any", of: "image" },
	{ name: "half_strip_m", kind: "number", of: "image" },
	{ name: "sure", kind: "tick", of: "image" },
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
		show(more, ...OPTIONS.filter((o) => !names.includes(o.name) && concerns(o, page.state)).map((o) => field(page, o, t(`import.opt_${o.name}`))));
	};
}

/** Whether an option has to do with what was chosen. @param {Option} o @param {import("./main.js").State} state */
function concerns({ of }, { order, report, files }) {
	const points = order.as === "survey" || order.as === "detections";
	const image = order.as === "raster" || order.form === "GeoTIFF" || (report?.seen ?? []).some((s) => s.form === "GeoTIFF") || files.some((f) => /\.tiff?$/i.test(f.name));
	if (of === "survey") return order.as === "survey";
	if (of === "points") return points;
	if (of === "image") return image;
	return of !== "files" || !image;
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
	return h("div", {}, h("p", { class: "import-question" }, asked(p)), ...answers(page, ask));
}

/** What is asked; what may be answered stands in the field below. @param {Problem} p */
const asked = (p) => (p.wanted && p.ask?.option !== "column" ? p.text.replace(`; wanted ${p.wanted}`, "") : p.text);

/** The ways to answer. @param {Import} page @param {import("./api.js").Question} ask @returns {Node[]} */
function answers(page, ask) {
	const { t } = page;
	if (ask.option === "unit") return [unitField(page, ask)];
	if (ask.option === "layers") return [ticks(page, ask.choices ?? [])];
	if (ask.option === "column") return [ask.of ? columnField(page, ask) : h("p", {}, t("import.say_columns"))];
	const option = OPTIONS.find((o) => o.name === ask.option);
	const label = t(`import.opt_${ask.option}`);
	if (["no_value", "factor", "no_beyond"].includes(ask.option)) return [choiceField(page, ask, label), ...(ask.option === "factor" && option ? [field(page, option, t("import.own_factor"))] : [])];
	if (!option) return [];
	return [field(page, ask.choices?.length ? { ...option, kind: "choice", choices: ask.choices, asked: true } : option, label)];
}
