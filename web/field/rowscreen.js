// In a row: where, what to leave, done.

import { agree, done, indexOf, skip, undo } from "./acts.js";
import { slotText, swatch } from "./homescreen.js";
import { sayInstruction, sayMark, sayOperation } from "./say.js";
import { h, icon, para, tap, title } from "./ui.js";
import { DONE, SKIPPED, alive, tally } from "./walk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./acts.js").Here} Here
 */

/** Address of a screen that belongs to this row. @param {Here} here @param {string} [screen] */
export const inRow = (here, screen = "") => `#row=${here.row.row}&order=${here.order.id}${screen ? `&at=${screen}` : ""}`;

/** @param {Here} here @param {App} app */
export const nameOf = (app, here) => app.t("row.name", { block: here.row.code, row: here.row.label });

/** @param {App} app @param {Here} here */
export function rowScreen(app, here) {
	if (!here.walk.spots.length) return [title(nameOf(app, here)), para(app.t("row.empty"), "large")];
	if (here.state.ask) return gapScreen(app, here);
	const sum = tally(here.walk);
	if (here.state.ended || sum.left + sum.skipped === 0) return endScreen(app, here);
	return vineScreen(app, here);
}

/** @param {App} app @param {Here} here */
function vineScreen(app, here) {
	const { t } = app;
	const spot = here.walk.spots[indexOf(here)];
	const main = spot.progress === DONE ? t("row.done_already") : t(here.order.operation === "pruning" ? "row.done" : "row.work_done");
	return [
		h("div", { class: "where" },
			title(nameOf(app, here)),
			h("p", { class: "counter", data: { number: spot.number } }, h("span", { class: "out-of-sight" }, t("row.vine")), h("span", { class: "huge" }, t.number(spot.number)), h("span", { class: "of" }, t("row.of", { last: here.walk.last }))),
			h("p", { class: "slot strong" }, slotText(app, here.walk, spot.number) || t(here.walk.far ? "row.from_far" : "row.from_near"))),
		whatTo(app, here, spot),
		h("div", { class: "dock" },
			h("div", { class: "thirds" },
				tap(t("row.mark"), "mark", () => app.go(inRow(here, "mark")), { key: "mark", class: "small" }),
				tap(t("row.other"), "other", () => app.go(inRow(here, here.order.operation === "pruning" ? "left" : "note")), { key: "other", class: "small" }),
				tap(t("row.more"), "more", () => app.go(inRow(here, "more")), { key: "more", class: "small" })),
			h("div", { class: "hand" },
				tap(main, "done", async () => {
					if (await done(app, here)) told(app, here, "done", spot.number);
				}, { key: "done", class: "main" }),
				h("div", { class: "beside" },
					tap(t("row.skip"), "skip", async () => {
						if (await skip(app, here)) told(app, here, "skipped", spot.number);
					}, { key: "skip", class: "small" }),
					undoButton(app, here)))),
	];
}

/** @param {App} app @param {Here} here @param {"done" | "skipped"} what @param {number} number */
function told(app, here, what, number) {
	app.said = app.t(`row.said_${what}`, { number: String(number) });
	app.draw();
	void here;
}

/** Always in sight; says what it would take back. @param {App} app @param {Here} here */
export function undoButton(app, here) {
	const last = app.ledger.last(here.row.row);
	const numbers = last?.event.vines?.map((id) => here.walk.spots.find((s) => s.id === id)?.number).filter((n) => n !== undefined) ?? [];
	const what = numbers.length === 1 ? String(numbers[0]) : numbers.length ? `${numbers[0]}–${numbers[numbers.length - 1]}` : "";
	return h("button", { type: "button", class: "tap small", disabled: !last, data: { key: "undo" }, "aria-label": `${app.t("row.undo")} ${what}`.trim(), on: { click: async () => {
		if (await undo(app, here)) app.draw();
	} } }, icon("undo"), h("span", {}, app.t("row.undo")));
}

