// A filled paper sheet becomes records: rows ticked as done, and the vines that
// were otherwise, by number. Made for the keyboard.

import { sending } from "../lib/once.js";
import { recorder } from "../lib/records.js";
import { uuid7Maker } from "../lib/uuid7.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";
import { dayIn, dayWords, instantOf, isDay } from "./days.js";
import { blame, choice, faultLine, labelled, wholeOf } from "./fields.js";
import { nameOf } from "./head.js";
import { reading } from "./reading.js";
import { faultsOf, livingIn, sheetRecords, vinesOfRun } from "./sheetevents.js";
import { fromText, runText } from "./words.js";

/**
 * @typedef {import("./api.js").Order} Order
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {import("./sheetevents.js").Exception} Exception
 * @typedef {{read: () => Exception | null, element: HTMLElement, number: HTMLInputElement, nodes: HTMLInputElement}} Line
 */

/** The time of day given to what a sheet says was done. */
const NOON = 12;

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountSheet(work, place) {
	const { app, api, about } = work;
	const { t } = app;
	const { season, operation, order } = about.get();
	const body = h("div", { class: "work-body" });
	const parts = reading(app, body, {
		ask: async (signal) => {
			const orders = (await api.orders(season, {}, signal)).filter((o) => o.operation === operation && o.state === "open");
			const chosen = orders.find((o) => o.id === order) ?? null;
			if (chosen) await app.stands.load(chosen.block, season);
			return { orders, chosen };
		},
		draw: ({ orders, chosen }) => (orders.length ? [chooser(work, orders, chosen), chosen ? sheet(work, chosen, /** @type {Stand} */ (app.stands.peek(chosen.block, season)), () => void parts.read(true)) : null] : [h("p", { class: "state", id: "no-orders" }, t("work.no_orders"))]),
		loading: t("work.orders_loading"),
	});
	show(place, h("section", { class: "part", "aria-labelledby": "sheet-title" }, h("h1", { id: "sheet-title" }, t("work.sheet_title")), h("p", {}, t("work.sheet_what"))), body);
	void parts.read(true);
	return { reload: () => {}, stop: parts.stop };
}

/** @param {import("./main.js").Work} work @param {Order[]} orders @param {Order | null} chosen */
function chooser({ app, about }, orders, chosen) {
	const { t } = app;
	const name = (/** @type {Order} */ o) => [o.day ? dayWords(t.language, o.day) : t("work.no_day_set"), o.crew || t("work.no_crew"), t("work.block", { code: o.code }), t("block.rows", { n: o.rows.length }), o.sick ? t("work.sick_last") : ""].filter(Boolean).join(" · ");
	const select = choice("sheet-order", [["", t("work.choose_order")], ...orders.map((o) => /** @type {[string, string]} */ ([o.id, name(o)]))], chosen?.id ?? "");
	select.addEventListener("change", () => about.set({ order: select.value }));
	return h("div", { class: "work-form" }, labelled(t("work.which_order"), select));
}

