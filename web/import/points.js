// What became of surveyed or detected points: how many were taken for a place, how
// all seem moved, and each that a person must look at.

import { h } from "../map/dom.js";
import { scroller } from "./found.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Points} Points
 * @typedef {import("./api.js").PointItem} PointItem
 */

/** @param {Import} page @param {Points | undefined} p */
export function pointsPart(page, p) {
	if (!p) return null;
	const { t } = page;
	const survey = p.kind === "survey";
	/** @type {[string, number][]} */
	const rows = [["read", p.read], ["sure", p.sure], ["noticed", p.noticed], ["twice", p.twice], ["doubtful", p.doubtful], ["aside", p.aside], ["outside", p.outside]];
	const list = survey ? rows : rows.filter(([k]) => k !== "noticed" && k !== "twice");
	return h("div", { class: "import-points" },
		h("h3", {}, t(survey ? "import.surveyed" : "import.detected")),
		p.shift ? h("p", { class: "import-shift" }, t(p.shift.taken_off ? "import.shift_taken" : "import.shift_seen", { text: p.shift.text })) : null,
		scroller(t("import.points_counts"), h("table", { id: "points" }, h("caption", {}, t("import.points_counts")),
			h("tbody", {}, ...list.map(([k, n]) => h("tr", {}, h("th", { scope: "row" }, t(`import.point_${k}`)), h("td", { class: "number" }, t.number(n))))))),
		survey && p.covered ? h("p", {}, t("import.without", { n: p.without, covered: p.covered })) : null,
		p.no_point?.length ? h("p", { class: "import-gaps" }, t("import.no_point", { list: p.no_point.join(", ") }), p.more_no_point ? ` ${t("import.more_of", { n: p.more_no_point })}` : "") : null,
		p.items?.length ? itemTable(page, p) : null);
}

/** The points that a person must look at. @param {Import} page @param {Points} p */
function itemTable({ t }, p) {
	const items = /** @type {PointItem[]} */ (p.items);
	const where = (/** @type {PointItem} */ i) => (i.line ? t("import.line", { line: i.line }) : i.feature === undefined ? "" : t("import.feature", { feature: i.feature }));
	const row = (/** @type {PointItem} */ i) => h("tr", {},
		h("th", { scope: "row" }, i.name || where(i)),
		h("td", {}, t(`import.became_${i.became.replace(" ", "_")}`)),
		h("td", {}, [i.nearest, i.next].filter(Boolean).join(t("import.or"))),
		h("td", {}, i.why),
		h("td", {}, [i.fix, i.error_m ? t("import.error_m", { m: t.number(i.error_m, 2) }) : ""].filter(Boolean).join(", ")),
		h("td", {}, [i.file, where(i)].filter(Boolean).join(", ")));
	return h("div", {}, scroller(t("import.look_at"), h("table", { id: "doubtful" }, h("caption", {}, t("import.look_at")),
		h("thead", {}, h("tr", {}, ...["import.point", "import.became", "import.nearest", "import.why", "import.fix", "import.where"].map((key) => h("th", { scope: "col" }, t(key))))),
		h("tbody", {}, ...items.map(row)))),
	p.more_items ? h("p", {}, t("import.more_of", { n: p.more_items })) : null);
}

/** Whether points are kept by an import. @param {Points | undefined} p */
export const keepsPoints = (p) => !!p && p.made + p.replaced > 0;
