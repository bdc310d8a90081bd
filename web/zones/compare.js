// Two versions side by side: plans, figures, and the vines that change zone.

import { h } from "../map/dom.js";
import { dayText } from "../map/history.js";
import { factList, section, tableOf } from "../report/section.js";
import { zoneDrawing } from "./drawing.js";
import { amount, rateText } from "./measures.js";
import { cautionsSection } from "./ratesview.js";
import { zoneMark } from "./view.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/zones.js").Kept} Kept
 * @typedef {import("../lib/zones.js").Comparison} Comparison
 */

/** @param {App} app @param {Kept} now @param {Kept} other @param {Comparison} c @returns {HTMLElement[]} */
export function comparedParts(app, now, other, c) {
	const { t } = app;
	const names = [now, other].map((k) => t("zones.version", { day: dayText(app, k.made), who: k.by }));
	return [section("compare", t("zones.side_by_side"), facts(app, c),
		h("div", { class: "zone-pair" }, ...[now, other].map((k, i) => h("div", {}, h("h3", {}, names[i]), zoneDrawing(app, k.view, t("zones.drawn", { code: k.view.code, season: String(k.view.season), n: k.view.zones.length })))))),
	section("compare-figures", t("zones.figures"), figures(app, now, other, names)),
	section("compare-vines", t("zones.moved_vines"), moved(app, c), rows(app, c)),
	cautionsSection(app, now.view.rates?.cautions ?? other.view.rates?.cautions ?? [])];
}

/** @param {App} app @param {Comparison} c */
function facts(app, c) {
	const { t } = app;
	const plus = (/** @type {number} */ n, /** @type {string} */ text) => (n > 0 ? `+${text}` : text);
	return factList([
		[t("zones.changed"), t("block.of", { part: c.changed, whole: c.vines, share: t.percent(c.changed, c.vines) })],
		[t("zones.rand"), t.fixed(c.rand, 2)],
		[t("zones.first_less_second"), c.rates && plus(c.rates.total, amount(app, c.rates.total, c.rates.measure))],
	]);
}

/** @param {App} app @param {Kept} now @param {Kept} other @param {string[]} names */
function figures(app, now, other, names) {
	const { t } = app;
	const both = [now, other];
	const most = Math.max(...both.map((k) => k.view.zones.length));
	const line = (/** @type {import("../map/dom.js").Child} */ name, /** @type {(k: Kept) => string} */ of) => [name, ...both.map(of)];
	const none = t("value.none");
	return tableOf(t("zones.figures"), [t("zones.figure"), ...names.map((n) => `${n}#`)], [
		line(t("zones.from"), (k) => k.view.columns.map((c) => c.name).join(", ")),
		line(t("zones.explained_after"), (k) => t.percent(k.view.kept, 1)),
		line(t("zones.spread"), (k) => k.view.rates?.material ?? none),
		...Array.from({ length: most }, (_, z) => line(zoneMark(app, z + 1), (k) => {
			const zone = k.view.zones[z];
			if (!zone) return none;
			const area = app.units.text("area", zone.area_m2);
			return k.view.rates ? t("zones.area_and_rate", { area, rate: rateText(app, k.view.rates.zones[z].rate, k.view.rates.unit) }) : area;
		})),
		line(t("zones.total"), (k) => (k.view.rates ? amount(app, k.view.rates.total, k.view.rates.measure) : none)),
	]);
}

/** @param {App} app @param {Comparison} c */
function moved(app, c) {
	const { t } = app;
	const columns = Math.max(0, ...c.table.map((row) => row.length));
	return tableOf(t("zones.cross"), [t("zones.first_zone"), ...Array.from({ length: columns }, (_, k) => `${t("zones.second_zone", { n: String(k + 1) })}#`)], c.table.map((row, k) => [zoneMark(app, k + 1), ...row.map((n) => t.number(n))]));
}

/** @param {App} app @param {Comparison} c */
function rows(app, c) {
	const { t } = app;
	if (!c.rows.length) return h("p", {}, t("zones.no_moved"));
	return tableOf(t("zones.moved_rows"), [t("table.row"), `${t("patch.vines")}#`, `${t("zones.changed")}#`], c.rows.map((r) => [r.row, t.number(r.vines), t.number(r.changed)]));
}
