// What a plan comes to: one sentence first, then how vines share out, what they
// get, what bound them, and what asks for a second look.

import { ranked } from "../lib/pruning.js";
import { h } from "../map/dom.js";
import { tableOf } from "../report/section.js";
import { countChart } from "./countchart.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/pruning.js").Sum} Sum
 */

/** A plan in one sentence. @param {App} app @param {Sum} sum */
export function sentence(app, sum) {
	const { t, units } = app;
	const area = (/** @type {number} */ perHa) => units.text("per_area", perHa / 10_000);
	const parts = [t("pruning.carry", { n: sum.living, nodes: sum.nodes_in_all })];
	if (sum.nodes_per_ha) parts.push(sum.cap_per_ha ? t("pruning.of_allowed", { per: area(sum.nodes_per_ha), cap: area(sum.cap_per_ha) }) : area(sum.nodes_per_ha));
	if (sum.cap_per_vine) parts.push(t("pruning.at_most", { n: sum.cap_per_vine }));
	const more = [parts.join(", ")];
	if (sum.expected_kg_per_ha) more.push(t("pruning.about", { crop: units.text("crop", sum.expected_kg_per_ha) }));
	else if (sum.expected_kg) more.push(t("pruning.about", { crop: units.text("weight", sum.expected_kg * 1000) }));
	if (sum.hours) more.push(t("pruning.hours", { n: Math.round(sum.hours) }));
	return `${more.join("; ")}.`;
}

/** @param {App} app @param {Sum} sum @returns {(HTMLElement | null)[]} */
export function sumView(app, sum) {
	const { t } = app;
	const over = !sum.within_caps && (sum.cap_per_vine || sum.cap_per_ha);
	return [
		over ? h("p", { class: "warning" }, h("strong", {}, t("pruning.over_caps"))) : null,
		h("p", { class: "hint" }, t("pruning.crop_hint")),
		instructions(app, sum),
		h("div", { class: "count-charts" }, countChart(app, "nodes", sum.nodes), countChart(app, "canes", sum.canes)),
		tally(app, "bound", sum.by_bound, sum.living),
		tally(app, "flag", sum.by_flag, sum.living),
		tally(app, "reason", sum.by_reason, sum.living),
	];
}

/** How many instructions are shown before the rest is summed up. */
const MOST_LINES = 20;

/** What pruners are told, and to how many vines. @param {App} app @param {Sum} sum */
function instructions(app, sum) {
	const { t } = app;
	const list = sum.instructions ?? [];
	if (!list.length) return null;
	const rows = list.slice(0, MOST_LINES).map((i) => [i.text, t.number(i.vines), t.percent(i.vines, sum.living)]);
	const rest = list.slice(MOST_LINES);
	const left = rest.reduce((n, i) => n + i.vines, 0);
	if (rest.length) rows.push([t("pruning.rarer", { n: rest.length }), t.number(left), t.percent(left, sum.living)]);
	return h("div", { id: "instructions" }, tableOf(t("pruning.instructions"), [t("pruning.leave"), `${t("patch.vines")}#`, `${t("report.share")}#`], rows));
}

/** @param {App} app @param {"bound" | "flag" | "reason"} kind @param {Record<string, number> | null} counts @param {number} living */
function tally(app, kind, counts, living) {
	const { t } = app;
	const list = ranked(counts).filter(([word]) => kind !== "bound" || word !== "none");
	if (!list.length) return null;
	return h("div", { id: `by-${kind}` }, tableOf(t(`pruning.by_${kind}`), [t(`pruning.col_${kind}`), `${t("patch.vines")}#`, `${t("report.share")}#`],
		list.map(([word, n]) => [wordFor(app, kind, word), t.number(n), t.percent(n, living)])));
}

/** The page's words for a word of the server. @param {App} app @param {string} kind @param {string} word */
export function wordFor(app, kind, word) {
	const key = `${kind}.${word.toLowerCase().replace(/[^a-z]+/g, "_")}`;
	return app.t.has(key) ? app.t(key) : word;
}
