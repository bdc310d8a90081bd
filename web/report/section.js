// Pieces that every part of the report is made of.

import { h } from "../map/dom.js";

/**
 * @param {string} id
 * @param {string} title
 * @param {...import("../map/dom.js").Child} children
 */
export function section(id, title, ...children) {
	return h("section", { class: "part", id, "aria-labelledby": `${id}-title` }, h("h2", { id: `${id}-title` }, title), ...children);
}

/**
 * A table that scrolls in itself where it is wider than the page.
 * @param {string} caption
 * @param {string[]} heads a # at the end: numbers
 * @param {import("../map/dom.js").Child[][]} rows the first cell names the row
 */
export function tableOf(caption, heads, rows) {
	const number = heads.map((text) => text.endsWith("#"));
	const head = (/** @type {string} */ text) => h("th", { scope: "col", class: text.endsWith("#") ? "n" : null }, text.replace(/#$/, ""));
	const cell = (/** @type {import("../map/dom.js").Child} */ c, /** @type {number} */ k) => (k === 0 ? h("th", { scope: "row" }, c) : h("td", { class: number[k] ? "n" : null }, c));
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption },
		h("table", {}, h("caption", {}, caption), h("thead", {}, h("tr", {}, ...heads.map(head))), h("tbody", {}, ...rows.map((row) => h("tr", {}, ...row.map(cell))))));
}

/** A chart's table, folded away beside it; open in print. @param {string} summary @param {HTMLElement} table */
export function foldedTable(summary, table) {
	return h("details", { class: "beside" }, h("summary", {}, summary), table);
}

/** @param {[string, import("../map/dom.js").Child][]} lines */
export function factList(lines) {
	return h("dl", { class: "facts" }, ...lines.flatMap(([name, value]) => (value || value === 0 ? [h("dt", {}, name), h("dd", {}, value)] : [])));
}
