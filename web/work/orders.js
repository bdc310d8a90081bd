// The orders there are, by day and crew: how far each is, and what may be done
// with it.

import { latOf, lonOf } from "../lib/ground.js";
import { sending } from "../lib/once.js";
import { zoomFor } from "../lib/reporthash.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";
import { addDays, dayWords, isDay } from "./days.js";
import { bar, blame, choice, faultLine, labelled, tick, whoField, wholeOf } from "./fields.js";
import { mapPath, sheetsPath } from "./hash.js";
import { nameOf } from "./head.js";
import { reading } from "./reading.js";
import { vinesOfRun } from "./sheetevents.js";
import { fromText, runText } from "./words.js";

/**
 * @typedef {import("./api.js").Order} Order
 * @typedef {import("./api.js").Crew} Crew
 */

/** An order with vines left. @param {Order} o */
const unfinished = (o) => o.state === "open" && o.done < o.vines;

/** @param {import("./main.js").Work} work @param {HTMLElement} place @returns {import("./page.js").Part} */
export function mountOrders(work, place) {
	const { app, api, about } = work;
	const { t } = app;
	const { season, operation } = about.get();
	const body = h("div", { class: "work-body" });
	const parts = reading(app, body, {
		ask: async (signal) => {
			const [orders, crews] = await Promise.all([api.orders(season, {}, signal), api.crews(signal)]);
			return { orders, crews };
		},
		draw: ({ orders, crews }) => view(work, orders, crews, () => void parts.read(false)),
		loading: t("work.orders_loading"),
		typing: () => body.querySelector("form.work-edit") !== null,
	});
	show(place, h("section", { class: "part", "aria-labelledby": "orders-title" }, h("h1", { id: "orders-title" }, t("work.orders_title", { operation: nameOf(app, operation), season: String(season) }))), body);
	void parts.read(true);
	return { reload: parts.news, stop: parts.stop };
}

/** @param {import("./main.js").Work} work @param {Order[]} all @param {Crew[]} crews @param {() => void} reload */
function view(work, all, crews, reload) {
	const { app, about } = work;
	const { t } = app;
	const { operation, season } = about.get();
	const orders = all.filter((o) => o.operation === operation);
	const rest = all.length - orders.length;
	const others = rest ? h("p", { class: "hint" }, t("work.other_operations", { n: rest })) : null;
	const toNew = button(t("work.to_new"), () => about.set({ part: "new" }), { data: { key: "to-new" } });
	if (!orders.length) return [h("p", { class: "state", id: "no-orders" }, t("work.no_orders")), others, h("div", { class: "acts" }, toNew)];
	const days = [...new Set(orders.map((o) => o.day))].sort();
	const vines = orders.reduce((n, o) => n + o.vines, 0);
	const done = orders.reduce((n, o) => n + o.done, 0);
	return [
		h("p", { class: "work-says" }, t("work.orders_say", { orders: t("work.orders_n", { n: orders.length }), left: t("work.vines_left", { n: vines - done }) })),
		others,
		h("div", { class: "acts no-print" }, toNew, h("a", { class: "button", href: sheetsPath(season, {}) }, t("work.all_sheets"))),
		...days.map((day) => daySection(work, day, orders, crews, reload)),
	];
}

/** @param {import("./main.js").Work} work @param {string} day @param {Order[]} all @param {Crew[]} crews @param {() => void} reload */
function daySection(work, day, all, crews, reload) {
	const { app, about } = work;
	const { t } = app;
	const orders = all.filter((o) => o.day === day);
	const title = day ? dayWords(t.language, day, "long") : t("work.no_day_set");
	const part = section(`day-${day || "none"}`, title,
		day ? h("div", { class: "acts no-print" }, h("a", { class: "button", href: sheetsPath(about.get().season, { day }) }, t("work.day_sheets")), orders.some(unfinished) ? rainForm(work, day, all, reload) : null) : null,
		h("div", { class: "work-list" }, ...orders.map((o) => orderCard(work, o, crews, reload))));
	part.dataset.day = day;
	return part;
}

/** After a day that was lost: what is open moves on. @param {import("./main.js").Work} work @param {string} day @param {Order[]} all @param {() => void} reload */
function rainForm({ app, api }, day, all, reload) {
	const { t } = app;
	const box = h("div", {});
	const begin = button(t("work.rain"), () => {
		const days = h("input", { id: `on-${day}`, class: "short", inputmode: "numeric" });
		days.value = "1";
		const later = tick(`later-${day}`, t("work.rain_later"), true);
		const fault = faultLine(`on-${day}-fault`);
		const form = h("form", { class: "work-form work-edit", novalidate: true, on: { submit: sending(async () => {
			const n = wholeOf(days, 1, 60);
			if (n === null) return blame(fault, days, t("record.wrong_range", { from: "1", to: "60" }));
			blame(fault, null);
			const due = all.filter((o) => unfinished(o) && o.day && (later.input.checked ? o.day >= day : o.day === day));
			// The last first: whoever reads meanwhile never sees two days' work on one day.
			due.sort((a, b) => (a.day < b.day ? 1 : -1));
			let moved = 0;
			try {
				for (const o of due) {
					await api.change({ ...o, by: app.by.get() || o.by, day: addDays(o.day, n) });
					moved++;
				}
				toast(app, t("work.moved", { n: moved }));
				show(box, begin);
				reload();
			} catch (error) {
				fault.textContent = t("work.moved_some", { n: moved, all: due.length, why: why(error) });
			}
		}) } }, labelled(t("work.rain_days"), days), later.element,
			h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("work.rain_go")), button(t("work.cancel"), () => {
				show(box, begin);
				reload();
			})), fault);
		show(box, form);
		days.focus();
	}, { data: { key: `rain-${day}` } });
	show(box, begin);
	return box;
}