/** @param {import("./main.js").Work} work @param {Order} order @param {Stand} stand @param {() => void} again */
function sheet({ app, about }, order, stand, again) {
	const { t } = app;
	const rows = rowTicks(app, order, stand);
	const odd = oddVines(app, order);
	const today = dayIn(app.estate.zone, new Date());
	const day = h("input", { id: "sheet-day", type: "date", max: today });
	day.value = order.day && order.day < today ? order.day : today;
	const by = h("input", { id: "sheet-by", maxlength: "80", autocomplete: "off" });
	by.value = order.crew;
	const fault = faultLine("sheet-fault");
	const record = async () => {
		const exceptions = odd.read();
		if (!exceptions) return;
		const wrong = faultsOf(stand, order.rows, exceptions.map((e) => e.value))[0];
		if (wrong) {
			const { line, value } = exceptions[wrong.k];
			const label = order.rows.find((r) => r.row === value.row)?.label ?? "";
			return blame(fault, wrong.why === "no_nodes" ? line.nodes : line.number, t(`work.fault_${wrong.why}`, { number: String(value.number), row: label }));
		}
		const part = rows.wrong();
		if (part) return blame(fault, part.upTo, t("work.fault_no_vine", { row: part.row.label }));
		const done = rows.done();
		if (!done.size && !exceptions.length) return blame(fault, rows.first(), t("work.nothing_ticked"));
		if (!isDay(day.value) || day.value > today) return blame(fault, day, t("work.no_day"));
		if (!by.value.trim()) return blame(fault, by, t("work.who_missing"));
		blame(fault, null);
		// A sheet of today is not in the future, whatever the hour.
		const at = Math.min(instantOf(day.value, NOON, app.estate.zone).getTime(), Date.now());
		const make = recorder({ id: uuid7Maker(), device: app.device, by: () => by.value.trim(), now: () => new Date(at) });
		const events = sheetRecords(stand, order.operation, order.rows, done, exceptions.map((e) => e.value), order.sick).map(({ place, fact }) => make.record(place, order.season, fact));
		if (!events.length) return blame(fault, rows.first(), t("work.nothing_ticked"));
		try {
			const kept = await app.outbox.add(events);
			toast(app, t("work.recorded", { rows: t("block.rows", { n: done.size }), odd: t("work.odd_n", { n: exceptions.length }) }), { act: { label: t("work.undo"), run: () => void app.outbox.add(kept.map((e) => app.recorder.takeBack(e, ""))) } });
			await app.outbox.kick();
			again();
		} catch (error) {
			fault.textContent = t("saved.failed", { why: why(error) });
		}
	};
	// Sending may take a while: pressed again meanwhile, the sheet must not be recorded twice.
	return h("form", { class: "work-sheet", novalidate: true, on: { submit: sending(record) } },
		section("sheet-rows", t("work.sheet_rows", { operation: nameOf(app, about.get().operation), code: order.code }), h("p", { class: "work-facts" }, fromText(app, order)), rows.element),
		section("sheet-odd", t("work.odd_title"), h("p", {}, t("work.odd_what")), odd.element),
		section("sheet-end", t("work.sheet_end"), h("div", { class: "work-form" }, labelled(t("work.sheet_day"), day), labelled(t("record.by"), by, t("work.sheet_by_hint")),
			h("div", { class: "acts" }, h("button", { type: "submit", class: "main", data: { key: "record" } }, t("work.record"))), fault)));
}

/** A tick per row of the order. @param {import("../map/app.js").App} app @param {Order} order @param {Stand} stand */
function rowTicks(app, order, stand) {
	const { t } = app;
	const ticks = order.rows.map((r, k) => {
		const box = h("input", { type: "checkbox", class: "row-done", id: `row-done-${k}`, "aria-label": t("work.row_done", { row: r.label }) });
		const upTo = h("input", { id: `row-to-${k}`, class: "short", inputmode: "numeric", autocomplete: "off", "aria-label": t("work.row_to", { row: r.label }) });
		box.addEventListener("change", () => box.checked && (upTo.value = ""));
		upTo.addEventListener("input", () => upTo.value.trim() && (box.checked = false));
		return { row: r, box, upTo };
	});
	const has = (/** @type {import("./proposal.js").OrderRow} */ row, /** @type {number | null} */ n) => vinesOfRun(stand, row).some((i) => stand.number[i] === n);
	const all = h("input", { type: "checkbox", id: "all-done", "aria-label": t("work.all_rows"), on: { change: () => ticks.forEach((k) => {
		k.box.checked = all.checked;
		if (all.checked) k.upTo.value = "";
	}) } });
	const head = (/** @type {string} */ text, n = false) => h("th", { scope: "col", class: n ? "n" : null }, text);
	const caption = t("work.sheet_caption");
	const element = h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption }, h("table", { class: "work-rows" }, h("caption", {}, caption),
		h("thead", {}, h("tr", {}, h("td", {}, h("label", { class: "pick-all" }, all, h("span", {}, t("work.all_rows")))), head(t("table.row")), head(t("work.vines_run")), head(t("patch.vines"), true), head(t("work.or_to")))),
		h("tbody", {}, ...ticks.map(({ row, box, upTo }) => h("tr", {}, h("td", {}, h("label", { class: "tick-line" }, box)), h("th", { scope: "row" }, row.label), h("td", {}, runText(app, row)), h("td", { class: "n" }, t.number(livingIn(stand, row, order.sick))), h("td", {}, upTo))))));
	return {
		element,
		/** @returns {import("./sheetevents.js").DoneRows} */
		done: () => new Map(ticks.filter((k) => k.box.checked || k.upTo.value.trim()).map((k) => [k.row.row, k.box.checked ? null : wholeOf(k.upTo, 1, 99_999)])),
		/** The field that names no vine of its row. */
		wrong: () => ticks.find((k) => !k.box.checked && k.upTo.value.trim() && !has(k.row, wholeOf(k.upTo, 1, 99_999))),
		first: () => ticks[0].box,
	};
}

