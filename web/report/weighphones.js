// The list of vines to weigh on the phones.

import { handOverSection } from "./handover.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/findings.js").Weighing} list the one that is shown on the page
 * @param {() => string} unit that weights are written in
 */
export function weighPhones(app, list, unit) {
	const { t, api } = app;
	return handOverSection(app, {
		season: list.season,
		number: () => list.vines.length,
		lists: (signal) => api.handedLists(list.block, list.season, signal),
		give: (crew) => api.handOver({ by: app.by.get(), season: list.season, block: list.block, crew, unit: unit(), vines: list.vines.map((v) => v.id) }),
		withdraw: (id) => api.withdrawHanded(id),
		done: (one) => one.done + one.skipped,
		words: {
			about: t("weigh.phones_how"),
			give: (n) => t("weigh.hand_over", { n }),
			given: (n) => t("weigh.handed_over", { n }),
			withdrawn: t("weigh.withdrawn"),
			name: (one) => t("weigh.handed_to", { n: one.number, crew: one.crew || t("weigh.all_crews"), unit: t(`unit.${one.unit}`) }),
			done: (one) => t("weigh.handed_done", { n: one.done }) + (one.skipped ? `, ${t("weigh.handed_skipped", { n: one.skipped })}` : ""),
		},
	});
}
