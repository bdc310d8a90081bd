// Vines that a person decided for.

import { h } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { vineLink } from "./vinelink.js";

/** @param {import("../map/app.js").App} app @param {import("../lib/pruning.js").Plan} plan */
export function overrideList(app, plan) {
	const { t } = app;
	const list = plan.overrides ?? [];
	if (!list.length) return null;
	const number = (/** @type {number} */ n) => (n < 0 ? t("override.as_computed") : t.number(n));
	return section("overrides", t("override.list", { n: list.length }), h("div", { class: "wrapping" }, tableOf(t("override.caption"), [t("table.vine"), `${t("pruning.each_nodes")}#`, `${t("pruning.each_canes")}#`, t("override.by"), t("override.reason")],
		list.map((o) => [vineLink(app, plan.season, plan.block, o.vine, o.address), number(o.nodes), number(o.canes), o.by, o.reason]))));
}
