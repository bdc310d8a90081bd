// The places to look at on the phones.

import { handOverSection } from "../report/handover.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {number} block
 * @param {number} season
 * @param {() => number[]} places those that the list on the page shows
 */
export function reviewPhones(app, block, season, places) {
	const { t, api } = app;
	return handOverSection(app, {
		season,
		number: () => places().length,
		lists: (signal) => api.handedReviews(block, season, signal),
		give: (crew) => api.handOverReview({ by: app.by.get(), season, block, crew, vines: places() }),
		withdraw: (id) => api.withdrawReview(id),
		done: (one) => one.done + one.later,
		words: {
			about: t("review.phones_how"),
			give: (n) => t("review.hand_over", { n }),
			given: (n) => t("review.handed_over", { n }),
			withdrawn: t("review.withdrawn"),
			name: (one) => t("review.handed_to", { n: one.number, crew: one.crew || t("weigh.all_crews") }),
			done: (one) => t("review.handed_done", { n: one.done }) + (one.later ? `, ${t("review.handed_later", { n: one.later })}` : ""),
		},
	});
}