/** Vines that were otherwise: a line each; Enter in the last begins another. @param {import("../map/app.js").App} app @param {Order} order */
function oddVines(app, order) {
	const { t } = app;
	/** @type {Line[]} */
	const lines = [];
	let made = 0;
	const list = h("div", { class: "work-list" });
	const add = () => {
		const id = `odd-${made++}`;
		const previous = lines.at(-1);
		const row = choice(`${id}-row`, order.rows.map((r) => [String(r.row), r.label]), previous ? String(/** @type {HTMLSelectElement} */ (previous.element.querySelector("select")).value) : String(order.rows[0].row));
		const number = h("input", { id: `${id}-number`, class: "short", inputmode: "numeric" });
		const kinds = ["missing", "dead", "sick", "undone", ...(order.operation === "pruning" ? ["nodes"] : [])];
		const what = choice(`${id}-what`, kinds.map((w) => [w, t(`work.odd_${w}`)]), "missing");
		const nodes = h("input", { id: `${id}-nodes`, class: "short", inputmode: "numeric" });
		const nodesField = labelled(t("work.nodes_left"), nodes);
		const turn = () => (nodesField.hidden = what.value !== "nodes");
		what.addEventListener("change", turn);
		turn();
		const element = h("div", { class: "work-form work-odd", role: "group", "aria-label": t("work.odd_line", { n: lines.length + 1 }) }, labelled(t("table.row"), row), labelled(t("work.vine_number"), number), labelled(t("work.what_is_it"), what), nodesField,
			button(t("work.remove"), () => {
				lines.splice(lines.indexOf(line), 1);
				element.remove();
				more.focus();
			}, { "aria-label": t("work.odd_remove", { n: lines.length + 1 }) }));
		/** @type {Line} */
		const line = {
			element, number, nodes,
			read: () => (number.value.trim() ? { row: Number(row.value), number: /^\d{1,5}$/.test(number.value.trim()) ? Number(number.value) : -1, what: /** @type {Exception["what"]} */ (what.value), nodes: /^\d{1,3}$/.test(nodes.value.trim()) ? Number(nodes.value) : null } : null),
		};
		for (const field of [number, nodes])
			field.addEventListener("keydown", (e) => {
				if (e.key !== "Enter") return;
				e.preventDefault();
				if (field === number && what.value === "nodes" && !nodes.value.trim()) return nodes.focus();
				if (!number.value.trim()) return;
				if (lines.at(-1) === line) add();
				else lines[lines.indexOf(line) + 1].number.focus();
			});
		lines.push(line);
		list.append(element);
		number.focus();
	};
	const more = button(t("work.odd_add"), add, { data: { key: "odd-add" } });
	return {
		element: h("div", { class: "work-list" }, list, h("div", { class: "acts" }, more)),
		/** Lines without a number are left out. */
		read: () => lines.map((line) => ({ line, value: line.read() })).filter((x) => x.value !== null).map((x) => ({ line: x.line, value: /** @type {Exception} */ (x.value) })),
	};
}
