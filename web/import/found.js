// What was recognised in each file or layer: how it is written, what each column is
// taken for, the first lines, and the shapes.

import { h, show } from "../map/dom.js";
import { drawing } from "./drawing.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Seen} Seen
 * @typedef {import("./api.js").SeenColumn} SeenColumn
 */

/** @param {Import} page @param {HTMLElement} place */
export function mountFound(page, place) {
	/** @type {object | null} */
	let drawn = null;
	return () => {
		const seen = page.state.report?.seen ?? [];
		place.hidden = !seen.length;
		if (drawn === page.state.report) return;
		drawn = page.state.report;
		show(place, h("h2", {}, page.t("import.found")), ...seen.map((s, i) => file(page, s, i)));
	};
}

/** @param {Import} page @param {Seen} s @param {number} i */
function file(page, s, i) {
	const { t } = page;
	const written = s.delimiter ? t("import.written", { encoding: s.encoding ?? "", delimiter: markName(t, s.delimiter), decimal: s.decimal ? markName(t, s.decimal) : t("import.mark_none") }) : "";
	return h("section", { class: "import-file" },
		h("h3", {}, s.name),
		h("p", {}, t("import.read", { form: s.form, n: s.read })),
		written ? h("p", {}, written) : null,
		h("p", {}, t("import.system", { system: s.system })),
		s.columns.length ? columns(page, s, i) : null,
		s.lines.length ? firstLines(page, s) : null,
		s.shapes.length ? drawing(t, s, page.state.report?.near ?? [], (page.state.report?.points?.items ?? []).filter((p) => p.file === s.name)) : null);
}

/** @param {import("../lib/text.js").Texts} t @param {string} mark */
const markName = (t, mark) => (t.has(`import.mark_${mark}`) ? t(`import.mark_${mark}`) : mark);

/** What each column means, and the way to say otherwise. @param {Import} page @param {Seen} s @param {number} i */
function columns(page, s, i) {
	const { t } = page;
	const row = (/** @type {SeenColumn} */ c, /** @type {number} */ k) => {
		const id = `column-${i}-${k}`;
		return h("tr", {},
			h("th", { scope: "row" }, h("label", { for: id }, c.name)),
			h("td", {}, example(s, k)),
			h("td", {}, meaningOf(page, s, c, id)));
	};
	return scroller(t("import.columns_of", { name: s.name }), h("table", {},
		h("caption", {}, t("import.columns_caption")),
		h("thead", {}, h("tr", {}, ...["import.column", "import.example", "import.means"].map((key) => h("th", { scope: "col" }, t(key))))),
		h("tbody", {}, ...s.columns.map(row))));
}

/** @param {Seen} s @param {number} k */
function example(s, k) {
	return s.lines.map((l) => l.values?.[k] ?? "").find((v) => v !== "") ?? "";
}

/** @param {Import} page @param {Seen} s @param {SeenColumn} c @param {string} id */
function meaningOf({ t, meanings, state, say }, s, c, id) {
	const own = c.field && !c.said ? t("import.by_name", { meaning: c.unit ? `${c.field} (${c.unit})` : c.field }) : t("import.by_name_none");
	const list = h("select", { id, data: { key: id } }, h("option", { value: "=" }, own), h("option", { value: "" }, t("import.leave_out")));
	for (const m of meanings) for (const unit of m.units.length ? m.units : [""]) list.append(h("option", { value: unit ? `${m.name}_${unit}` : m.name }, unit ? `${m.name} (${unit})` : m.name));
	list.value = c.left ? "" : c.said ? (c.unit && `${c.field}_${c.unit}`) || c.field : "=";
	list.addEventListener("change", () => {
		/** @type {Record<string, string>} */
		const all = { ...saidSoFar(state.report?.seen ?? []), ...state.order.columns };
		if (list.value === "=") delete all[c.name];
		else all[c.name] = list.value;
		say({ columns: all });
	});
	return list;
}

/** What is said of columns now, also by what was kept from last time. @param {Seen[]} seen */
export function saidSoFar(seen) {
	/** @type {Record<string, string>} */
	const out = {};
	for (const s of seen) for (const c of s.columns) if (c.said) out[c.name] = c.left ? "" : c.unit ? `${c.field}_${c.unit}` : c.field;
	return out;
}

/** @param {Import} page @param {Seen} s */
function firstLines({ t }, s) {
	const place = (/** @type {import("./api.js").SeenLine} */ l) => (l.line ? t("import.line", { line: l.line }) : t("import.feature", { feature: l.feature ?? 0 }));
	return scroller(t("import.lines_of", { name: s.name }), h("table", {},
		h("caption", {}, t("import.lines_caption", { n: s.lines.length })),
		h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("import.where")), h("th", { scope: "col" }, t("import.about_what")), ...s.columns.map((c) => h("th", { scope: "col" }, c.name)))),
		h("tbody", {}, ...s.lines.map((l) => h("tr", {}, h("th", { scope: "row" }, place(l)), h("td", {}, t(`import.kind_${l.kind || "vines"}`)), ...s.columns.map((_, k) => h("td", {}, l.values?.[k] ?? "")))))));
}

/** A wide thing that scrolls by itself, also by keys. @param {string} label @param {Node} inside */
export function scroller(label, inside) {
	return h("div", { class: "scroller", role: "region", tabindex: "0", "aria-label": label }, inside);
}
