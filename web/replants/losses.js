// Vines lost by year and cause, as a chart with its table. Causes are told apart by
// pattern as well as by colour.

import { h, svg } from "../map/dom.js";
import { chart, coloured, leftAxis, line, niceSteps, words } from "../report/chart.js";
import { foldedTable, section, tableOf } from "../report/section.js";
import { shareText } from "./gaps.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").YearLosses} YearLosses
 */

const HEIGHT = 250;
const MOST_CAUSES = 5;
/** Fills of the causes, the commonest first: with the stripes over them they differ for every eye. */
const FILLS = [{ light: "#036063", dark: "#a4d391" }, { light: "#f0a202", dark: "#ffbe4d" }, { light: "#b5264f", dark: "#ff8aa0" }, { light: "#3c7ebe", dark: "#4aa3ff" }, { light: "#c9c4b4", dark: "#6d7468" }, { light: "#ffffff", dark: "#171b19" }];
/** Turn and width of the stripes over each fill; 0 none. */
const STRIPES = [[0, 0], [45, 6], [-45, 5], [0, 5], [90, 6], [45, 4]];

/** @param {App} app @param {{causes: string[] | null, years: YearLosses[] | null}} losses */
export function lossesSection(app, losses) {
	const { t } = app;
	const causes = losses.causes ?? [];
	const years = losses.years ?? [];
	const total = years.reduce((n, y) => n + y.lost, 0);
	const nameOf = (/** @type {string} */ c) => (c === "unknown" ? t("losses.unknown") : c);
	const heads = [t("vine.season"), `${t("losses.stood")}#`, `${t("losses.lost")}#`, `${t("report.share")}#`, ...causes.map((c) => `${nameOf(c)}#`), `${t("table.gaps")}#`, `${t("losses.planted")}#`];
	const count = (/** @type {number | undefined} */ n) => (n ? t.number(n) : t("value.none"));
	const table = tableOf(t("losses.caption"), heads, years.map((y) => [String(y.season), t.number(y.stood), count(y.lost), y.lost ? shareText(app, y.share) : t("value.none"), ...causes.map((_, k) => count((y.by_cause ?? [])[k])), count(y.gaps), count(y.planted)]));
	if (!total) return section("losses", t("losses.title"), h("p", { class: "state" }, t("losses.none")), foldedTable(t("report.as_table"), table));
	const worst = years.reduce((a, b) => (b.lost > a.lost ? b : a));
	const shown = groups(causes, years, nameOf, t("losses.other"));
	const label = t("losses.says", { n: total, years: years.length, season: String(worst.season), most: worst.lost, cause: shown[0]?.name ?? "" });
	return section("losses", t("losses.title"), h("p", {}, label),
		chart(label, HEIGHT, (root, width) => draw(app, shown, years, root, width)),
		h("ul", { class: "chart-key" }, ...shown.map((g, k) => h("li", {}, swatch(k), g.name))),
		foldedTable(t("report.as_table"), table));
}

/** The commonest causes, the rest as one. @param {string[]} causes @param {YearLosses[]} years @param {(c: string) => string} nameOf @param {string} other */
function groups(causes, years, nameOf, other) {
	const list = causes.slice(0, MOST_CAUSES).map((c, k) => ({ name: nameOf(c), of: (/** @type {YearLosses} */ y) => (y.by_cause ?? [])[k] ?? 0 }));
	if (causes.length > MOST_CAUSES) list.push({ name: other, of: (y) => (y.by_cause ?? []).slice(MOST_CAUSES).reduce((a, b) => a + b, 0) });
	return list.filter((g) => years.some((y) => g.of(y)));
}

/** @param {string} id @param {number} k */
function stripes(id, k) {
	const [turn, gap] = STRIPES[k];
	return svg("pattern", { id, width: gap || 8, height: gap || 8, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${turn})` }, gap ? svg("line", { x1: 0, y1: 0, x2: 0, y2: gap, class: "stripe" }) : null);
}

/** @param {number} k */
function swatch(k) {
	return svg("svg", { class: "swatch", viewBox: "0 0 26 16", "aria-hidden": "true" }, svg("defs", {}, stripes(`key-cause-${k}`, k)),
		coloured(svg("rect", { x: 1, y: 1, width: 24, height: 14, class: "bar-edge" }), FILLS[k]), svg("rect", { x: 1, y: 1, width: 24, height: 14, fill: `url(#key-cause-${k})` }));
}

/** @param {App} app @param {ReturnType<typeof groups>} shown @param {YearLosses[]} years @param {SVGElement} root @param {number} width */
function draw(app, shown, years, root, width) {
	const steps = niceSteps(Math.max(...years.map((y) => y.lost)), 4);
	const frame = { left: 52, right: Math.min(width - 12, 52 + 84 * years.length), top: 26, bottom: HEIGHT - 30 };
	const wide = (frame.right - frame.left) / years.length;
	const y = (/** @type {number} */ n) => frame.bottom - (n / steps[steps.length - 1]) * (frame.bottom - frame.top);
	root.append(svg("defs", {}, ...shown.map((_, k) => stripes(`cause-${k}`, k))));
	leftAxis(root, steps, y, frame, (n) => app.t.number(n));
	years.forEach((year, j) => {
		const x = frame.left + j * wide + wide * 0.15;
		let base = 0;
		const bar = svg("g", { class: "bar", data: { season: year.season } });
		shown.forEach((g, k) => {
			const n = g.of(year);
			if (!n) return;
			const box = { x: x.toFixed(1), y: y(base + n).toFixed(1), width: (wide * 0.7).toFixed(1), height: (y(base) - y(base + n)).toFixed(1) };
			bar.append(svg("g", {}, svg("title", {}, `${year.season}, ${g.name}: ${app.t("app.vines", { n })}`), coloured(svg("rect", { ...box, class: "bar-edge" }), FILLS[k]), svg("rect", { ...box, fill: `url(#cause-${k})`, class: "over" })));
			base += n;
		});
		root.append(bar);
		if (wide > 34 || j % 2 === 0) root.append(words(x + wide * 0.35, frame.bottom + 18, String(year.season), { "text-anchor": "middle" }));
	});
	root.append(line(frame.left, frame.bottom, frame.right, frame.bottom, "axis"), words(6, 14, app.t("losses.lost"), { class: "axis-name" }));
}