/** One line in large type: what to leave. @param {App} app @param {Here} here @param {import("./walk.js").Spot} spot */
function whatTo(app, here, spot) {
	const { t } = app;
	const line = spot.text >= 0 ? (app.kept?.bundle.texts[spot.text] ?? "") : "";
	const mark = spot.mark >= 0 ? here.row.marks[spot.mark] : "";
	const said = here.order.operation !== "pruning" ? sayOperation(t, here.order.operation) : line ? sayInstruction(t, line) : t("row.nothing_said");
	const condition = { 3: "row.is_weak", 4: "row.is_sick", 8: "row.is_doubtful", 2: "row.is_young", 7: "row.is_young" }[spot.condition];
	return h("div", { class: "what" },
		h("p", { class: "leave" }, said),
		mark || condition || spot.progress === SKIPPED ? h("p", { class: "beside-leave" }, mark ? swatch(mark) : null, [mark ? t("row.tape", { tape: sayMark(t, mark) }) : "", condition ? t(condition) : "", spot.progress === SKIPPED ? t("row.was_skipped") : ""].filter(Boolean).join(" · ")) : null);
}

/** A known gap lies on the way: a point to agree on. @param {App} app @param {Here} here */
function gapScreen(app, here) {
	const { t } = app;
	const ask = /** @type {NonNullable<Here["state"]["ask"]>} */ (here.state.ask);
	const runs = t.runs([[Math.min(ask.first, ask.last), Math.max(ask.first, ask.last)]]);
	return [
		h("div", { class: "where" },
			title(nameOf(app, here)),
			h("p", { class: "slot strong" }, slotText(app, here.walk, ask.first))),
		h("p", { class: "boxed question" }, t("gap.ask", { n: ask.count, where: runs })),
		h("div", { class: "dock" },
			tap(t("gap.no"), "off", () => app.go(inRow(here, "off")), { key: "gap-no" }),
			h("div", { class: "hand" },
				tap(t("gap.yes"), "done", async () => {
					await agree(app, here);
					app.draw();
				}, { key: "gap-yes", class: "main" }),
				h("div", { class: "beside" }, tap(t("row.more"), "more", () => app.go(inRow(here, "more")), { key: "more", class: "small" }), undoButton(app, here)))),
	];
}

/** The last vine is done: does the person stand at the end? @param {App} app @param {Here} here */
function endScreen(app, here) {
	const { t } = app;
	const sum = tally(here.walk);
	const left = here.walk.spots.filter((s) => alive(s) && s.progress !== DONE);
	const next = nextRow(here);
	const last = here.walk.spots.at(-1)?.number ?? 0;
	return [
		h("div", { class: "where" }, title(nameOf(app, here)), h("p", { class: "question boxed" }, t("end.expected", { number: String(last), done: sum.done, n: sum.alive }))),
		left.length ? h("div", { class: "stack" }, para(t("end.left_open", { n: left.length }), "strong"),
			...left.slice(0, 6).map((s) => tap(t("end.go_to", { number: String(s.number) }), "row", () => {
				here.state.ended = false;
				here.state.at = s.number;
				app.draw();
			}, { key: `open-${s.number}` }))) : null,
		h("div", { class: "dock" },
			tap(t("end.not_there"), "off", () => app.go(inRow(here, "off")), { key: "end-no" }),
			h("div", { class: "hand" },
				next
					? tap(t("end.next", { row: next.label }), "done", () => app.go(`#row=${next.row}&order=${here.order.id}`), { key: "next-row", class: "main" })
					: tap(t("end.finished"), "done", () => app.go("#"), { key: "finished", class: "main" }),
				h("div", { class: "beside" }, tap(t("row.more"), "more", () => app.go(inRow(here, "more")), { key: "more", class: "small" }), undoButton(app, here)))),
	];
}

/** The next one in walking order. @param {Here} here */
function nextRow(here) {
	const rows = here.order.rows;
	return rows[rows.indexOf(here.row) + 1] ?? null;
}
