// Values that are possible, but unlike the others: to be looked at again.

import { h } from "../map/dom.js";
import { testedText } from "../map/patchfacts.js";
import { vinePath } from "./links.js";
import { section, tableOf } from "./section.js";

/** So many are in sight at once; the rest is folded away. */
const IN_SIGHT = 8;

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/findings.js").BlockFindings} found
 */
export function unlikelySection(app, found) {
	const { t } = app;
	const list = found.vigour?.unlikely ?? [];
	if (!list.length) return null;
	const heads = [t("table.vine"), t("record.quantity"), `${t("report.value")}#`, t("report.why_unlikely")];
	const row = (/** @type {import("../lib/findings.js").Oddity} */ o) => [
		h("a", { href: vinePath(found.season, found.block, { id: o.id }) }, o.address),
		t.has(`quantity.${o.quantity}`) ? t(`quantity.${o.quantity}`) : o.quantity, o.unit === "score" || o.unit === "index" || o.unit === "canes" ? t.number(o.value, 2) : testedText(app, o.unit, o.value), o.why,
	];
	const table = (/** @type {typeof list} */ some) => tableOf(t("report.unlikely"), heads, some.map(row));
	return section("unlikely", t("report.unlikely"), h("p", {}, t("report.unlikely_how", { n: list.length })),
		h("div", { class: "wrapping" }, table(list.slice(0, IN_SIGHT))),
		list.length > IN_SIGHT ? h("details", { class: "beside wrapping" }, h("summary", {}, t("report.unlikely_more", { n: list.length - IN_SIGHT })), table(list.slice(IN_SIGHT))) : null);
}
