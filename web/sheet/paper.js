// One order on paper, in its crew's language.

import { sayInstruction, sayMark, sayOperation } from "../field/say.js";
import { hazardsOf } from "../lib/cautions.js";
import { DEAD, MISSING } from "../lib/model.js";
import { h } from "../map/dom.js";
import { dayWords } from "../work/days.js";
import { livingIn, sickIn, vinesOfRun } from "../work/sheetevents.js";
import { walkPlan } from "../work/walkplan.js";
import { planDrawing } from "./drawing.js";

/**
 * @typedef {import("../work/api.js").Order} Order
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {import("../lib/text.js").Texts} Texts
 * @typedef {{stand: Stand, runs: import("../lib/pruning.js").Runs | null, cautions: string[], section: number}} Facts cautions: hazards of the operation; section: vines between two posts, 0 not known
 */

/** Gaps named in a row before the rest is only counted: they are check points, not an inventory. */
const GAPS = 12;

/**
 * @param {Texts} t
 * @param {import("../lib/model.js").Estate} estate
 * @param {Order} order
 * @param {Facts} facts
 */
export function sheetOf(t, estate, order, { stand, runs, cautions, section }) {
	const plan = walkPlan(stand, order.rows);
	const pruning = order.operation === "pruning";
	return h("article", { class: "sheet", lang: t.language, data: { order: order.id } },
		h("header", { class: "sheet-head" }, h("h2", {}, t("sheet.heading", { operation: operationOf(t, order.operation), code: order.code })),
			h("p", { class: "sheet-who" }, [order.crew || t("sheet.no_crew"), order.day ? dayWords(t.language, order.day, "long") : t("sheet.day_blank")].join(" · ")),
			h("p", {}, [estate.name, t("sheet.season", { season: String(order.season) }), t("sheet.rows", { n: order.rows.length }), t("sheet.vines_n", { n: order.vines }), order.done ? t("sheet.done_already", { n: order.done }) : "", section ? t("sheet.section", { n: section }) : ""].filter(Boolean).join(" · ")),
			order.sick ? h("p", { class: "sheet-note" }, t("order.sick_how")) : null,
			order.note ? h("p", { class: "sheet-note" }, t("sheet.note", { note: order.note })) : null),
		planDrawing(plan, {
			label: t("sheet.plan_says", { code: order.code, n: order.rows.length }),
			up: edge(t, plan, "up"), down: edge(t, plan, "down"),
		}),
		h("p", { class: "sheet-small" }, t(plan.whole ? "sheet.plan_note" : "sheet.plan_part")),
		rowTable(t, order, stand, pruning, runs),
		pruning && !runs ? h("p", { class: "sheet-small" }, t("sheet.no_runs")) : null,
		h("section", { class: "sheet-mind" }, h("h3", {}, t("caution.title")), h("ul", {}, ...hazardsOf({ cautions }, t.has).map((c) => h("li", {}, t(`caution.${c}`))))),
		h("p", { class: "sheet-sign" }, t("sheet.sign")));
}

/** An operation as a title begins. @param {Texts} t @param {string} name */
export function operationOf(t, name) {
	const text = sayOperation(t, name);
	return text.slice(0, 1).toLocaleUpperCase(t.language) + text.slice(1);
}

/** Vines of a run, in the direction they are walked. @param {Texts} t @param {{from: number, to: number, start: "near" | "far"}} run */
function runText(t, { from, to, start }) {
	if (from === to) return String(from);
	const [a, b] = start === "near" ? [from, to] : [to, from];
	return t("sheet.run", { from: String(a), to: String(b) });
}

/** An edge of the plan: where it lies, and which end of the rows it is. @param {Texts} t @param {import("../work/walkplan.js").WalkPlan} plan @param {"up" | "down"} which */
function edge(t, plan, which) {
	const way = t(`way.${plan[which]}`);
	if (plan.near === "both") return t("sheet.edge", { way });
	return t(plan.near === which ? "sheet.edge_near" : "sheet.edge_far", { way });
}

/** @param {Texts} t @param {Order} order @param {Stand} stand @param {boolean} pruning @param {Facts["runs"]} runs */
function rowTable(t, order, stand, pruning, runs) {
	const heads = [t("sheet.done"), t("sheet.step"), t("sheet.row"), t("sheet.begin"), t("sheet.run_head"), t("sheet.vines"), pruning ? t("sheet.leave") : t("sheet.gaps"), t("sheet.otherwise")];
	const numbers = new Set([1, 5]);
	return h("table", { class: "sheet-rows" }, h("caption", { class: "out-of-sight" }, t("sheet.caption", { code: order.code })),
		h("thead", {}, h("tr", {}, ...heads.map((text, k) => h("th", { scope: "col", class: numbers.has(k) ? "n" : null }, text)))),
		h("tbody", {}, ...order.rows.map((row, k) => h("tr", {},
			h("td", { class: "box-cell" }, h("span", { class: "box", "aria-label": t("sheet.box"), role: "img" })),
			h("td", { class: "n" }, String(k + 1)), h("th", { scope: "row" }, row.label),
			h("td", {}, [t(row.start === "near" ? "sheet.near" : "sheet.far"), row.side].filter(Boolean).join(", ")), h("td", {}, runText(t, row)), h("td", { class: "n" }, t.number(livingIn(stand, row, order.sick))),
			h("td", { class: "wrap" }, order.sick ? h("div", { class: "run" }, h("b", {}, t("sheet.sick", { list: sickIn(stand, row).join(", ") }))) : null, ...(pruning ? runLines(t, row, runs) : []), gapLine(t, stand, row)),
			h("td", { class: "blank" })))));
}

/** What to leave, run by run, in the direction of the walk. @param {Texts} t @param {Order["rows"][0]} row @param {Facts["runs"]} runs */
function runLines(t, row, runs) {
	const pieces = (runs?.rows?.find((r) => r.row === row.row)?.pieces ?? []).filter((p) => p.from <= row.to && p.to >= row.from);
	const long = pieces.filter((p) => !p.alone);
	// A vine that would be told the same as the run around it needs no line.
	const alone = pieces.filter((p) => p.alone && !long.some((q) => q.from <= p.from && q.to >= p.to && q.text === p.text));
	if (row.start === "far") {
		long.reverse();
		alone.reverse();
	}
	const runOf = (/** @type {{from: number, to: number}} */ p) => runText(t, { from: Math.max(p.from, row.from), to: Math.min(p.to, row.to), start: row.start });
	/** @type {Map<string, string[]>} single vines that are told the same share a line */
	const same = new Map();
	for (const p of alone) same.set(p.text, [...(same.get(p.text) ?? []), runOf(p)]);
	return [
		...long.map((p) => h("div", { class: "run" }, h("b", {}, runOf(p)), ": ", sayInstruction(t, p.text), t("sheet.mark", { mark: sayMark(t, p.mark) }))),
		...[...same].map(([text, vines]) => h("div", { class: "run run-alone" }, h("b", {}, vines.join(", ")), ": ", sayInstruction(t, text))),
	];
}

/** Known gaps: where the count along the row can be checked. @param {Texts} t @param {Stand} stand @param {Order["rows"][0]} row */
function gapLine(t, stand, row) {
	const gaps = vinesOfRun(stand, row).filter((i) => stand.condition[i] === DEAD || stand.condition[i] === MISSING).map((i) => stand.number[i]);
	if (!gaps.length) return null;
	if (row.start === "far") gaps.reverse();
	return h("div", { class: "run gaps" }, t("sheet.gaps_at", { list: gaps.slice(0, GAPS).join(", ") + (gaps.length > GAPS ? " …" : "") }));
}
