// The proposal: what each crew would get, in a sentence and row by row, to be
// changed before it is kept.

import { sending } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";
import { addDays, dayWords } from "./days.js";
import { blame, choice, faultLine, labelled, whoField } from "./fields.js";
import { dropRows, entriesOf, listOf, listsOf, moveRows, ordersOf, taken, totalsOf } from "./proposal.js";
import { livingIn } from "./sheetevents.js";
import { lineOfRow } from "./walkplan.js";
import { runText, startText } from "./words.js";

/**
 * @typedef {import("./proposal.js").Entry} Entry
 * @typedef {import("../lib/stand.js").Stand} Stand
 */

/**
 * @param {import("./main.js").Work} work
 * @param {HTMLElement} place
 * @param {import("./api.js").ShareWish} wish
 * @param {import("./api.js").Shared} shared
 * @param {import("./api.js").Crew[]} crews
 * @param {() => boolean} late it is no longer wanted
 */
export async function mountProposal(work, place, wish, shared, crews, late) {
	const { app, api, about } = work;
	const { t } = app;
	const blocks = [...new Set(shared.orders.map((o) => o.block))];
	const [stands, known] = await Promise.all([Promise.all(blocks.map((b) => app.stands.load(b, wish.season))), api.orders(wish.season, {})]);
	if (late()) return;
	const standOf = new Map(stands.map((s) => [s.block, s]));
	const stand = (/** @type {number} */ block) => /** @type {Stand} */ (standOf.get(block));
	const lineOf = (/** @type {number} */ block, /** @type {number} */ row) => lineOfRow(stand(block), row);
	let entries = entriesOf(shared.orders, shared.crews, (block, row, sick) => livingIn(stand(block), row, sick));
	/** @type {Set<string>} */
	let ticked = new Set();

	const change = (/** @type {Entry[]} */ now) => {
		entries = now;
		ticked = new Set();
		draw();
	};
	const draw = () => {
		const twice = taken(entries, known);
		show(place,
			section("sentence", t("work.proposal"), h("p", { class: "work-says", role: "status" }, sentence(app, entries, wish.crews, shared.later)),
				...shared.notes.map((n) => h("p", { class: "hint" }, n)),
				shared.left_out ? h("p", { class: "hint" }, t("work.left_out", { n: shared.left_out })) : null,
				twice.size ? h("div", { class: "warning" }, h("p", {}, t("work.taken", { n: twice.size })), button(t("work.drop_taken"), () => change(dropRows(entries, twice, lineOf, wish.every_other)), { data: { key: "drop-taken" } })) : null),
			entries.length ? section("rows", t("work.by_rows"), tools(), h("div", { class: "work-lists" }, ...lists(twice))) : null,
			entries.length ? keep : null);
	};

	/** Moves and drops what is ticked. */
	const tools = () => {
		const crew = choice("move-crew", [["", t("work.same_crew")], ...crews.map((c) => /** @type {[string, string]} */ ([c.name, c.name]))], "");
		const last = addDays(wish.day, wish.days - 1);
		const span = new Set([...Array.from({ length: wish.days }, (_, k) => addDays(wish.day, k)).filter((d) => !wish.off.includes(d)), addDays(last, 1), ...entries.map((e) => e.day)]);
		const day = choice("move-day", [["", t("work.same_day")], ...[...span].sort().map((d) => /** @type {[string, string]} */ ([d, dayWords(t.language, d, "long")]))], "");
		const fault = faultLine("move-fault");
		const needed = (/** @type {() => void} */ act) => () => (ticked.size ? act() : blame(fault, /** @type {HTMLElement} */ (place.querySelector(".pick")), t("work.tick_rows")));
		return h("div", { class: "work-form work-tools", role: "group", "aria-label": t("work.tools") },
			labelled(t("work.to_crew"), crew), labelled(t("work.to_day"), day),
			h("div", { class: "acts" },
				button(t("work.move"), needed(() => (crew.value || day.value ? change(moveRows(entries, ticked, { crew: crew.value, day: day.value }, lineOf, wish.every_other)) : blame(fault, crew, t("work.where_to")))), { data: { key: "move" } }),
				button(t("work.drop"), needed(() => change(dropRows(entries, ticked, lineOf, wish.every_other))), { data: { key: "drop" } })), fault);
	};

	/** One table per day, crew and block. @param {Set<string>} twice */
	const lists = (twice) => listsOf(entries).map((list) => {
		const o = list[0];
		const title = [dayWords(t.language, o.day, "long"), o.crew, t("work.block", { code: o.code }), o.sick ? t("work.sick_last") : ""].filter(Boolean).join(" · ");
		const all = h("input", { type: "checkbox", "aria-label": t("work.tick_all", { list: title }), data: { key: `all-${listOf(o)}` }, on: { change: () => {
			for (const e of list) all.checked ? ticked.add(e.key) : ticked.delete(e.key);
			for (const box of table.querySelectorAll(".pick")) /** @type {HTMLInputElement} */ (box).checked = all.checked;
		} } });
		const head = (/** @type {string} */ text, n = false) => h("th", { scope: "col", class: n ? "n" : null }, text);
		const table = h("table", { class: "work-rows", data: { crew: o.crew, day: o.day, block: o.code } }, h("caption", {}, title),
			h("thead", {}, h("tr", {}, h("td", {}, h("label", { class: "tick-line" }, all)), head(t("work.walk"), true), head(t("table.row")), head(t("work.vines_run")), head(t("work.walk_from")), head(t("work.about_vines"), true))),
			h("tbody", {}, ...list.map((e, k) => h("tr", { data: { row: e.row.label } },
				h("td", {}, h("label", { class: "tick-line" }, pick(e))),
				h("td", { class: "n" }, t.number(k + 1)), h("th", { scope: "row" }, e.row.label, twice.has(e.key) ? h("span", { class: "tag" }, t("work.taken_tag")) : null),
				h("td", {}, runText(app, e.row)), h("td", {}, startText(app, e.row.start)), h("td", { class: "n" }, t.number(Math.round(e.vines)))))));
		return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": title }, table);
	});

	/** @param {Entry} e */
	const pick = (e) => {
		const box = h("input", { type: "checkbox", class: "pick", "aria-label": t("work.tick_row", { row: e.row.label, code: e.code }), data: { key: `pick-${e.key}` }, on: { change: () => (box.checked ? ticked.add(e.key) : ticked.delete(e.key)) } });
		box.checked = ticked.has(e.key);
		return box;
	};

	const keepForm = () => {
		const by = whoField(app, "keep-by");
		const fault = faultLine("keep-fault");
		const go = h("button", { type: "submit", class: "main", data: { key: "keep" } }, t("work.keep"));
		return section("keep", t("work.keep_title"), h("form", { class: "work-form", novalidate: true, on: { submit: sending(async () => {
			if (!by.value.trim()) return blame(fault, by, t("work.who_missing"));
			blame(fault, null);
			go.setAttribute("aria-disabled", "true");
			try {
				const { orders } = await api.keep(by.value.trim(), ordersOf(entries));
				toast(app, t("work.kept", { n: orders.length }));
				about.set({ part: "orders" });
			} catch (error) {
				go.removeAttribute("aria-disabled");
				fault.textContent = t("work.not_done", { why: why(error) });
			}
		}) } }, labelled(t("work.who"), by), h("div", { class: "acts" }, go), fault), h("p", { class: "hint" }, t("work.caution")));
	};
	const keep = keepForm();
	draw();
	place.querySelector("h2")?.scrollIntoView({ block: "start" });
	app.announce(sentence(app, entries, wish.crews, shared.later));
}

/** What each crew gets, in one sentence. @param {import("../map/app.js").App} app @param {Entry[]} entries @param {string[]} crews @param {number} later rows */
function sentence(app, entries, crews, later) {
	const { t } = app;
	if (!entries.length) return t("work.nothing");
	const parts = totalsOf(entries, crews).map((c) => (c.rows ? t("work.crew_gets", { crew: c.name, rows: t("block.rows", { n: c.rows }), vines: t("app.vines", { n: c.vines }), hours: t("work.hours", { n: Math.round(c.hours) }), days: t("work.in_days", { n: c.days }) }) : t("work.crew_nothing", { crew: c.name })));
	return `${parts.join("; ")}.${later ? ` ${t("work.later", { n: later })}` : ""}`;
}
