// The legend: always in sight, made from the same numbers as the map, with the
// vines of each class counted. A click on a class shows only that class.

import { vinesInside } from "../lib/ground.js";
import { BASES, COLUMN_OF, living, tellsGaps } from "../lib/model.js";
import { className, inksOf } from "./app.js";
import { sumCounts } from "./bars.js";
import { button, h, show } from "./dom.js";
import { imageChoice } from "./imagechoice.js";
import { basisMark, markOf } from "./mark.js";
import { operationChoice } from "./operation.js";
import { legendMaterial, legendRate, ratedBlock } from "./zonerates.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").LegendClass} LegendClass
 * @typedef {{stands: import("../lib/stand.js").Stand[], corners: [number, number][]}} InView
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 * @param {{inView: () => InView | null}} from null where no single vines are drawn
 */
export function mountLegend(app, place, { inView }) {
	let waiting = 0;
	const operations = operationChoice(app);
	const images = imageChoice(app);
	const draw = () => {
		waiting = 0;
		const { theme, season, only } = app.view.get();
		const legend = app.legends[theme];
		const view = inView();
		const counts = view ? countInView(view, theme, legend) : sumCounts(app.blocks.get().list.map((b) => b.totals), theme, legend);
		const unit = legend.unit === "kg/m" ? app.units.unit("weight_per_m") : legend.unit;
		const at = app.blocks.get().at;
		const where = [view ? app.t("legend.in_view") : app.t("legend.estate"), app.t("legend.season", { season: String(season) })];
		if (at) where.push(app.t("legend.as_of", { time: timeText(app, at) }));
		show(
			place,
			h("h2", { class: "legend-title" }, app.t(`theme.${theme}`), unit ? h("span", { class: "unit" }, `, ${unit}`) : null),
			h("p", { class: "legend-where" }, where.join(" · ")),
			sureChoice(app),
			operations,
			h("ul", { class: "legend-classes" }, ...legend.classes.flatMap((c, k) => (there(theme, c, counts?.[k] ?? 0, only) ? [item(app, theme, c, legend.unit, counts?.[k] ?? null, only, legendRate(app, ratedBlock(app, view), c.code))] : []))),
			theme === "zones" && !view && !counts?.some((n, k) => k > 0 && n > 0) ? h("p", { class: "legend-note" }, app.t(counts ? "zones.legend_nowhere" : "zones.legend_reading")) : legendMaterial(app, ratedBlock(app, view)),
			theme === "vigour" ? basisKey(app, view) : null,
			outlineChoice(app),
			view ? null : h("p", { class: "legend-note" }, app.t(theme === "condition" ? "legend.pieces" : `legend.pieces_${theme.replace("-", "_")}`)),
			view && !tellsGaps(theme) ? goneNote(app) : null,
			images,
		);
	};
	const soon = () => {
		waiting ||= requestAnimationFrame(draw);
	};
	for (const part of [app.view, app.blocks, app.ground]) part.on(soon);
	app.stands.on(soon);
	app.findings.on(soon);
	app.zones.on(soon);
	draw();
	return { redraw: soon };
}

/** Whether the legend has a class: of zones only those that are there, since how many there are is chosen for each block. @param {import("../lib/model.js").Theme} theme @param {LegendClass} c @param {number} n @param {number | null} only */
function there(theme, c, n, only) {
	return theme !== "zones" || n > 0 || c.code === 0 || c.code === only;
}

/**
 * @param {App} app
 * @param {import("../lib/model.js").Theme} theme
 * @param {LegendClass} c
 * @param {string} unit
 * @param {number | null} n null: not counted
 * @param {number | null} only
 * @param {string} rate of a zone
 */
function item(app, theme, c, unit, n, only, rate) {
	const range = rate || rangeText(app, c, unit);
	const pressed = only === c.code;
	const label = className(app, theme, c);
	const act = () => app.view.set({ only: pressed ? null : c.code });
	return h(
		"li",
		{},
		h("button", { type: "button", class: "legend-class", "aria-pressed": String(pressed), data: { key: `class-${c.code}`, code: c.code }, title: app.t(pressed ? "legend.all" : "legend.only", { label }), on: { click: act } },
			markOf(c, app.ground.get().name, inksOf(app)),
			h("span", { class: "legend-label" }, label, range ? h("span", { class: "legend-range" }, ` ${range}`) : null),
			n === null ? null : h("span", { class: "legend-count" }, app.t.number(n), h("span", { class: "out-of-sight" }, ` ${app.t("legend.vines", { n })}`)),
		),
	);
}

