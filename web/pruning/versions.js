// The versions of a plan that were kept, the newest first.

import { button } from "../map/dom.js";
import { dayText } from "../map/history.js";
import { section, tableOf } from "../report/section.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/pruning.js").Plan} plan
 * @param {{to: (id: number) => void}} compare
 */
export function versionsSection(app, plan, compare) {
	const { t } = app;
	const list = plan.versions ?? [];
	if (!list.length) return null;
	const count = (/** @type {number | null} */ n) => (n === null ? t("value.none") : t.number(n));
	const row = (/** @type {import("../lib/pruning.js").Version} */ v) => {
		const now = v.id === plan.plan?.id;
		return [dayText(app, v.made), v.by || t("pruning.nobody"), t.has(`source.${v.source}`) ? t(`source.${v.source}`) : v.source, count(v.vines), count(v.nodes),
			now ? t("versions.now") : button(t("versions.compare"), () => compare.to(v.id), { class: "small", "aria-label": t("versions.compare_long", { day: dayText(app, v.made), who: v.by }), data: { key: `compare-${v.id}` } })];
	};
	return section("versions", t("versions.title"), tableOf(t("versions.caption"), [t("versions.made"), t("versions.by"), t("versions.source"), `${t("patch.vines")}#`, `${t("pruning.each_nodes")}#`, t("versions.what")], list.map(row)));
}
