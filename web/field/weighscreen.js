// One vine to weigh after the other: which it is, from which end, its weight on
// large keys.

import { amountText, unitFor } from "./amount.js";
import { amountPad } from "./amountpad.js";
import { slotText } from "./homescreen.js";
import { h, icon, para, tap, title } from "./ui.js";
import { CANNOT, enterList, indexIn, keepHere, lastKept, spotOf, undoLast, useUnit, weighListOf } from "./weighacts.js";
import { listScreen, recordedText } from "./weighlist.js";
import { placesIn, standing, walkOfWeighRow } from "./weighwalk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./weighacts.js").Weighing} Weighing
 * @typedef {import("./weighwalk.js").WeighSpot} WeighSpot
 */

/** @param {App} app @param {URLSearchParams} words of the address */
export async function weighScreen(app, words) {
	const list = weighListOf(app, words.get("weigh") ?? "");
	if (!list) return { name: "weigh", back: "#", nodes: [title(app.t("weigh.gone")), para(app.t(app.kept ? "weigh.gone_how" : "home.nothing_yet"), "large")] };
	const here = await enterList(app, list);
	const back = `#weigh=${list.id}`;
	const at = words.get("at");
	if (!here.spots.length || !at || (at === "vine" && here.state.ended)) return { name: "weigh", back: "#", nodes: listScreen(app, here) };
	if (at === "cannot") return { name: "weigh-cannot", back: `${back}&at=vine`, nodes: cannotScreen(app, here) };
	return { name: "weigh-vine", back, nodes: vineScreen(app, here) };
}

/** @param {App} app @param {Weighing} here */
function vineScreen(app, here) {
	const { t } = app;
	const spot = spotOf(here);
	const pad = amountPad(app, {
		what: () => ({ quantity: "pruning_weight", unit: unitFor("pruning_weight", here.state.unit, false), spacingM: here.list.vine_spacing_m, scale: "" }),
		onUnit: (unit) => useUnit(app, here, unit),
		keep: async (value) => {
			if (await keepHere(app, here, [{ kind: "measure", value }])) told(app, here, spot, amountText(t, "pruning_weight", value.value, here.state.unit));
		},
	});
	return [
		h("div", { class: "where" },
			title(t("row.name", { block: here.list.code, row: spot.row.label })),
			h("p", { class: "counter", data: { number: spot.number, vine: spot.id } }, h("span", { class: "out-of-sight" }, t("row.vine")), h("span", { class: "huge" }, t.number(spot.number)), h("span", { class: "of" }, t("row.of", { last: spot.row.last }))),
			h("p", { class: "slot strong" }, whereText(app, spot)),
			para(standing(spot) === "open" ? "" : t("weigh.recorded", { what: recordedText(app, spot, here.state.unit) }), "strong"),
			pad.said),
		h("div", { class: "dock weigh-dock" },
			pad.numbers,
			h("div", { class: "hand" }, pad.save,
				h("div", { class: "beside" },
					tap(t("weigh.cannot"), "skip", () => app.go(`#weigh=${here.list.id}&at=cannot`), { key: "cannot", class: "small" }),
					undoButton(app, here)))),
	];
}

/** Section and slot, or the count of places, always from a named end. @param {App} app @param {WeighSpot} spot */
function whereText(app, spot) {
	const { t } = app;
	const far = spot.row.start === "far";
	const slot = slotText(app, walkOfWeighRow(spot.row), spot.number);
	const places = t("weigh.places", { nth: t.ordinal(placesIn(spot)) });
	return t(far ? "weigh.from_far" : "weigh.from_near", { where: slot || places });
}

/** Says what was kept, and where the next vine stands if it is in another row. @param {App} app @param {Weighing} here @param {WeighSpot} from @param {string} what */
function told(app, here, from, what) {
	const { t } = app;
	const next = spotOf(here);
	const more = here.state.ended ? t("weigh.all_said") : next.row.row === from.row.row ? "" : t("weigh.next_row", { row: next.row.label });
	app.said = [t("weigh.said", { number: String(from.number), what }), more].filter(Boolean).join(" ");
	if (here.state.ended) app.go(`#weigh=${here.list.id}`);
	else if (location.hash === `#weigh=${here.list.id}&at=vine`) app.draw();
	else app.go(`#weigh=${here.list.id}&at=vine`);
}

/** Always in sight; says what it would take back. @param {App} app @param {Weighing} here */
function undoButton(app, here) {
	const [last] = lastKept(app, here);
	const spot = last && here.spots.find((s) => s.id === last.event.vines?.[0]);
	return h("button", { type: "button", class: "tap small", disabled: !last, data: { key: "undo" }, "aria-label": `${app.t("row.undo")} ${spot?.number ?? ""}`.trim(), on: { click: async () => {
		if (await undoLast(app, here)) app.draw();
	} } }, icon("undo"), h("span", {}, app.t("row.undo")));
}

/** Why the vine in front cannot be weighed. @param {App} app @param {Weighing} here */
function cannotScreen(app, here) {
	const { t } = app;
	const spot = here.spots[indexIn(here)];
	const choose = async (/** @type {keyof typeof CANNOT} */ why) => {
		if (await keepHere(app, here, CANNOT[why])) told(app, here, spot, t(`cannot.${why}`));
	};
	return [
		title(t("cannot.title", { row: spot.row.label, number: String(spot.number) })),
		h("div", { class: "stack" }, ...(/** @type {const} */ (["missing", "dead", "pruned"])).map((why) => tap(t(`cannot.${why}`), why === "pruned" ? "done" : why, () => choose(why), { key: `cannot-${why}`, class: "tall" }))),
		para(t("cannot.how")),
	];
}