/** @param {App} app @param {LegendClass} c @param {string} unit */
function rangeText(app, c, unit) {
	const write = (/** @type {number} */ n) => (unit === "kg/m" ? app.t.number(app.units.shown("weight_per_m", n * 1000), 2) : app.t.number(n, 1).replace("-", "\u2212"));
	const from = c.from ?? null;
	const to = c.to ?? null;
	// Nodes are whole: from 5 and below 9 is 5 to 8.
	if (unit === "nodes" && to !== null) return app.t("legend.range", { from: write(from ?? 0), to: write(to - 1) });
	if (from !== null && to !== null) return app.t("legend.range", { from: write(from), to: write(to) });
	if (from !== null) return app.t("legend.from", { from: write(from) });
	if (to !== null) return app.t("legend.below", { to: write(to) });
	return "";
}

/** Vigour, or how sure it is: two sides of one thing. @param {App} app */
function sureChoice(app) {
	const { theme } = app.view.get();
	if ((theme !== "vigour" && theme !== "doubt") || !app.legends.doubt) return null;
	const side = (/** @type {import("../lib/model.js").Theme} */ to) =>
		button(app.t(to === "doubt" ? "legend.sure" : "legend.value"), () => app.view.set({ theme: to, only: null }), { "aria-pressed": String(theme === to), data: { key: `side-${to}` } });
	return h("div", { class: "legend-sides", role: "group", "aria-label": app.t("legend.sides") }, side("vigour"), side("doubt"));
}

/** How measured, calibrated and estimated vines are told apart. @param {App} app @param {InView | null} view */
function basisKey(app, view) {
	const inks = inksOf(app);
	const counts = BASES.map(() => 0);
	for (const stand of view?.stands ?? []) for (const i of vinesInside(stand, view?.corners ?? [])) if (living(stand.condition[i]) && stand.vigour[i]) counts[stand.basis[i]]++;
	const known = counts[1] + counts[2] + counts[3] > 0;
	return h("ul", { class: "legend-basis" }, ...BASES.slice(1).map((b, k) =>
		h("li", {}, basisMark(k + 1, inks), app.t(`basis.${b}`), view && known ? h("span", { class: "legend-count" }, ` ${app.t.number(counts[k + 1])}`) : null)));
}

/** Patches as outlines over another theme. @param {App} app */
function outlineChoice(app) {
	const { theme, outlines } = app.view.get();
	if (!app.legends.patches || (theme !== "vigour" && theme !== "change" && theme !== "doubt")) return null;
	const box = h("input", { type: "checkbox", id: "outlines", data: { key: "outlines" }, on: { change: () => app.view.set({ outlines: box.checked }) } });
	box.checked = outlines;
	return h("label", { class: "legend-outlines", for: "outlines" }, box, app.t("legend.outlines"));
}

/** In other themes dead and missing vines keep their glyphs. @param {App} app */
function goneNote(app) {
	const inks = inksOf(app);
	const glyph = (/** @type {string} */ symbol) => markOf({ key: "", label: "", code: 0, line: "", light: "#ffffff", dark: "#ffffff", symbol }, "light", inks);
	return h("p", { class: "legend-note legend-glyphs" }, glyph("cross"), app.t("legend.gone"), glyph("square"), app.t("legend.dead"), glyph("check"), app.t("legend.clash"));
}

/**
 * Vines per class inside the view.
 * @param {InView} view
 * @param {import("../lib/model.js").Theme} theme
 * @param {import("../lib/model.js").Legend} legend
 */
export function countInView({ stands, corners }, theme, legend) {
	const byCode = new Array(256).fill(0);
	for (const stand of stands) {
		const column = stand[COLUMN_OF[theme]];
		const { condition } = stand;
		for (const i of vinesInside(stand, corners)) if (tellsGaps(theme) || living(condition[i])) byCode[column[i]]++;
	}
	return legend.classes.map((c) => byCode[c.code]);
}

/** @param {App} app @param {number} at ms */
export function timeText(app, at) {
	return new Intl.DateTimeFormat(app.t.language, { hour: "2-digit", minute: "2-digit", day: "numeric", month: "short", timeZone: zoneOf(app) }).format(at);
}

/** @param {App} app */
export function zoneOf(app) {
	return app.estate.zone || "UTC";
}

