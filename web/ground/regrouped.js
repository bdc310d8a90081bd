// What a split or a join of blocks would come to: on the map and in words.

import { h } from "../map/dom.js";
import { squares } from "./blockpart.js";

/** @typedef {import("./main.js").Ground} Ground */
/** @typedef {import("./api.js").Regrouped} Regrouped */

/** The rows that change their block, and the blocks as they are to be. @param {Regrouped} r @param {(code: string) => boolean} goes @returns {import("../lib/drawnshapes.js").Shown} */
export const shownOf = (r, goes) => ({ rows: r.rows, points: null, outline: [], parts: r.parts.map((p) => ({ code: p.code, goes: goes(p.code), outline: p.outline })) });

/** @param {Ground} page @param {Regrouped} r */
export function regroupedWords({ t, units }, r) {
	const cut = r.rows.filter((row) => row.stay > 0).length;
	const facts = [[t("ground.fact_goes"), t.number(r.vines)], ...r.parts.map((p) => [t("ground.fact_part", { code: p.code }),
		t(p.area_m2 ? "ground.part_facts" : "ground.part_bare", { rows: t.number(p.rows), vines: t.number(p.vines), area: squares(t, units, p.area_m2) })])];
	const carried = r.carry.map((c) => t(`ground.carry_${c.what}`, { n: c.count }));
	return [
		h("dl", { class: "facts" }, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])),
		cut ? h("p", {}, t("ground.cut_rows", { n: cut })) : null,
		carried.length ? h("p", {}, t("ground.carried", { list: new Intl.ListFormat(t.language).format(carried) })) : null,
		...r.words.map((w) => h("p", { class: "trouble" }, `${w[0].toUpperCase()}${w.slice(1)}.`)),
		r.rows.length ? h("div", { class: "scroller", role: "region", tabindex: "0", "aria-label": t("ground.regrouped_caption") },
			h("table", {}, h("caption", {}, t("ground.regrouped_caption")),
				h("thead", {}, h("tr", {}, ...["ground.row_now", "ground.row_was", "ground.row_goes", "ground.row_stays"].map((k) => h("th", { scope: "col" }, t(k))))),
				h("tbody", {}, ...r.rows.map((row) => h("tr", {}, h("th", { scope: "row" }, row.label), h("td", {}, row.was), h("td", { class: "n" }, t.number(row.vines)), h("td", { class: "n" }, t.number(row.stay))))))) : null,
	];
}
