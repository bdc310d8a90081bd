// What the records teach of the pace of an operation, by training system and kind
// of vine, with its range and what it rests on.

import { h } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";

/** @param {import("../map/app.js").App} app @param {import("./api.js").Rate[]} rates */
export function rateSection(app, rates) {
	const { t } = app;
	if (!rates.length) return section("rates", t("work.rates"), h("p", { class: "state" }, t("work.no_rates")));
	const rows = rates.map((r) => [systemWord(r.system), classWord(t, r.class), t.number(r.per_hour, 1), r.standard ? t("work.planning_figure") : t("work.spread", { low: t.number(r.low, 1), high: t.number(r.high, 1) }), t.number(r.spells), t.number(r.vines), t.number(r.records)]);
	return section("rates", t("work.rates"), h("p", {}, t("work.rates_what")), h("p", { class: "hint" }, t("work.rates_how")),
		tableOf(t("work.rates_caption"), [t("work.system"), t("work.kind_of_vine"), `${t("work.per_hour")}#`, `${t("work.spread_col")}#`, `${t("work.spells")}#`, `${t("work.rate_vines")}#`, `${t("work.records")}#`], rows));
}

/** Systems have names of their own, not texts: double_guyot reads Double guyot. @param {string} [system] */
export function systemWord(system = "") {
	const words = system.replaceAll("_", " ");
	return words.slice(0, 1).toUpperCase() + words.slice(1);
}

/** @param {import("../lib/text.js").Texts} t @param {string} cls */
function classWord(t, cls) {
	const key = `work.class_${cls.replaceAll(" ", "_")}`;
	return t.has(key) ? t(key) : cls;
}
