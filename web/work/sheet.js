// One order on paper.

import { DEAD, MISSING } from "../lib/model.js";
import { h } from "../map/dom.js";
import { dayWords } from "./days.js";
import { nameOf } from "./head.js";
import { livingIn, sickIn, vinesOfRun } from "./sheetevents.js";
import { planDrawing } from "./sheetplan.js";
import { walkPlan } from "./walkplan.js";
import { runText, startText } from "./words.js";

/**
 * @typedef {import("./api.js").Order} Order
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {{stand: Stand, runs: import("../lib/pruning.js").Runs | null, cautions: string[], section: number}} Facts section: vines between two posts, 0 not known
 */

/** Gaps named in a row before the rest is only counted: they are check points, not an inventory. */
const GAPS = 12;

/**
 * @param {{t: import("../lib/text.js").Texts}} app
 * @param {import("../lib/model.js").Estate} estate
 * @param {Order} order
 * @param {Facts} facts
 */
export function sheetOf(app, estate, order, { stand, runs, cautions, section }) {
	const { t } = app;
	const title = t("sheet.heading", { operation: nameOf(/** @type {any} */ (app), order.operation), code: order.code });
	const plan = walkPlan(stand, order.rows);
	const pruning = order.operation === "pruning";
	return h("article", { class: "sheet", data: { order: order.id } },
		h("header", { class: "sheet-head" }, h("h2", {}, title),
			h("p", { class: "sheet-who" }, [order.crew || t("work.no_crew"), order.day ? dayWords(t.language, order.day, "long") : t("sheet.day_blank")].join(" · ")),
			h("p", {}, [estate.name, t("sheet.season", { season: String(order.season) }), t("block.rows", { n: order.rows.length }), t("app.vines", { n: order.vines }), order.done ? t("sheet.done_already", { n: order.done }) : "", section ? t("sheet.section", { n: section }) : ""].filter(Boolean).join(" · ")),
			order.note ? h("p", { class: "sheet-note" }, t("sheet.note", { note: order.note })) : null),
		planDrawing(plan, {
			label: t("sheet.plan_says", { code: order.code, n: order.rows.length }),
			up: edge(app, plan, "up"), down: edge(app, plan, "down"),
		}),
		h("p", { class: "sheet-small" }, t(plan.whole ? "sheet.plan_note" : "sheet.plan_part")),
		rowTable(app, order, stand, pruning, runs),
		pruning && !runs ? h("p", { class: "sheet-small" }, t("sheet.no_runs")) : null,
		h("section", { class: "sheet-mind" }, h("h3", {}, t("sheet.mind")), h("ul", {}, ...cautions.map((c) => h("li", {}, c)))),
		h("p", { class: "sheet-sign" }, t("sheet.sign")));
}

/** An edge of the plan: where it lies, and which end of the rows it is. @param {{t: import("../lib/text.js").Texts}} app @param {import("./walkplan.js").WalkPlan} plan @param {"up" | "down"} which */
function edge({ t }, plan, which) {
	const way = t(`way.${plan[which]}`);
	if (plan.near === "both") return t("sheet.edge", { way });
	return t(plan.near === which ? "sheet.edge_near" : "sheet.edge_far", { way });
}

/** @param {{t: import("../lib/text.js").Texts}} app @param {Order} order @param {Stand} stand @param {boolean} pruning @param {Facts["runs"]} runs */
function rowTable(app, order, stand, pruning, runs) {
	const { t } = app;
	const heads = [t("sheet.done"), t("sheet.step"), t("table.row"), t("sheet.begin"), t("work.vines_run"), t("patch.vines"), pruning ? t("sheet.leave") : t("sheet.gaps"), t("sheet.otherwise")];
	const numbers = new Set([1, 5]);
	return h("table", { class: "sheet-rows" }, h("caption", { class: "out-of-sight" }, t("sheet.caption", { code: order.code })),
		h("thead", {}, h("tr", {}, ...heads.map((text, k) => h("th", { scope: "col", class: numbers.has(k) ? "n" : null }, text)))),
		h("tbody", {}, ...order.rows.map((row, k) => h("tr", {},
			h("td", { class: "box-cell" }, h("span", { class: "box", "aria-label": t("sheet.box"), role: "img" })),
			h("td", { class: "n" }, String(k + 1)), h("th", { scope: "row" }, row.label),
			h("td", {}, [startText(app, row.start), row.side].filter(Boolean).join(", ")), h("td", {}, runText(app, row)), h("td", { class: "n" }, t.number(livingIn(stand, row, order.sick))),
			h("td", { class: "wrap" }, order.sick ? h("div", { class: "run" }, h("b", {}, t("sheet.sick", { list: sickIn(stand, row).join(", ") }))) : null, ...(pruning ? runLines(app, row, runs) : []), gapLine(app, stand, row)),
			h("td", { class: "blank" })))));
}

/** What to leave, run by run, in the direction of the walk. @param {{t: import("../lib/text.js").Texts}} app @param {Order["rows"][0]} row @param {Facts["runs"]} runs */
function runLines(app, row, runs) {
	const pieces = (runs?.rows?.find((r) => r.row === row.row)?.pieces ?? []).filter((p) => p.from <= row.to && p.to >= row.from);
	const long = pieces.filter((p) => !p.alone);
	// A vine that would be told the same as the run around it needs no line.
	const alone = pieces.filter((p) => p.alone && !long.some((q) => q.from <= p.from && q.to >= p.to && q.text === p.text));
	if (row.start === "far") {
		long.reverse();
		alone.reverse();
	}
	const runOf = (/** @type {{from: number, to: number}} */ p) => runText(app, { from: Math.max(p.from, row.from), to: Math.min(p.to, row.to), start: row.start });
	/** @type {Map<string, string[]>} single vines that are told the same share a line */
	const same = new Map();
	for (const p of alone) same.set(p.text, [...(same.get(p.text) ?? []), runOf(p)]);
	return [
		...long.map((p) => h("div", { class: "run" }, h("b", {}, runOf(p)), ": ", p.text, app.t("sheet.mark", { mark: p.mark }))),
		...[...same].map(([text, vines]) => h("div", { class: "run run-alone" }, h("b", {}, vines.join(", ")), ": ", text)),
	];
}

/** Known gaps: where the count along the row can be checked. @param {{t: import("../lib/text.js").Texts}} app @param {Stand} stand @param {Order["rows"][0]} row */
function gapLine({ t }, stand, row) {
	const gaps = vinesOfRun(stand, row).filter((i) => stand.condition[i] === DEAD || stand.condition[i] === MISSING).map((i) => stand.number[i]);
	if (!gaps.length) return null;
	if (row.start === "far") gaps.reverse();
	return h("div", { class: "run gaps" }, t("sheet.gaps_at", { list: gaps.slice(0, GAPS).join(", ") + (gaps.length > GAPS ? " …" : "") }));
}
