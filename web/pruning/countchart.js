// How many vines carry how many nodes, or canes: bars, with a table beside them.

import { barsOf, meanOfCounts } from "../lib/pruning.js";
import { h, svg } from "../map/dom.js";
import { chart, coloured, leftAxis, line, niceSteps, words } from "../report/chart.js";
import { foldedTable, tableOf } from "../report/section.js";

/** @typedef {import("../map/app.js").App} App */

const HEIGHT = 210;
const MOST_BARS = 30;

/**
 * @param {App} app
 * @param {"nodes" | "canes"} what
 * @param {number[] | null} counts entry k counts vines with k
 */
export function countChart(app, what, counts) {
	const { t } = app;
	const bars = barsOf(counts, MOST_BARS);
	const title = t(`pruning.hist_${what}`);
	if (!bars.length) return h("div", { class: "count-chart" }, h("h3", {}, title), h("p", {}, t("pruning.no_vines")));
	const top = bars.reduce((a, b) => (b.n > a.n ? b : a));
	const label = t(`pruning.hist_${what}_says`, { mean: t.number(meanOfCounts(counts) ?? 0, 1), most: span(app, top), n: top.n });
	const rows = bars.map((b) => [span(app, b), t.number(b.n)]);
	return h("div", { class: "count-chart", id: `hist-${what}` }, h("h3", {}, title), h("p", {}, label),
		chart(label, HEIGHT, (root, width) => draw(app, what, bars, root, width)),
		foldedTable(t("report.as_table"), tableOf(title, [t(`pruning.each_${what}`), `${t("patch.vines")}#`], rows)));
}

/** @param {App} app @param {{from: number, to: number}} b */
function span(app, { from, to }) {
	return from === to ? app.t.number(from) : app.t("legend.range", { from: app.t.number(from), to: app.t.number(to) });
}

/** The class of a load, for its colour on the map. @param {App} app @param {number} nodes */
function classOf(app, nodes) {
	return app.legends.load?.classes.filter((c) => c.code > 0 && (c.from ?? 0) <= nodes).at(-1);
}

/**
 * @param {App} app
 * @param {"nodes" | "canes"} what
 * @param {{from: number, to: number, n: number}[]} bars
 * @param {SVGElement} root
 * @param {number} width
 */
function draw(app, what, bars, root, width) {
	const steps = niceSteps(Math.max(...bars.map((b) => b.n)), 4);
	const frame = { left: 52, right: Math.min(width - 12, 52 + 64 * bars.length), top: 26, bottom: HEIGHT - 42 };
	const wide = (frame.right - frame.left) / bars.length;
	const y = (/** @type {number} */ n) => frame.bottom - (n / steps[steps.length - 1]) * (frame.bottom - frame.top);
	leftAxis(root, steps, y, frame, (n) => app.t.number(n));
	const every = Math.max(1, Math.ceil((bars[0].from === bars[0].to ? 24 : 44) / wide));
	bars.forEach((b, k) => {
		const x = frame.left + k * wide;
		const box = { x: (x + 1).toFixed(1), y: y(b.n).toFixed(1), width: Math.max(1, wide - 2).toFixed(1), height: (frame.bottom - y(b.n)).toFixed(1) };
		const rect = svg("rect", { ...box, class: "bar-edge bar-plain" });
		const cls = what === "nodes" ? classOf(app, b.to) : undefined;
		if (cls) coloured(rect, cls).classList.remove("bar-plain");
		root.append(svg("g", { class: "bar" }, svg("title", {}, `${span(app, b)}: ${app.t("app.vines", { n: b.n })}`), b.n ? rect : null));
		if (k % every === 0) root.append(words(x + wide / 2, frame.bottom + 17, b.from === b.to ? String(b.from) : `${b.from}–${b.to}`, { "text-anchor": "middle" }));
	});
	root.append(line(frame.left, frame.bottom, frame.right, frame.bottom, "axis"), words(frame.left, HEIGHT - 6, app.t(`pruning.each_${what}`), { class: "axis-name" }), words(6, 14, app.t("patch.vines"), { class: "axis-name" }));
}
