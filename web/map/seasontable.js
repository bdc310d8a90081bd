// What every season says of one vine.

import { h } from "./dom.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Vine} Vine
 */

/**
 * @param {App} app
 * @param {Vine} vine
 */
export function seasonTable(app, vine) {
	const { t, units } = app;
	const chosen = app.view.get().season;
	const none = t("value.none");
	const shown = (/** @type {import("../lib/units.js").Amount} */ amount, /** @type {number | null | undefined} */ v, /** @type {number} */ digits) =>
		v === null || v === undefined ? none : t.number(units.shown(amount, v), digits);
	const heads = [t("vine.season"), t("vine.col_leaf"), t("vine.col_condition"), t("vine.col_vigour"), t("vine.col_weight", { unit: units.unit("weight") }),
		t("vine.col_per_m", { unit: units.unit("weight_per_m") }), t("vine.col_planned"), t("vine.col_left"), t("vine.col_progress")];
	const rows = [...vine.seasons].sort((a, b) => b.season - a.season).map((s) =>
		h("tr", { class: s.season === chosen ? "current" : null },
			h("th", { scope: "row" }, s.season),
			h("td", { class: "n" }, s.leaf || none),
			h("td", {}, t(`condition.${s.condition}`)),
			h("td", {}, s.vigour ? `${s.vigour}` : none),
			h("td", { class: "n" }, shown("weight", s.measures?.pruning_weight?.value, 2)),
			h("td", { class: "n" }, shown("weight_per_m", s.weight_g_per_m, 2)),
			h("td", { class: "n" }, s.plan?.nodes ?? none),
			h("td", { class: "n" }, s.pruned?.nodes ?? none),
			h("td", {}, t(`progress.${s.progress}`))));
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": t("vine.seasons") },
		h("table", { class: "seasons" }, h("thead", {}, h("tr", {}, ...heads.map((text) => h("th", { scope: "col" }, text)))), h("tbody", {}, ...rows)));
}
