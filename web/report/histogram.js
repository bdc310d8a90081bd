// How the vines of a block share out by vigour, told apart by where the value is
// from: measured full, calibrated striped, estimated dotted.

import { meanOf } from "../lib/findings.js";
import { svg } from "../map/dom.js";
import { className } from "../map/app.js";
import { chart, coloured, leftAxis, line, niceSteps, words } from "./chart.js";
import { foldedTable, section, tableOf } from "./section.js";
import { basisKey } from "./basiskey.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Vigour} Vigour
 * @typedef {import("../lib/findings.js").Bin} Bin
 */

const KINDS = /** @type {const} */ (["measured", "calibrated", "estimated"]);
const HEIGHT = 280;

/** @param {App} app @param {Vigour} v */
export function histogramSection(app, v) {
	const { t, units } = app;
	if (!v.histogram.length || meanOf(v) === null) return section("histogram", t("report.histogram"), tableless(app));
	const all = (/** @type {Bin} */ b) => b.measured + b.calibrated + b.estimated;
	const write = (/** @type {number} */ kg) => t.fixed(units.shown("weight_per_m", kg * 1000), 2);
	const unit = units.unit("weight_per_m");
	const most = v.histogram.reduce((a, b) => (all(b) > all(a) ? b : a));
	const label = t("report.histogram_says", {
		n: v.measured + v.calibrated + v.estimated, mean: units.text("weight_per_m", (v.mean_kg_m ?? 0) * 1000), from: write(most.from), to: write(most.to), unit,
	});
	const rows = v.histogram.map((b) => [t("legend.range", { from: write(b.from), to: write(b.to) }), ...KINDS.map((k) => t.number(b[k])), t.number(all(b))]);
	const heads = [t("report.vigour_in", { unit }), ...KINDS.map((k) => `${t(`basis.${k}`)}#`), `${t("report.together")}#`];
	return section("histogram", t("report.histogram"), classTable(app, v),
		chart(label, HEIGHT, (root, width) => draw(app, v, root, width, write, unit)),
		basisKey(app), foldedTable(t("report.as_table"), tableOf(t("report.histogram"), heads, rows)));
}

/** @param {App} app */
function tableless(app) {
	return app.t("report.no_vigour");
}

/** Vines by class of vigour. @param {App} app @param {Vigour} v */
function classTable(app, v) {
	const { t } = app;
	const legend = app.legends.vigour.classes.filter((c) => c.code > 0 || v.classes[0] > 0);
	const all = v.classes.slice(1).reduce((a, b) => a + b, 0);
	return tableOf(t("report.classes"), [t("report.class"), ...legend.map((c) => `${className(app, "vigour", c)}#`)], [
		[t("patch.vines"), ...legend.map((c) => t.number(v.classes[c.code] ?? 0))],
		[t("report.share"), ...legend.map((c) => (c.code ? t.percent(v.classes[c.code] ?? 0, all) : t("value.none")))],
	]);
}

/**
 * @param {App} app
 * @param {Vigour} v
 * @param {SVGElement} root
 * @param {number} width
 * @param {(kg: number) => string} write
 * @param {string} unit
 */
function draw(app, v, root, width, write, unit) {
	const bins = v.histogram;
	const from = bins[0].from;
	const to = bins[bins.length - 1].to;
	const steps = niceSteps(Math.max(...bins.map((b) => b.measured + b.calibrated + b.estimated)), 4);
	const frame = { left: 52, right: width - 12, top: 34, bottom: HEIGHT - 44 };
	const x = (/** @type {number} */ kg) => frame.left + ((kg - from) / (to - from)) * (frame.right - frame.left);
	const y = (/** @type {number} */ n) => frame.bottom - (n / steps[steps.length - 1]) * (frame.bottom - frame.top);
	root.append(patterns(app));
	leftAxis(root, steps, y, frame, (n) => app.t.number(n));
	for (const b of bins) root.append(bar(app, v, b, x, y));
	limits(app, v, root, x, frame);
	const every = Math.max(1, Math.ceil((bins.length * 46) / (frame.right - frame.left)));
	bins.forEach((b, k) => {
		if (k % every === 0) root.append(line(x(b.from), frame.bottom, x(b.from), frame.bottom + 4, "axis"), words(x(b.from), frame.bottom + 18, write(b.from), { "text-anchor": "middle" }));
	});
	root.append(words((frame.left + frame.right) / 2, HEIGHT - 6, app.t("report.vigour_in", { unit }), { "text-anchor": "middle", class: "axis-name" }), words(6, 18, app.t("patch.vines"), { class: "axis-name" }));
}

