// Today's orders, and the rows of one order.

import { hazardsOf } from "../lib/cautions.js";
import { ordersOf } from "./app.js";
import { refresh } from "./bundle.js";
import { look } from "./acts.js";
import { lookListsOf } from "./lookacts.js";
import { lookCards } from "./looklist.js";
import { sayInstruction, sayMark, sayOperation } from "./say.js";
import { h, para, tap, title } from "./ui.js";
import { runsOf, slotOf, tally } from "./walk.js";
import { weighListsOf } from "./weighacts.js";
import { weighCards } from "./weighlist.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./types.js").Order} Order
 * @typedef {import("./types.js").FieldRow} FieldRow
 */

/** Today by this phone, as orders write days. */
export function today(now = new Date()) {
	return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, "0")}-${String(now.getDate()).padStart(2, "0")}`;
}

/** Today's first, then earlier ones with work left, then those of any day, then later ones. @param {Order[]} orders @param {string} day */
export function sortOrders(orders, day) {
	const rank = (/** @type {Order} */ o) => (o.day === day ? 0 : o.day === "" ? 2 : o.day < day ? 1 : 3);
	return orders.map((o, i) => ({ o, i })).sort((a, b) => rank(a.o) - rank(b.o) || a.o.day.localeCompare(b.o.day) || a.i - b.i).map(({ o }) => o);
}

/** @param {App} app @param {Order} order @param {FieldRow} row */
function tallyOf(app, order, row) {
	const start = row.start === "far" ? "far" : "near";
	return tally(look(app, order, row, { key: "", at: 0, agreed: null, ask: null, ended: false, start, check: [] }));
}

/** @param {App} app @param {Order} order */
function orderTally(app, order) {
	const sum = { alive: 0, done: 0, skipped: 0, left: 0 };
	for (const row of order.rows) {
		const one = tallyOf(app, order, row);
		for (const k of /** @type {(keyof typeof sum)[]} */ (Object.keys(sum))) sum[k] += one[k];
	}
	return sum;
}

/** @param {App} app @param {Order} order */
function dayOf(app, order) {
	if (order.day === today()) return app.t("home.today");
	return order.day ? app.t.day(order.day) : app.t("home.any_day");
}

/** @param {App} app */
export function homeScreen(app) {
	const { t } = app;
	const orders = sortOrders(ordersOf(app), today());
	const unfinished = app.todo.size;
	return [
		title(t("home.title")),
		newsOf(app),
		h("div", { class: "stack" },
			...orders.map((o) => orderButton(app, o)),
			...weighCards(app),
			...lookCards(app),
			orders.length || weighListsOf(app).length || lookListsOf(app).length ? null : para(t(app.kept ? "home.none" : "home.nothing_yet"), "large"),
			unfinished ? tap(t("todo.count", { n: unfinished }), "mark", () => app.go("#todo"), { key: "todo" }) : null,
			tap(t("home.type_row"), "keys", () => app.go("#type"), { key: "type" }),
			"BarcodeDetector" in window ? tap(t("home.scan"), "scan", () => app.go("#scan"), { key: "scan" }) : null,
			tap(t("home.refresh"), "turn", () => { void refresh(app); void app.outbox.hurry(); }, { key: "refresh" }),
			tap(t("about.title"), "phone", () => app.go("#about"), { key: "about" })),
	];
}

/** How old the list is, and why no newer one came. @param {App} app */
function newsOf(app) {
	const { t, kept } = app;
	const net = app.net.get();
	return h("div", { class: "news", role: "status" },
		para(kept ? t("home.as_of", { time: t.time(kept.at) }) : ""),
		para(net.loading ? t("home.asking") : net.status === 401 || net.status === 403 ? t("home.no_access") : net.trouble && net.status ? t("home.trouble", { why: net.trouble }) : net.trouble ? t("home.no_signal") : ""));
}

/** @param {App} app @param {Order} order */
function orderButton(app, order) {
	const { t } = app;
	const sum = orderTally(app, order);
	return h("button", { type: "button", class: "tap card", data: { key: `order-${order.id}` }, on: { click: () => app.go(`#order=${order.id}`) } },
		h("span", { class: "card-title" }, t("home.order", { what: sayOperation(t, order.operation), block: order.code })),
		h("span", {}, [dayOf(app, order), app.settings.crew === "" ? order.crew : "", order.sick ? t("order.sick") : ""].filter(Boolean).join(" · ")),
		h("span", { class: "strong" }, sum.left ? t("home.left", { n: sum.left, rows: order.rows.length }) : t("home.all_done")));
}

