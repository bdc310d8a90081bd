// The same data as tables: blocks, the rows of one, the vines of one row. What is
// chosen and looked at here is the same as on the map.

import { BASES, COLUMN_OF, DONE, FLAG, NONE, living } from "../lib/model.js";
import { addressOf } from "../lib/stand.js";
import { rowIndexes } from "../lib/selection.js";
import { lookAt, rowChosen, toggleRow } from "./acts.js";
import { blockOf, className, why } from "./app.js";
import { button, h, show } from "./dom.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Block} Block
 * @typedef {import("../lib/stand.js").Stand} Stand
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountTable(app, place) {
	let trouble = "";
	let waiting = 0;
	const draw = () => {
		waiting = 0;
		const { pane, block, row, season } = app.view.get();
		place.hidden = pane !== "table";
		if (place.hidden) return show(place);
		const shown = blockOf(app, block);
		const { state, list } = app.blocks.get();
		if (!list.length && state === "loading") return show(place, h("p", { class: "state" }, app.t("blocks.loading")));
		if (!shown) return show(place, path(app), blockTable(app));
		const stand = app.stands.peek(shown.id, season);
		if (!stand) {
			show(place, path(app), trouble ? h("p", { class: "trouble" }, trouble) : h("p", { class: "state" }, app.t("map.loading")));
			if (!trouble) void load(shown.id, season);
			return;
		}
		const r = stand.rows.findIndex((k) => k.id === row);
		show(place, path(app), r < 0 ? rowTable(app, shown, stand) : vineTable(app, stand, r));
	};
	const load = async (/** @type {number} */ block, /** @type {number} */ season) => {
		try {
			await app.stands.load(block, season);
		} catch (error) {
			trouble = why(error);
		}
		draw();
	};
	const soon = () => {
		if (!place.hidden) waiting ||= requestAnimationFrame(draw);
	};
	app.view.on((now, old) => {
		if (now.at === old.at || now.pane !== old.pane) {
			trouble = "";
			draw();
		}
	});
	app.blocks.on(soon);
	app.stands.on(soon);
	app.selection.on(soon);
	draw();
}

/** @param {App} app */
function path(app) {
	const { t } = app;
	const { block, row, season } = app.view.get();
	const shown = blockOf(app, block);
	const label = shown && app.stands.peek(shown.id, season)?.rows.find((r) => r.id === row)?.label;
	const step = (/** @type {string} */ text, /** @type {Partial<import("../lib/hash.js").View>} */ to, /** @type {boolean} */ here) =>
		h("li", {}, here ? h("span", { "aria-current": "page" }, text) : button(text, () => app.view.set(to), { class: "link", data: { key: `path-${text}` } }));
	return h("nav", { "aria-label": t("table.where") }, h("ol", { class: "path" },
		step(t("table.blocks"), { block: null, row: null }, !shown),
		shown && step(shown.code, { row: null }, !label),
		label && step(t("block.row", { label }), {}, true)));
}

/** @param {string} caption @param {string[]} heads a # at the end: numbers @param {HTMLTableRowElement[]} rows */
function table(caption, heads, rows) {
	const head = (/** @type {string} */ text) => h("th", { scope: "col", class: text.endsWith("#") ? "n" : null }, text.replace(/#$/, ""));
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption },
		h("table", {}, h("caption", {}, caption), h("thead", {}, h("tr", {}, ...heads.map(head))), h("tbody", {}, ...rows)));
}

const number = (/** @type {App} */ app, /** @type {number} */ n) => h("td", { class: "n" }, app.t.number(n));

/** @param {App} app */
function blockTable(app) {
	const { t } = app;
	return table(t("table.blocks"), [t("table.block"), t("table.name"), t("table.variety"), `${t("table.vines_count")}#`, `${t("table.gaps")}#`, `${t("table.done")}#`, `${t("table.to_do")}#`],
		app.blocks.get().list.map((b) => {
			const done = b.totals.progress.done ?? 0;
			return h("tr", {},
				h("th", { scope: "row" }, button(b.code, () => app.view.set({ block: b.id, row: null }), { class: "link", data: { key: `block-${b.id}` } })),
				h("td", {}, b.name), h("td", {}, b.variety), number(app, b.totals.vines), number(app, b.totals.gaps), number(app, done),
				number(app, b.totals.to_prune - done - (b.totals.progress.skipped ?? 0)));
		}));
}