/** The class of a value. @param {Vigour} v @param {number} kg */
function classOf(v, kg) {
	return 1 + v.limits.filter((l) => kg >= l).length;
}

/** @param {App} app @param {Vigour} v @param {Bin} b @param {(kg: number) => number} x @param {(n: number) => number} y */
function bar(app, v, b, x, y) {
	const code = classOf(v, (b.from + b.to) / 2);
	const cls = app.legends.vigour.classes.find((c) => c.code === code);
	const group = svg("g", { class: "bar" }, svg("title", {}, app.t("report.bar", { from: app.units.text("weight_per_m", b.from * 1000), to: app.units.text("weight_per_m", b.to * 1000), measured: b.measured, calibrated: b.calibrated, estimated: b.estimated })));
	let base = 0;
	for (const kind of KINDS) {
		if (!b[kind]) continue;
		const box = { x: (x(b.from) + 1).toFixed(1), y: y(base + b[kind]).toFixed(1), width: Math.max(1, x(b.to) - x(b.from) - 2).toFixed(1), height: Math.max(0, y(base) - y(base + b[kind])).toFixed(1) };
		const body = svg("rect", { ...box, class: "bar-edge" });
		if (kind === "estimated") body.classList.add("bar-ground");
		else if (cls) coloured(body, cls);
		group.append(body);
		if (kind !== "measured") group.append(kind === "calibrated" ? svg("rect", { ...box, fill: "url(#stripes)", class: "over" }) : svg("rect", { ...box, fill: `url(#dots-${code})`, class: "over" }));
		base += b[kind];
	}
	return group;
}

/** Borders between the classes, with the names of these where there is room. @param {App} app @param {Vigour} v @param {SVGElement} root @param {(kg: number) => number} x @param {{left: number, right: number, top: number, bottom: number}} frame */
function limits(app, v, root, x, frame) {
	const edges = [frame.left, ...v.limits.map(x).filter((p) => p > frame.left && p < frame.right), frame.right];
	for (const p of edges.slice(1, -1)) root.append(line(p, frame.top - 18, p, frame.bottom, "limit"));
	let [from, code] = [frame.left, 1];
	for (const limit of [...v.limits, Infinity]) {
		const until = Math.min(frame.right, Math.max(frame.left, x(limit)));
		const cls = app.legends.vigour.classes.find((c) => c.code === code);
		const name = cls ? className(app, "vigour", cls) : "";
		if (until - from > name.length * 7 + 6) root.append(words((from + until) / 2, frame.top - 8, name, { "text-anchor": "middle", class: "limit-name" }));
		else if (until - from > 14) root.append(words((from + until) / 2, frame.top - 8, String(code), { "text-anchor": "middle", class: "limit-name" }));
		[from, code] = [until, code + 1];
	}
}

/** Stripes for what is calibrated, dots in the class colour for what is estimated. @param {App} app */
function patterns(app) {
	const list = [svg("pattern", { id: "stripes", width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, svg("line", { x1: 0, y1: 0, x2: 0, y2: 6, class: "stripe" }))];
	for (const c of app.legends.vigour.classes)
		list.push(svg("pattern", { id: `dots-${c.code}`, width: 5, height: 5, patternUnits: "userSpaceOnUse" }, coloured(svg("circle", { cx: 2.5, cy: 2.5, r: 1.7, class: "dot" }), c)));
	return svg("defs", {}, ...list);
}
