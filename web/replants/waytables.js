// The sum of each way by year and in all, and what each assumption does to it.

import { wordKey } from "../lib/replants.js";
import { h, svg } from "../map/dom.js";
import { chart, leftAxis, line, words } from "../report/chart.js";
import { foldedTable, section, tableOf } from "../report/section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").WayPlan} WayPlan
 */

const HEIGHT = 280;
/** How the lines of the ways differ, besides their names at the end. */
const DASHES = ["", "7 4", "2 3"];

/** Money in whole units. @param {App} app @param {number} n */
function money(app, n) {
	return app.t.number(Math.round(n)).replace("-", "\u2212");
}

/** @param {App} app @param {Replants} answer */
export function wayTables(app, answer) {
	const { t } = app;
	const plans = answer.comparison?.plans ?? [];
	const { currency } = answer.settings.money;
	const name = (/** @type {WayPlan} */ p) => t(`way.${wordKey(p.way)}`, { years: answer.settings.fill_over_years });
	// The last year before the block is pulled in any case, or the last that is compared.
	const lastAt = Math.max(0, Math.min(answer.case.remaining, answer.case.horizon) - 1);
	const last = plans[0].years[lastAt];
	const sums = tableOf(t("compare.sums_caption", { years: answer.case.horizon, currency }), [t("compare.way"), `${t("compare.per_ha")}#`, `${t("compare.for_block")}#`, `${t("compare.replants")}#`, `${t("compare.gaps_in", { season: String(last.season) })}#`],
		plans.map((p) => [name(p), money(app, p.npv_per_ha), money(app, p.npv), t.number(p.replants), `${t.fixed(100 * (p.years[lastAt]?.gaps ?? 0), 1)}\u00a0%`]));
	const label = t("compare.chart_says", { years: answer.case.horizon, parts: plans.map((p) => `${name(p)}: ${money(app, p.npv_per_ha)}`).join("; ") });
	const each = plans.map((p) => h("div", { id: `years-${wordKey(p.way)}` }, foldedTable(t("compare.by_year", { way: name(p) }), yearTable(app, name(p), p, currency))));
	return [section("sums", t("compare.sums"), sums, chart(label, HEIGHT, (root, width) => draw(app, plans, root, width)),
		h("ul", { class: "chart-key" }, ...plans.map((p, k) => h("li", {}, svg("svg", { class: "swatch", viewBox: "0 0 26 16", "aria-hidden": "true" }, svg("path", { d: "M1 8H25", class: `way-line way-${k}`, "stroke-dasharray": DASHES[k] })), name(p)))), h("p", { class: "hint" }, t("compare.chart_hint", { currency })), ...each)];
}

/** @param {App} app @param {string} title @param {WayPlan} plan @param {string} currency */
function yearTable(app, title, plan, currency) {
	const { t } = app;
	const share = (/** @type {number} */ n) => `${t.fixed(100 * n, 1)}\u00a0%`;
	const heads = [t("vine.season"), `${t("table.gaps")}#`, `${t("compare.kg_ha")}#`, `${t("compare.sold")}#`, `${t("compare.sales")}#`, `${t("compare.picking")}#`, `${t("compare.tending")}#`, `${t("compare.replants")}#`, `${t("compare.replacing")}#`, `${t("compare.block_cost")}#`, `${t("compare.cash")}#`, `${t("compare.factor")}#`, `${t("compare.present")}#`, `${t("compare.total")}#`];
	return tableOf(t("compare.years_caption", { way: title, currency }), heads, plan.years.map((y) => [String(y.season), share(y.gaps), t.number(Math.round(y.yield_kg)), t.number(Math.round(y.sold_kg)), money(app, y.sales), money(app, y.picking), money(app, y.tending), t.number(y.replants, 1), money(app, y.replacing), money(app, y.block), money(app, y.cash), t.fixed(y.factor, 3), money(app, y.present), money(app, y.total)]));
}

/** @param {App} app @param {WayPlan[]} plans @param {SVGElement} root @param {number} width */
function draw(app, plans, root, width) {
	const totals = plans.flatMap((p) => p.years.map((y) => y.total));
	const [low, high] = [Math.min(0, ...totals), Math.max(0, ...totals)];
	const step = roundStep((high - low || 1) / 4);
	/** @type {number[]} */
	const steps = [];
	for (let v = Math.floor(low / step) * step; v <= high + step * 0.999; v += step) steps.push(v);
	const frame = { left: 72, right: width - 16, top: 26, bottom: HEIGHT - 34 };
	const years = plans[0]?.years ?? [];
	const x = (/** @type {number} */ k) => frame.left + (k * (frame.right - frame.left)) / Math.max(1, years.length - 1);
	const y = (/** @type {number} */ v) => frame.bottom - ((v - steps[0]) / (steps[steps.length - 1] - steps[0])) * (frame.bottom - frame.top);
	leftAxis(root, steps, y, frame, (v) => money(app, v));
	const every = Math.max(1, Math.ceil((years.length * 44) / (frame.right - frame.left)));
	years.forEach((year, k) => {
		if (k % every === 0) root.append(words(x(k), frame.bottom + 18, String(year.season), { "text-anchor": "middle" }));
	});
	plans.forEach((p, k) => {
		root.append(svg("path", { d: p.years.map((year, j) => `${j ? "L" : "M"}${x(j).toFixed(1)} ${y(year.total).toFixed(1)}`).join(""), class: `way-line way-${k}`, "stroke-dasharray": DASHES[k], fill: "none" }));
	});
	root.append(line(frame.left, frame.bottom, frame.right, frame.bottom, "axis"), words(6, 14, app.t("compare.total"), { class: "axis-name" }));
}

/** A round step at least as large as one. @param {number} raw */
function roundStep(raw) {
	const power = 10 ** Math.floor(Math.log10(raw));
	const lead = raw / power;
	return (lead <= 1 ? 1 : lead <= 2 ? 2 : lead <= 5 ? 5 : 10) * power;
}

/** @param {App} app @param {Replants} answer */
export function sensitivityTable(app, answer) {
	const { t } = app;
	const { plans, sensitivity: list } = answer.comparison ?? { plans: [], sensitivity: [] };
	const short = (/** @type {WayPlan} */ p) => t(`way.short_${wordKey(p.way)}`);
	const number = (/** @type {number} */ n) => t.number(n, 3);
	// Those that move the lead most stand first.
	const swing = (/** @type {import("../lib/replants.js").Sensitivity} */ s) => Math.max(...s.npv_per_ha.map((v) => Math.abs(v[2] - v[0])));
	const rows = [...list].sort((a, b) => Number(b.turns && within(b)) - Number(a.turns && within(a)) || swing(b) - swing(a));
	const heads = [t("sensitive.assumption"), `${t("sensitive.low_high")}#`, ...plans.map((p) => `${short(p)}#`), t("sensitive.turns")];
	return section("sensitivity", t("sensitive.title"), h("p", {}, t("sensitive.hint")),
		h("div", { class: "wrapping sensitive" }, tableOf(t("sensitive.caption"), heads, rows.map((s) => [h("span", {}, t(`money.${s.key}`), h("span", { class: "unit" }, ` ${s.unit}`)), t("sensitive.range", { low: number(s.at[0]), high: number(s.at[2]) }),
			...plans.map((_, k) => t("sensitive.range", { low: money(app, s.npv_per_ha[k][0]), high: money(app, s.npv_per_ha[k][2]) })), s.text]))));
}

/** @param {import("../lib/replants.js").Sensitivity} s */
function within(s) {
	return s.break_even >= s.at[0] && s.break_even <= s.at[2];
}
