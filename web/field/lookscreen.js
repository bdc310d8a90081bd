// One place after the other: which it is, what is known of it, and what stands there,
// said with one tap.

import { ANSWERS, lookAgain } from "../lib/gapanswers.js";
import { wordKey } from "../lib/replants.js";
import { slotText } from "./homescreen.js";
import { answerHere, enterLook, lookListOf, lookSpot, passBy } from "./lookacts.js";
import { lookRow, lookRows, standsText, undoWord } from "./looklist.js";
import { h, para, tap, title } from "./ui.js";
import { placesIn, walkOfWeighRow } from "./weighwalk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./lookacts.js").Looking} Looking
 * @typedef {import("./lookwalk.js").LookSpot} LookSpot
 */

/** @type {Record<string, keyof typeof import("./icons.js").ICONS>} */
const DRAWN = { missing: "missing", "dead standing": "dead", "dead above graft": "graft", living: "alive" };

/** @param {App} app @param {URLSearchParams} words of the address */
export async function lookScreen(app, words) {
	const list = lookListOf(app, words.get("look") ?? "");
	if (!list) return { name: "look", back: "#", nodes: [title(app.t("weigh.gone")), para(app.t(app.kept ? "look.gone_how" : "home.nothing_yet"), "large")] };
	const here = await enterLook(app, list);
	const row = list.rows.find((r) => r.row === Number(words.get("row")));
	if (row) return { name: "look", back: `#look=${list.id}`, nodes: lookRow(app, here, row) };
	if (!here.spots.length || words.get("at") !== "place" || here.state.ended) return { name: "look", back: "#", nodes: lookRows(app, here) };
	return { name: "look-place", back: `#look=${list.id}&row=${lookSpot(here).row.row}`, nodes: placeScreen(app, here) };
}

/** @param {App} app @param {Looking} here */
function placeScreen(app, here) {
	const { t } = app;
	const spot = lookSpot(here);
	const answer = async (/** @type {Record<string, any>} */ value, /** @type {string} */ what) => {
		if (await answerHere(app, here, value)) told(app, here, spot, t("weigh.said", { number: String(spot.number), what }));
	};
	return [
		h("div", { class: "where" },
			title(t("row.name", { block: here.list.code, row: spot.row.label })),
			h("p", { class: "counter", data: { number: spot.number, vine: spot.id } }, h("span", { class: "out-of-sight" }, t("row.vine")), h("span", { class: "huge" }, t.number(spot.number)), h("span", { class: "of" }, t("row.of", { last: spot.row.last }))),
			h("p", { class: "slot strong" }, whereText(app, spot))),
		known(app, spot),
		h("div", { class: "dock look-dock" },
			h("div", { class: "halves" }, ...ANSWERS.map(([state, value]) => tap(t(`state.${wordKey(state)}`), DRAWN[state], () => answer(value, t(`state.${wordKey(state)}`)), { key: `say-${wordKey(state)}`, class: "tall" }))),
			h("div", { class: "thirds" },
				tap(t("look.again_short"), "look", () => answer(lookAgain(), t("look.again")), { key: "say-again", class: "small", "aria-label": t("look.again") }),
				tap(t("look.pass"), "skip", async () => {
					await passBy(app, here);
					told(app, here, spot, "");
				}, { key: "look-pass", class: "small" }),
				undoWord(app, here))),
	];
}

/** What is known of the place, by each source; or what was said here. @param {App} app @param {LookSpot} spot */
function known(app, spot) {
	const { t } = app;
	return h("div", { class: "what look-known" },
		h("p", { class: "leave" }, t(spot.mine && spot.state ? "weigh.recorded" : "look.taken", { what: standsText(app, spot) })),
		...(spot.mine ? [] : spot.said.map((s) => para(t("look.by", { source: t(`source.${wordKey(s.source)}`), state: t(`state.${wordKey(s.state)}`), day: t.date(s.day) })))));
}

/** Section and slot, or the count of places, always from a named end. @param {App} app @param {LookSpot} spot */
function whereText(app, spot) {
	const { t } = app;
	const slot = slotText(app, walkOfWeighRow(spot.row), spot.number);
	return t(spot.row.start === "far" ? "weigh.from_far" : "weigh.from_near", { where: slot || t("weigh.places", { nth: t.ordinal(placesIn(spot)) }) });
}

/** Says what was kept, and where the next place is if it is in another row. @param {App} app @param {Looking} here @param {LookSpot} from @param {string} what */
function told(app, here, from, what) {
	const { t } = app;
	const next = lookSpot(here);
	const more = here.state.ended ? t("weigh.all_said") : next.row.row === from.row.row ? "" : t("weigh.next_row", { row: next.row.label });
	app.said = [what, more].filter(Boolean).join(" ");
	if (here.state.ended) app.go(`#look=${here.list.id}`);
	else app.draw();
}
