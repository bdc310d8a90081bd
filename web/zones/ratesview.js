// What each zone gets, what it comes to against the same rate everywhere, what a
// terminal would say, and the cautions.

import { h } from "../map/dom.js";
import { factList, section, tableOf } from "../report/section.js";
import { amount, rateText } from "./measures.js";
import { notes, zoneMark } from "./view.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/zones.js").Rates} Rates
 */

/** @param {App} app @param {Rates} r @param {string} [id] */
export function ratesSection(app, r, id = "rates") {
	const { t, units } = app;
	const cost = r.cost > 0;
	const nitrogen = r.zones.some((z) => z.n_kg_per_ha > 0);
	const heads = [t("zones.zone_head"), `${t("zones.rate")}#`, t("zones.held"), `${t("block.area")}#`, `${t("zones.quantity")}#`, ...(cost ? [`${t("zones.cost")}#`] : []), ...(nitrogen ? [`${t("zones.nitrogen_per_ha")}#`] : [])];
	const rows = r.zones.map((z) => [zoneMark(app, z.zone), rateText(app, z.rate, r.unit), z.bound ? t("zones.bound", { asked: rateText(app, z.asked, r.unit), why: z.bound }) : t("value.none"),
		units.text("area", z.area_m2), amount(app, z.quantity, r.measure), ...(cost ? [money(app, z.cost)] : []), ...(nitrogen ? [t.number(z.n_kg_per_ha, 1)] : [])]);
	rows.push([h("strong", {}, t("zones.in_all")), rateText(app, r.mean, r.unit), t("zones.mean"), units.text("area", r.area_m2), amount(app, r.total, r.measure), ...(cost ? [money(app, r.cost)] : []), ...(nitrogen ? [""] : [])]);
	return section(id, t("zones.rates_of", { material: r.material, aim: t(`zones.aim_${r.aim.replaceAll(" ", "_")}`).toLowerCase() }),
		tableOf(t("zones.rates_caption"), heads, rows), uniform(app, r, cost), notes(r.notes));
}

/** @param {App} app @param {number} n */
function money(app, n) {
	return app.t.number(n, n < 100 ? 2 : 0).replace("-", "\u2212");
}

/** @param {App} app @param {Rates} r @param {boolean} cost */
function uniform(app, r, cost) {
	const { t } = app;
	const sign = (/** @type {number} */ n, /** @type {string} */ text) => (n > 0 ? `+${text}` : text);
	return factList([
		[t("zones.uniform"), rateText(app, r.uniform.rate, r.unit)],
		[t("zones.uniform_total"), amount(app, r.uniform.total, r.measure)],
		[t("zones.against"), sign(r.uniform.more, amount(app, r.uniform.more, r.measure))],
		[t("zones.against_cost"), cost && sign(r.uniform.more_cost, money(app, r.uniform.more_cost))],
	]);
}

/** What is mended before a file is written, and what a terminal would turn down. @param {App} app @param {Rates} r */
export function checkSection(app, r) {
	const { t } = app;
	const list = (/** @type {string} */ title, /** @type {string[]} */ lines) => [h("h3", {}, title), notes(lines)];
	return section("check", t("zones.check"),
		...(r.terminal.length ? list(t("zones.turned_down"), r.terminal) : [h("p", {}, t("zones.check_clean"))]),
		...(r.mended.length ? list(t("zones.mended"), r.mended) : [h("p", {}, t("zones.nothing_mended"))]));
}

/** @param {App} app @param {string[]} cautions of the material; empty: those that hold for any */
export function cautionsSection(app, cautions) {
	const { t } = app;
	return h("section", { class: "part cautions", id: "cautions", "aria-labelledby": "cautions-title" }, h("h2", { id: "cautions-title" }, t("zones.cautions")),
		h("ul", { class: "sentences" }, ...(cautions.length ? cautions : [t("zones.caution")]).map((text) => h("li", {}, text)), h("li", {}, t("zones.caution_machine"))));
}