/** @param {App} app @param {Order} order */
export function orderScreen(app, order) {
	const { t } = app;
	return [
		title(t("home.order", { what: sayOperation(t, order.operation), block: order.code })),
		para([dayOf(app, order), order.crew].filter(Boolean).join(" · ")),
		order.sick ? h("p", { class: "boxed strong" }, t("order.sick_how")) : null,
		order.note ? h("p", { class: "boxed" }, order.note) : null,
		h("div", { class: "stack" }, ...order.rows.map((row) => rowButton(app, order, row))),
		keyOf(app, order),
		cautionsOf(app, order),
	];
}

/** @param {App} app @param {Order} order @param {FieldRow} row */
function rowButton(app, order, row) {
	const { t } = app;
	const sum = tallyOf(app, order, row);
	const where = [t(row.start === "far" ? "row.from_far" : "row.from_near"), row.side ? t("order.side", { side: row.side }) : "", partOf(app, row)].filter(Boolean).join(" · ");
	const left = sum.left ? t("home.vines_left", { n: sum.left }) : sum.skipped ? t("order.done_but", { n: sum.skipped }) : t("home.all_done");
	return h("button", { type: "button", class: `tap card${sum.left ? "" : " finished"}`, data: { key: `row-${row.row}` }, on: { click: () => app.go(`#row=${row.row}&order=${order.id}`) } },
		h("span", { class: "card-title" }, t("row.name", { block: row.code, row: row.label })), h("span", {}, where), h("span", { class: "strong" }, left));
}

/** @param {App} app @param {FieldRow} row */
function partOf(app, row) {
	if (!row.vines.length) return "";
	const numbers = row.vines.map((v) => v[0]);
	if (numbers[0] <= 1) return "";
	return app.t("order.part", { from: numbers[0], to: numbers[numbers.length - 1] });
}

/** What hangs in the rows and what most vines under it get; without marks, what is left how often. @param {App} app @param {Order} order */
function keyOf(app, order) {
	const { t } = app;
	/** @type {Map<string, Map<number, number>>} vines by mark and text */
	const marks = new Map();
	for (const row of order.rows)
		for (const [, , , text, , mark] of row.vines) {
			if (text < 0) continue;
			const word = mark >= 0 ? row.marks[mark] : "";
			const texts = marks.get(word) ?? new Map();
			marks.set(word, texts.set(text, (texts.get(text) ?? 0) + 1));
		}
	const lines = [...marks].flatMap(([mark, texts]) => {
		const sorted = [...texts].sort((a, b) => b[1] - a[1]);
		const all = sorted.reduce((n, [, vines]) => n + vines, 0);
		return mark ? [{ mark, text: sorted[0][0], vines: all, mixed: sorted.length > 1 }] : sorted.slice(0, KEY_LINES).map(([text, vines]) => ({ mark, text, vines, mixed: false }));
	});
	if (!lines.length) return null;
	return h("section", {}, h("h2", {}, t("order.key")), h("dl", { class: "key-list" }, ...lines.sort((a, b) => b.vines - a.vines).flatMap((l) => [
		h("dt", {}, swatch(l.mark), l.mark ? sayMark(t, l.mark) : t("order.no_mark")),
		h("dd", {}, l.mixed ? `${t("order.mostly")} ` : "", h("strong", {}, sayInstruction(t, app.kept?.bundle.texts[l.text] ?? "")), ` (${t("order.vines", { n: l.vines })})`)])));
}

/** The colour of a mark beside its word. @param {string} word */
export function swatch(word) {
	return word ? h("span", { class: "swatch", "aria-hidden": "true", data: { mark: word.split(" with ")[0] } }) : null;
}

/** So many instructions are listed where no marks hang. */
const KEY_LINES = 8;

/** @param {App} app @param {Order} order */
function cautionsOf(app, order) {
	const { t } = app;
	return h("section", { class: "cautions" }, h("h2", {}, t("caution.title")), h("ul", {}, ...hazardsOf(order, t.has).map((k) => h("li", {}, t(`caution.${k}`)))));
}

/** "section 7, 3rd of 5", or nothing where sections are not known. @param {App} app @param {import("./walk.js").Walk} walk @param {number} number */
export function slotText(app, walk, number) {
	const slot = slotOf(walk, number);
	return slot ? app.t("row.slot", { section: slot.section, nth: app.t.ordinal(slot.slot), of: slot.of }) : "";
}

/** @param {App} app @param {number[]} numbers */
export const numbersText = (app, numbers) => app.t.runs(runsOf([...numbers].sort((a, b) => a - b)));
