// Bars that show how a block's vines share out among the classes of a theme.

import { CONDITIONS, PROGRESS } from "../lib/model.js";
import { GROUNDS } from "../style/ground.js";
import { className } from "./app.js";
import { svg } from "./dom.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Totals} Totals
 * @typedef {import("../lib/model.js").Theme} Theme
 */

/**
 * Vines per class, in the order of the legend: all places by condition, living
 * vines otherwise, as on the map, where the others have a glyph of their own.
 * @param {Totals} totals
 * @param {Theme} theme
 * @param {import("../lib/model.js").Legend} legend
 * @returns {number[] | null} null where the totals do not say
 */
export function countsOf(totals, theme, legend) {
	if (theme === "zones" || theme === "replants" || theme === "patches" || theme === "change" || theme === "doubt") {
		const found = totals[theme];
		return found ? legend.classes.map((c) => found[c.code] ?? 0) : null;
	}
	return legend.classes.map((c) => {
		if (theme === "vigour") return c.code === 0 ? Math.max(0, totals.vigour[0] - totals.gaps) : (totals.vigour[c.code] ?? 0);
		if (theme === "load") return totals.load[c.code] ?? 0;
		if (theme === "follow-ups") return totals.follow_ups[c.code] ?? 0;
		if (theme === "condition") return totals.condition[CONDITIONS[c.code]] ?? 0;
		return totals.progress[PROGRESS[c.code]] ?? 0;
	});
}

/**
 * @param {Totals[]} all
 * @param {Theme} theme
 * @param {import("../lib/model.js").Legend} legend
 */
export function sumCounts(all, theme, legend) {
	const sums = legend.classes.map(() => 0);
	for (const totals of all) {
		const counts = countsOf(totals, theme, legend);
		if (!counts) return null;
		counts.forEach((n, k) => (sums[k] += n));
	}
	return sums;
}

/**
 * A bar in the legend's colours, with a sentence for who does not see it.
 * @param {App} app
 * @param {Totals} totals
 * @param {Theme} theme
 */
export function shareBar(app, totals, theme) {
	const legend = app.legends[theme];
	const ground = app.ground.get().name;
	const counts = countsOf(totals, theme, legend);
	if (!counts) return null;
	const all = counts.reduce((a, b) => a + b, 0);
	const parts = counts.flatMap((n, k) => (n ? [`${className(app, theme, legend.classes[k])} ${app.t.percent(n, all)}`] : []));
	const text = app.t("blocks.bar", { title: app.t(`theme.${theme}`), parts: parts.join(", ") });
	const bar = svg("svg", { class: "bar", role: "img", "aria-label": text, viewBox: "0 0 100 10", preserveAspectRatio: "none" });
	let x = 0;
	counts.forEach((n, k) => {
		if (!n) return;
		const width = (100 * n) / all;
		bar.append(svg("rect", { x, y: 0, width, height: 10, fill: legend.classes[k][ground] }));
		if (x > 0) bar.append(svg("path", { d: `M${x} 0V10`, stroke: GROUNDS[ground].ground, "stroke-width": 1.5, "vector-effect": "non-scaling-stroke" }));
		x += width;
	});
	return bar;
}
