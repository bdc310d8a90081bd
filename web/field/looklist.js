// Lists of gaps to look at: the card in the list of work, the rows of one list, and
// the places of one row with what is known of them.

import { daysBetween, dueOn } from "../lib/gapanswers.js";
import { wordKey } from "../lib/replants.js";
import { today } from "./homescreen.js";
import { lastSaid, lookAt, lookListsOf, lookSpot, undoSaid } from "./lookacts.js";
import { lookSpots, lookTally } from "./lookwalk.js";
import { h, icon, para, tap, title } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./lookacts.js").Looking} Looking
 * @typedef {import("./lookwalk.js").LookSpot} LookSpot
 */

/** @param {App} app */
export function lookCards(app) {
	const { t } = app;
	return lookListsOf(app).map((list) => {
		const sum = lookTally(lookSpots(list, app.ledger));
		return h("button", { type: "button", class: `tap card${sum.open ? "" : " finished"}`, data: { key: `look-${list.id}` }, on: { click: () => app.go(`#look=${list.id}`) } },
			h("span", { class: "card-title" }, t("look.card", { n: sum.number, block: list.code })),
			app.settings.crew === "" && list.crew ? h("span", {}, list.crew) : null,
			h("span", { class: "strong" }, tallyText(app, sum)));
	});
}

/** @param {App} app @param {ReturnType<typeof lookTally>} sum */
function tallyText({ t }, sum) {
	return [sum.open ? t("look.open", { n: sum.open }) : t("home.all_done"), sum.later ? t("look.later", { n: sum.later }) : ""].filter(Boolean).join(", ");
}

/** The rows of a list. @param {App} app @param {Looking} here */
export function lookRows(app, here) {
	const { t } = app;
	const sum = lookTally(here.spots);
	return [
		title(t("look.card", { n: sum.number, block: here.list.code })),
		para(tallyText(app, sum), "strong"),
		para(t("look.how")),
		h("div", { class: "stack" }, ...here.list.rows.map((row) => {
			const mine = lookTally(here.spots.filter((s) => s.row === row));
			return h("button", { type: "button", class: `tap card${mine.open ? "" : " finished"}`, data: { key: `look-row-${row.row}` }, on: { click: () => app.go(`#look=${here.list.id}&row=${row.row}`) } },
				h("span", { class: "card-title" }, t("row.name", { block: here.list.code, row: row.label })),
				h("span", {}, t(row.start === "far" ? "weigh.enter_far" : "weigh.enter_near")),
				h("span", { class: "strong" }, tallyText(app, mine)));
		})),
		h("section", { class: "cautions" }, h("h2", {}, t("caution.title")), h("ul", {}, h("li", {}, t("look.late_buds")), ...["cold", "slope", "machines", "alone", "rules"].map((k) => h("li", {}, t(`caution.${k}`))))),
		h("div", { class: "dock weigh-dock" }, h("div", { class: "hand" }, goOn(app, here), h("div", { class: "beside" }, undoWord(app, here)))),
	];
}

/** @param {App} app @param {Looking} here */
function goOn(app, here) {
	const { t } = app;
	const spot = lookSpot(here);
	if (!spot || !lookTally(here.spots).open) return tap(t("weigh.finished"), "done", () => app.go("#"), { key: "look-finished", class: "main" });
	return tap(t("weigh.go_on", { row: spot.row.label, number: String(spot.number) }), "look", async () => {
		await lookAt(app, here, spot.id); // after the end of a walk, what was passed by is open still
		app.go(`#look=${here.list.id}&at=place`);
	}, { key: "look-go", class: "main" });
}

/** The places of one row. @param {App} app @param {Looking} here @param {import("./types.js").LookRow} row */
export function lookRow(app, here, row) {
	const { t } = app;
	return [
		title(t("row.name", { block: here.list.code, row: row.label })),
		para(t(row.start === "far" ? "weigh.enter_far" : "weigh.enter_near")),
		h("div", { class: "stack" }, ...here.spots.filter((s) => s.row === row).map((s) => h("button", { type: "button", class: "tap weigh-vine", data: { key: `place-${s.id}`, how: s.how }, on: { click: async () => {
			await lookAt(app, here, s.id);
			app.go(`#look=${here.list.id}&at=place`);
		} } }, h("span", { class: "weigh-number" }, t("end.go_to", { number: String(s.number) })), h("span", {}, standsText(app, s)), s.how === "settled" ? icon("done") : null))),
	];
}

/** What is taken to stand at a place, and when to look again, in words. @param {App} app @param {LookSpot} s */
export function standsText(app, s) {
	const { t } = app;
	if (!s.state) return t("look.taken_back");
	return [t(`state.${wordKey(s.state)}`), s.look_again ? dueText(app, s.look_again) : "", s.differ && !s.mine ? t("look.differ") : ""].filter(Boolean).join(", ");
}

/** @param {App} app @param {string} day */
function dueText({ t }, day) {
	const now = today();
	const n = daysBetween(day, now);
	return { later: t("look.on", { day: t.date(day) }), today: t("look.today"), overdue: t("look.overdue", { day: t.date(day), n }) }[dueOn(day, now)];
}

/** Always in sight; says what it would take back. @param {App} app @param {Looking} here */
export function undoWord(app, here) {
	const last = lastSaid(app, here);
	const spot = last && here.spots.find((s) => s.id === last.event.vines?.[0]);
	return h("button", { type: "button", class: "tap small", disabled: !last, data: { key: "undo" }, "aria-label": `${app.t("row.undo")} ${spot?.number ?? ""}`.trim(), on: { click: async () => {
		if (!(await undoSaid(app, here))) return;
		const place = `#look=${here.list.id}&at=place`;
		if (location.hash === place) app.draw();
		else app.go(place);
	} } }, icon("undo"), h("span", {}, app.t("row.undo")));
}