/** @param {import("./main.js").Work} work @param {Order} o @param {Crew[]} crews @param {() => void} reload */
function orderCard(work, o, crews, reload) {
	const { app, api, about } = work;
	const { t } = app;
	const name = [o.crew || t("work.no_crew"), t("work.block", { code: o.code })].join(" · ");
	const facts = [t("block.rows", { n: o.rows.length }), fromText(app, o), o.done < o.vines ? t("work.hours_left", { n: Math.ceil(o.hours) }) : "", o.sick ? t("work.sick_last") : ""].filter(Boolean).join(" · ");
	const card = h("div", { class: "work-card", data: { order: o.id } });
	const back = async () => {
		try {
			await api.change({ ...o, state: "open" });
		} catch (error) {
			toast(app, t("work.not_done", { why: why(error) }), { trouble: true });
		}
		reload();
	};
	const withdraw = async () => {
		try {
			await api.withdraw(o.id);
			toast(app, t("work.withdrawn", { order: name }), { act: { label: t("work.undo"), run: () => void back() } });
		} catch (error) {
			toast(app, t("work.not_done", { why: why(error) }), { trouble: true });
		}
		reload();
	};
	const view = () => show(card,
		h("h3", {}, name), bar(o.done, o.vines, t("work.progress_of", { order: name })), h("p", { class: "work-facts" }, facts),
		h("p", {}, t("work.rows_list", { rows: o.rows.map((r) => r.label).join(", ") })),
		o.note ? h("p", { class: "work-note" }, o.note) : null,
		h("p", { class: "hint" }, t("work.made_by", { by: o.by || t("work.nobody") })),
		h("div", { class: "acts no-print" },
			mapLink(app, o),
			h("a", { class: "button", href: sheetsPath(o.season, { order: o.id }) }, t("work.sheet")),
			button(t("work.type_in"), () => about.set({ part: "sheet", order: o.id }), { data: { key: `type-${o.id}` } }),
			button(t("work.change"), edit, { "aria-label": t("work.change_order", { order: name }), data: { key: `change-${o.id}` } }),
			button(t("work.withdraw"), () => void withdraw(), { "aria-label": t("work.withdraw_order", { order: name }), data: { key: `withdraw-${o.id}` } })));
	const edit = () => {
		show(card, h("h3", {}, name), editForm(work, o, crews, view, reload));
		/** @type {HTMLElement | null} */ (card.querySelector("select"))?.focus();
	};
	view();
	return card;
}

/** @param {import("./main.js").Work} work @param {Order} o @param {Crew[]} crews @param {() => void} cancel @param {() => void} reload */
function editForm({ app, api }, o, crews, cancel, reload) {
	const { t } = app;
	const id = o.id.slice(-12);
	const names = [...new Set([...crews.map((c) => c.name), o.crew])].filter(Boolean);
	const crew = choice(`crew-${id}`, names.map((n) => [n, n]), o.crew);
	const day = h("input", { id: `day-${id}`, type: "date" });
	day.value = o.day;
	const note = h("textarea", { id: `note-${id}`, maxlength: "4000", rows: "2" });
	note.value = o.note;
	const by = whoField(app, `by-${id}`);
	const fault = faultLine(`fault-${id}`);
	return h("form", { class: "work-form work-edit", novalidate: true, on: { submit: sending(async () => {
		if (day.value && !isDay(day.value)) return blame(fault, day, t("work.no_day"));
		if (!by.value.trim()) return blame(fault, by, t("work.who_missing"));
		blame(fault, null);
		try {
			await api.change({ ...o, crew: crew.value, day: day.value, note: note.value.trim(), by: by.value.trim() });
			toast(app, t("work.saved"));
			cancel();
			reload();
		} catch (error) {
			fault.textContent = t("work.not_done", { why: why(error) });
		}
	}) } }, labelled(t("work.crew"), crew), labelled(t("work.day"), day), labelled(t("work.note"), note), labelled(t("work.who"), by),
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("work.save")), button(t("work.cancel"), () => {
			cancel();
			reload();
		})), fault);
}

/** The map at the order's rows: the block at first, the rows as soon as the stand is here. @param {import("../map/app.js").App} app @param {Order} o */
function mapLink(app, o) {
	const { t } = app;
	const block = app.blocks.get().list.find((b) => b.id === o.block);
	const row = o.rows[0]?.row;
	const at = block?.center && block.bounds ? /** @type {[number, number, number]} */ ([...block.center, zoomFor(block.bounds)]) : undefined;
	const link = h("a", { class: "button", href: mapPath(o.season, o.block, { row, at }), title: o.rows.map((r) => `${r.label}: ${runText(app, r)}`).slice(0, 12).join(", ") }, t("work.on_map"));
	app.stands.load(o.block, o.season).then((stand) => {
		const vines = o.rows.flatMap((r) => vinesOfRun(stand, r));
		if (!vines.length) return;
		const lon = vines.map((i) => lonOf(stand.wx[i]));
		const lat = vines.map((i) => latOf(stand.wy[i]));
		const least = (/** @type {number[]} */ list) => list.reduce((a, b) => Math.min(a, b));
		const most = (/** @type {number[]} */ list) => list.reduce((a, b) => Math.max(a, b));
		const [w, s, e, n] = [least(lon), least(lat), most(lon), most(lat)];
		link.setAttribute("href", mapPath(o.season, o.block, { row, at: [(w + e) / 2, (s + n) / 2, zoomFor([w, s, e, n])] }));
	}, () => {});
	return link;
}