/** @param {App} app @param {Block} block @param {Stand} stand */
function rowTable(app, block, stand) {
	const { t } = app;
	return table(t("table.rows", { code: block.code }), [t("table.choose"), t("table.row"), `${t("table.vines_count")}#`, `${t("table.gaps")}#`, `${t("table.done")}#`],
		stand.rows.map((row, r) => {
			const indexes = rowIndexes(stand, r);
			const gaps = indexes.filter((i) => !living(stand.condition[i])).length;
			const done = indexes.filter((i) => stand.progress[i] === DONE && living(stand.condition[i])).length;
			return h("tr", {},
				h("td", {}, tick(t("table.choose_row", { label: row.label }), rowChosen(app, block.id, row.id), `row-${row.id}`, () => void toggleRow(app, block.id, row.id))),
				h("th", { scope: "row" }, button(row.label, () => app.view.set({ row: row.id }), { class: "link", data: { key: `open-${row.id}` } })),
				number(app, row.count), number(app, gaps), number(app, done));
		}));
}

/** @param {App} app @param {Stand} stand @param {number} r */
function vineTable(app, stand, r) {
	const { t, legends } = app;
	const row = stand.rows[r];
	const all = tick(t("table.choose_all"), rowChosen(app, stand.block, row.id), "all", () => void toggleRow(app, stand.block, row.id));
	const word = (/** @type {import("../lib/model.js").Theme} */ theme, /** @type {number} */ i) => {
		const cls = legends[theme].classes.find((c) => c.code === stand[COLUMN_OF[theme]][i]);
		return h("td", {}, cls ? className(app, theme, cls) : t("value.none"));
	};
	const extra = /** @type {const} */ (["change", "patches", "follow-ups", "replants"]).filter((theme) => legends[theme]);
	const byte = (/** @type {number} */ n) => h("td", { class: "n" }, n === NONE ? t("value.none") : n);
	const { vine } = app.view.get();
	const rows = rowIndexes(stand, r).map((i) => {
		const address = addressOf(stand, i);
		return h("tr", { class: stand.id[i] === vine ? "current" : null, data: { vine: stand.id[i] } },
			h("td", {}, tick(t("table.choose_vine", { address }), app.selection.has(stand.block, i), `vine-${i}`, () => app.selection.toggle(stand, [i]))),
			h("th", { scope: "row" }, button(String(stand.number[i]), () => lookAt(app, stand.id[i]), { class: "link", "aria-label": t("table.look", { address }), data: { key: `look-${i}` } })),
			word("condition", i), h("td", { class: "n" }, stand.leaf[i] || t("value.none")), word("vigour", i), h("td", {}, stand.vigour[i] && stand.basis[i] ? t(`basis.${BASES[stand.basis[i]]}`) : t("value.none")),
			...extra.map((theme) => word(theme, i)),
			h("td", { class: "n" }, stand.weight[i] === 65535 ? t("value.none") : app.units.text("weight", stand.weight[i])),
			byte(stand.nodes[i]), byte(stand.left[i]), word("progress", i), h("td", {}, flagText(app, stand.flags[i])));
	});
	const heads = [t("table.choose"), t("table.vine"), t("vine.col_condition"), `${t("table.leaf")}#`, t("vine.col_vigour"), t("table.basis"), ...extra.map((theme) => t(`theme.${theme}`)), `${t("table.weight")}#`, `${t("table.nodes")}#`, `${t("table.left")}#`, t("vine.col_progress"), t("table.flags")];
	return h("div", {}, h("p", {}, h("span", { class: "pick-all" }, all, ` ${t("table.choose_all")}`)), table(t("table.vines", { label: row.label, code: stand.code }), heads, rows));
}

/** @param {App} app @param {number} flags */
function flagText(app, flags) {
	const words = [[FLAG.clash, "clash"], [FLAG.note, "note"], [FLAG.lookAgain, "look_again"], [FLAG.differs, "differs"]];
	return words.flatMap(([bit, key]) => (flags & Number(bit) ? [app.t(`flag.${key}`)] : [])).join(", ");
}

/** @param {string} label @param {boolean} on @param {string} key @param {() => void} act */
function tick(label, on, key, act) {
	const box = h("input", { type: "checkbox", "aria-label": label, class: "tick", data: { key }, on: { change: act } });
	box.checked = on;
	return h("label", { class: "tick-line" }, box);
}
