// What every season says of one vine: seasons side by side, the latest first.

import { className, inksOf } from "./app.js";
import { h } from "./dom.js";
import { markOf } from "./mark.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Vine} Vine
 * @typedef {import("../lib/model.js").VineSeason} VineSeason
 * @typedef {import("../lib/model.js").Theme} Theme
 */

/**
 * @param {App} app
 * @param {Vine} vine
 */
export function seasonTable(app, vine) {
	const { t, units } = app;
	const chosen = app.view.get().season;
	const seasons = [...vine.seasons].sort((a, b) => b.season - a.season);
	const amount = (/** @type {import("../lib/units.js").Amount} */ kind, /** @type {number | null | undefined} */ v) => (v === null || v === undefined ? null : t.number(units.shown(kind, v), 2));
	/** @type {[string, (s: VineSeason) => import("./dom.js").Child][]} */
	const lines = [
		[t("vine.col_leaf"), (s) => s.leaf || null],
		[t("vine.col_condition"), (s) => word(app, "condition", s.condition)],
		[t("vine.col_vigour"), (s) => (s.vigour ? word(app, "vigour", app.legends.vigour.classes.find((c) => c.code === s.vigour)?.key ?? "") : null)],
		[t("vine.col_weight", { unit: units.unit("weight") }), (s) => amount("weight", s.measures?.pruning_weight?.value)],
		[t("vine.col_per_m", { unit: units.unit("weight_per_m") }), (s) => amount("weight_per_m", s.weight_g_per_m)],
		[t("vine.col_yield", { unit: units.unit("weight") }), (s) => amount("weight", s.measures?.yield?.value)],
		[t("vine.col_planned"), (s) => s.plan?.nodes],
		[t("vine.col_left"), (s) => s.pruned?.nodes],
		[t("vine.col_progress"), (s) => word(app, "progress", s.progress)],
	];
	const current = (/** @type {VineSeason} */ s) => (s.season === chosen ? "current" : null);
	const body = lines.flatMap(([name, of]) => {
		const cells = seasons.map(of);
		if (name === t("vine.col_yield", { unit: units.unit("weight") }) && cells.every((c) => c === null)) return [];
		return [h("tr", {}, h("th", { scope: "row" }, name), ...cells.map((c, k) => h("td", { class: current(seasons[k]) }, c ?? t("value.none"))))];
	});
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": t("vine.seasons") },
		h("table", { class: "seasons" },
			h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("vine.season")), ...seasons.map((s) => h("th", { scope: "col", class: current(s) }, s.season)))),
			h("tbody", {}, ...body)));
}

/** The name of a class with its mark. @param {App} app @param {Theme} theme @param {string} key */
function word(app, theme, key) {
	const cls = app.legends[theme].classes.find((c) => c.key === key);
	if (!cls) return key;
	return h("span", { class: "marked" }, markOf(cls, app.ground.get().name, inksOf(app)), className(app, theme, cls));
}
