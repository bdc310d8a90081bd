// Lists of vines to weigh: the card in the list of work, and all vines of one list
// with what was recorded.

import { amountText } from "./amount.js";
import { goTo, spotOf, weighListsOf } from "./weighacts.js";
import { h, para, tap, title } from "./ui.js";
import { standing, weighSpots, weighTally } from "./weighwalk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./weighacts.js").Weighing} Weighing
 * @typedef {import("./weighwalk.js").WeighSpot} WeighSpot
 */

/** @param {App} app */
export function weighCards(app) {
	const { t } = app;
	return weighListsOf(app).map((list) => {
		const sum = weighTally(weighSpots(list, app.ledger));
		return h("button", { type: "button", class: `tap card${sum.open ? "" : " finished"}`, data: { key: `weigh-${list.id}` }, on: { click: () => app.go(`#weigh=${list.id}`) } },
			h("span", { class: "card-title" }, t("weigh.card", { n: sum.number, block: list.code })),
			app.settings.crew === "" && list.crew ? h("span", {}, list.crew) : null,
			h("span", { class: "strong" }, sum.open ? progressText(app, sum) : t("home.all_done")));
	});
}

/** @param {App} app @param {ReturnType<typeof weighTally>} sum */
function progressText({ t }, sum) {
	return [t("weigh.done", { n: sum.weighed }), sum.cannot ? t("weigh.cannot_count", { n: sum.cannot }) : ""].filter(Boolean).join(", ");
}

/** @param {App} app @param {Weighing} here */
export function listScreen(app, here) {
	const { t } = app;
	const sum = weighTally(here.spots);
	const spot = spotOf(here);
	const next = spot && sum.open ? tap(t("weigh.go_on", { row: spot.row.label, number: String(spot.number) }), "scale", () => app.go(`#weigh=${here.list.id}&at=vine`), { key: "weigh-go", class: "main" }) : tap(t("weigh.finished"), "done", () => app.go("#"), { key: "weigh-finished", class: "main" });
	return [
		title(t("weigh.card", { n: sum.number, block: here.list.code })),
		para(progressText(app, sum), "strong"),
		para(t("weigh.how")),
		...here.list.rows.map((row) => {
			const mine = here.spots.filter((s) => s.row === row);
			return h("section", { class: "weigh-row" },
				h("h2", {}, t("row.name", { block: here.list.code, row: row.label })), para(t(row.start === "far" ? "weigh.enter_far" : "weigh.enter_near")),
				h("div", { class: "stack" }, ...mine.map((s) => vineButton(app, here, s))));
		}),
		h("section", { class: "cautions" }, h("h2", {}, t("caution.title")), h("ul", {}, ...["cold", "slope", "machines", "alone", "rules"].map((k) => h("li", {}, t(`caution.${k}`))))),
		h("div", { class: "dock" }, next),
	];
}

/** @param {App} app @param {Weighing} here @param {WeighSpot} s */
function vineButton(app, here, s) {
	const { t } = app;
	const how = standing(s);
	return h("button", { type: "button", class: "tap weigh-vine", data: { key: `vine-${s.id}`, how }, on: { click: async () => {
		await goTo(app, here, s.id);
		app.go(`#weigh=${here.list.id}&at=vine`);
	} } },
		h("span", { class: "weigh-number" }, t("end.go_to", { number: String(s.number) })),
		h("span", {}, recordedText(app, s, here.state.unit)));
}

/** What is recorded of a vine, in words. @param {App} app @param {WeighSpot} s @param {string} unit */
export function recordedText({ t }, s, unit) {
	const how = standing(s);
	return how === "weighed" ? amountText(t, "pruning_weight", s.grams, unit) : t(`weigh.is_${how}`);
}
