// Zones and their rates as figures: the plan of the block, what each zone is, how
// sure it is, and how it lasts from year to year.

import { h } from "../map/dom.js";
import { factList, foldedTable, section, tableOf } from "../report/section.js";
import { zoneDrawing } from "./drawing.js";
import { amount, rateText } from "./measures.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/zones.js").View} View
 */

/** Zones in one sentence, with the sum of the rates where there are any. @param {App} app @param {View} view */
export function sentence(app, view) {
	const { t } = app;
	const zones = t("zones.says", { n: view.zones.length, method: t(`zones.method_${view.method.replaceAll(/[ -]/g, "_")}`), share: t.percent(view.kept, 1) });
	return view.rates ? `${zones} ${ratesSay(app, view.rates)}` : zones;
}

/** @param {App} app @param {import("../lib/zones.js").Rates} r */
function ratesSay(app, r) {
	const { more, total } = r.uniform;
	const even = Math.abs(more) < 0.0005 * Math.max(total, 1e-9);
	const words = { material: r.material, total: amount(app, r.total, r.measure), more: amount(app, Math.abs(more), r.measure) };
	return app.t(even ? "zones.sum_same" : more < 0 ? "zones.sum_less" : "zones.sum_more", words);
}

/** The colour and number of a zone. @param {App} app @param {number} number */
export function zoneMark(app, number) {
	const cls = app.legends.zones.classes.find((c) => c.code === number);
	const mark = h("span", { class: "zone-swatch", "aria-hidden": "true" });
	if (cls) mark.style.setProperty("background-color", cls[app.ground.get().name]);
	return h("span", { class: "zone-name" }, mark, app.t(number === 1 ? "zones.zone_weakest" : "zones.zone", { n: String(number) }));
}

/** The plan of the block with its legend. @param {App} app @param {View} view @param {string} [id] */
export function mapSection(app, view, id = "map") {
	const { t } = app;
	const label = t("zones.drawn", { code: view.code, season: String(view.season), n: view.zones.length });
	return section(id, t("zones.map"), h("div", { class: "zone-split" }, zoneDrawing(app, view, label), h("div", {}, zoneTable(app, view))),
		notes(view.notes));
}

/** @param {App} app @param {View} view */
function zoneTable(app, view) {
	const { t, units } = app;
	const rates = view.rates;
	const heads = [t("zones.zone_head"), ...(rates ? [`${t("zones.rate")}#`] : []), `${t("patch.vines")}#`, `${t("block.area")}#`, `${t("zones.row_length")}#`, ...view.columns.map((c) => `${c.name}#`), `${t("zones.sure")}#`];
	const rows = view.zones.map((z, k) => [zoneMark(app, z.number), ...(rates ? [rateText(app, rates.zones[k].rate, rates.unit)] : []), t.number(z.vines), units.text("area", z.area_m2), units.text("length", z.row_m),
		...z.means.map((m, c) => columnText(app, view.columns[c].name, m)), z.sure < 0 ? t("value.none") : t.percent(z.sure, 1)]);
	return tableOf(t("zones.legend"), heads, rows);
}

/** @param {App} app @param {string} name of a column @param {number} mean */
function columnText(app, name, mean) {
	return name.startsWith("vigour") ? app.units.text("weight_per_m", mean * 1000) : app.t.number(mean, 3);
}

/** @param {string[]} list */
export function notes(list) {
	return list.length ? h("ul", { class: "sentences" }, ...list.map((text) => h("li", {}, text))) : null;
}

/** How sure each zone is. @param {App} app @param {View} view @param {string} [id] */
export function sureSection(app, view, id = "sure") {
	const { t } = app;
	const heads = [t("zones.zone_head"), ...[0, 1, 2, 3].map((k) => `${t(`zones.sure_${k}`)}#`), `${t("zones.sure_none")}#`];
	const rows = view.sure.map((s) => [zoneMark(app, s.zone), ...s.vines.map((n) => t.number(n)), t.number(s.none)]);
	return section(id, t("zones.how_sure"), h("p", {}, t(view.sure_by === "standard error" ? "zones.sure_by_error" : "zones.sure_by_membership")), tableOf(t("zones.sure_caption"), heads, rows));
}

/** How zones last from year to year. @param {App} app @param {View} view @param {string} [id] */
export function stableSection(app, view, id = "years") {
	const { t } = app;
	const s = view.stable;
	if (!s) return section(id, t("zones.years"), h("p", { class: "state" }, t("zones.one_layer")));
	const pairs = (s.pairs ?? []).map((p) => [t("zones.pair", { a: p.a, b: p.b }), t.number(p.vines), t.number(p.changed), t.percent(p.changed, p.vines), t.fixed(p.rand, 2)]);
	const times = s.times.map((n, k) => [t("zones.times", { n: k }), t.number(n), t.percent(n, s.vines)]);
	return section(id, t("zones.years"), h("p", { class: "says-line" }, t("zones.always", { n: s.always, vines: t.number(s.vines), share: t.percent(s.always, s.vines) })),
		tableOf(t("zones.years_caption"), [t("zones.layers_two"), `${t("patch.vines")}#`, `${t("zones.changed")}#`, `${t("report.share")}#`, `${t("zones.rand")}#`], pairs),
		h("p", { class: "hint" }, t("zones.rand_hint")),
		foldedTable(t("zones.times_title"), tableOf(t("zones.times_title"), [t("zones.times_head"), `${t("patch.vines")}#`, `${t("report.share")}#`], times)));
}

/** What was cut, and from what. @param {App} app @param {View} view */
export function cutFacts(app, view) {
	const { t } = app;
	return factList([
		[t("zones.from"), view.columns.map((c) => c.name).join(", ")],
		[t("zones.method"), t(`zones.method_${view.method.replaceAll(/[ -]/g, "_")}`)],
		[t("zones.explained"), t.percent(view.explained, 1)],
		[t("zones.explained_after"), t.percent(view.kept, 1)],
		[t("zones.moved"), t("zones.moved_value", { n: view.changed })],
	]);
}
