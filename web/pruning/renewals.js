// Renewals over several winters: what falls due in this one, vine by vine.

import { section, tableOf } from "../report/section.js";
import { reading } from "./reading.js";
import { vineLink } from "./vinelink.js";

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 */
export function mountRenewals({ app, about }, place) {
	const { t } = app;
	const { block, season } = about.get();
	const id = app.blocks.get().list.find((b) => b.code === block || String(b.id) === block)?.id ?? 0;
	return reading(app, place, {
		ask: (signal) => app.api.renewals(block, season, signal),
		draw: ({ vines }) => [vines?.length
			? section("renewals", t("renewal.due", { n: vines.length }), tableOf(t("renewal.due_caption"), [t("table.vine"), t("renewal.arm"), t("renewal.step")], vines.map((v) => [vineLink(app, season, id, v.id, v.address), t.has(`arm.${v.arm}`) ? t(`arm.${v.arm}`) : v.arm, v.text])))
			: null],
		loading: "renewal.loading", mark: "renewals",
	});
}
