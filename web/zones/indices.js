// How many zones: what speaks for two, three or more, side by side.

import { button, h } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { notes } from "./view.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/zones.js").View["advice"]} advice
 * @param {number} now zones asked for
 * @param {(zones: number) => void} take
 */
export function indicesSection(app, advice, now, take) {
	const { t } = app;
	const best = (/** @type {boolean} */ is) => (is ? h("span", { class: "tag" }, t("zones.best")) : null);
	const heads = [t("zones.number"), `${t("zones.explained")}#`, `${t("zones.performance")}#`, `${t("zones.entropy")}#`, `${t("zones.entropy_modified")}#`, t("zones.use")];
	const rows = advice.indices.map((i) => {
		const none = i.refused ? t("value.none") : null;
		return [t("zones.count", { n: i.zones }), none ?? t.percent(i.explained, 1), h("span", {}, none ?? t.fixed(i.performance, 3), best(i.zones === advice.by_performance)), h("span", {}, none ?? t.fixed(i.entropy, 3), best(i.zones === advice.by_entropy)), none ?? t.fixed(i.modified_entropy, 3),
			i.refused ? i.refused : i.zones === now ? t("zones.chosen") : button(t("zones.use_long", { n: i.zones }), () => take(i.zones), { class: "small", data: { key: `use-${i.zones}` } })];
	});
	return section("indices", t("zones.how_many"), notes(advice.text), tableOf(t("zones.indices_caption", { n: advice.points }), heads, rows), h("p", { class: "hint" }, t("zones.indices_hint")));
}
