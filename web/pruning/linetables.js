// Settings that come as lines of a table: young vines by leaf, steps for dead
// buds, what a cane of some thickness counts.

import { h, show } from "../map/dom.js";
import { button } from "../map/dom.js";
import { shownIn, typedIn } from "../lib/standards.js";
import { mark } from "./setting.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/draft.js").Draft} Draft
 * @typedef {import("./setting.js").Fields} Fields
 * @typedef {import("../lib/standards.js").Setting} Setting
 */

const STAGES = ["cut_back", "trunk", "short", "part", "full"];
const MOST_LEAVES = 20;

/** A field of a table. @param {App} app @param {Draft} draft @param {Fields} fields @param {Setting} s @param {string} label */
function cell(app, draft, fields, s, label) {
	const { us } = app.units;
	const id = `set-${s.path.replaceAll(".", "-")}`;
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const input = h("input", { id, class: "short", inputmode: "decimal", "aria-label": label, "aria-describedby": fault.id, autocomplete: "off", on: { input: () => {
		const value = typedIn(s, input.value, us);
		mark(kept, value === null ? app.t("standards.wrong", { from: shownIn(s, s.low, us), to: shownIn(s, s.high, us) }) : "");
		if (value !== null) draft.set(s.path, value);
	} } });
	input.value = shownIn(s, draft.get(s.path), us);
	const kept = { control: input, fault, wrong: false };
	fields.set(s.path, kept);
	return h("td", {}, input, fault);
}

/** @param {string} caption @param {string[]} heads @param {HTMLElement[]} rows */
function lineTable(caption, heads, rows) {
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption }, h("table", { class: "lines" }, h("caption", {}, caption), h("thead", {}, h("tr", {}, ...heads.map((text) => h("th", { scope: "col" }, text)))), h("tbody", {}, ...rows)));
}

/**
 * A list that grows and shrinks at its end.
 * @param {Draft} draft
 * @param {Fields} fields
 * @param {string} path of the list
 * @param {{draw: (list: any[]) => HTMLElement, more: string, fewer: string, next: (list: any[]) => any, drop: (list: any[]) => any[], least: number, most: number}} parts
 */
function growing(draft, fields, path, { draw, more, fewer, next, drop, least, most }) {
	const place = h("div", { class: "growing" });
	const redraw = () => {
		for (const p of [...fields.keys()]) if (p.startsWith(`${path}.`)) fields.delete(p);
		const list = draft.get(path) ?? [];
		const put = (/** @type {any[]} */ now) => {
			draft.set(path, now);
			redraw();
		};
		show(place, list.length ? draw(list) : null, h("div", { class: "acts" },
			button(more, () => list.length < most && put(next(list)), { class: "small", "aria-disabled": list.length < most ? null : "true", data: { key: `${path}-more` } }),
			button(fewer, () => list.length > least && put(drop(list)), { class: "small", "aria-disabled": list.length > least ? null : "true", data: { key: `${path}-fewer` } })));
	};
	redraw();
	return place;
}

/** @param {App} app @param {Draft} draft @param {Fields} fields */
export function leafTable(app, draft, fields) {
	const { t } = app;
	const path = "pruning.leaf_table";
	const share = (/** @type {number} */ k, /** @type {string} */ key) => /** @type {Setting} */ ({ path: `${path}.${k}.${key}`, kind: "number", low: 0, high: 1, measure: "share" });
	const draw = (/** @type {import("../lib/standards.js").LeafLine[]} */ list) => lineTable(t("leaves.caption"), [t("leaves.leaf"), t("leaves.stage"), t("leaves.nodes"), t("leaves.crop")], list.map((line, k) => {
		const last = k === list.length - 1;
		const stage = h("select", { "aria-label": t("leaves.of", { what: t("leaves.stage"), n: line.leaf }), disabled: last, data: { key: `stage-${k}` }, on: { change: () => draft.set(`${path}.${k}.stage`, stage.value) } }, ...STAGES.map((s) => h("option", { value: s }, t(`stage.${s}`))));
		stage.value = line.stage;
		const of = (/** @type {string} */ what) => t("leaves.of", { what: t(what), n: line.leaf });
		return h("tr", {}, h("th", { scope: "row" }, last ? t("leaves.and_later", { n: line.leaf }) : String(line.leaf)), h("td", {}, stage),
			last ? h("td", {}, "100") : cell(app, draft, fields, share(k, "nodes_share"), of("leaves.nodes")), cell(app, draft, fields, share(k, "crop_share"), of("leaves.crop")));
	}));
	return h("div", {}, growing(draft, fields, path, {
		draw, more: t("leaves.more"), fewer: t("leaves.fewer"), least: 1, most: MOST_LEAVES,
		next: (list) => [...list.slice(0, -1), { leaf: list.length, stage: "part", nodes_share: list.at(-2)?.nodes_share ?? 0.5, crop_share: list.at(-2)?.crop_share ?? 0.5 }, { ...list.at(-1), leaf: list.length + 1 }],
		drop: (list) => [...list.slice(0, -2), { ...list.at(-1), leaf: list.length - 1 }],
	}), h("p", { class: "hint" }, t("leaves.why")));
}

/** @param {App} app @param {Draft} draft @param {Fields} fields */
export function deadTable(app, draft, fields) {
	const { t } = app;
	const path = "pruning.dead_buds.table";
	const field = (/** @type {number} */ k, /** @type {string} */ key, /** @type {number} */ high) => /** @type {Setting} */ ({ path: `${path}.${k}.${key}`, kind: "number", low: 0, high, measure: "share" });
	const draw = (/** @type {any[]} */ list) => lineTable(t("dead.caption"), [t("dead.from"), t("dead.more")], list.map((_, k) => h("tr", {},
		cell(app, draft, fields, field(k, "from", 1), t("dead.row", { what: t("dead.from"), n: k + 1 })), cell(app, draft, fields, field(k, "more", 2), t("dead.row", { what: t("dead.more"), n: k + 1 })))));
	return growing(draft, fields, path, { draw, more: t("dead.add"), fewer: t("dead.drop"), least: 1, most: 10, next: (list) => [...list, { from: Math.min(1, (list.at(-1)?.from ?? 0) + 0.1), more: list.at(-1)?.more ?? 0.35 }], drop: (list) => list.slice(0, -1) });
}

/** @param {App} app @param {Draft} draft @param {Fields} fields */
export function scoreTable(app, draft, fields) {
	const { t } = app;
	const path = "pruning.load_rule.scores";
	const draw = (/** @type {any[]} */ list) => lineTable(t("rule.scores"), [t("rule.from_mm", { unit: t(app.units.us ? "in.in" : "in.mm") }), t("rule.beyond"), t("rule.score")], list.map((line, k) => {
		const box = h("input", { type: "checkbox", "aria-label": t("dead.row", { what: t("rule.beyond"), n: k + 1 }), on: { change: () => draft.set(`${path}.${k}.beyond`, box.checked) } });
		box.checked = line.beyond === true;
		return h("tr", {}, cell(app, draft, fields, { path: `${path}.${k}.from_mm`, kind: "number", low: 0, high: 60, measure: "mm" }, t("dead.row", { what: t("rule.from_mm", { unit: "" }), n: k + 1 })),
			h("td", {}, h("label", { class: "tick-line" }, box)), cell(app, draft, fields, { path: `${path}.${k}.score`, kind: "number", low: 0, high: 5 }, t("dead.row", { what: t("rule.score"), n: k + 1 })));
	}));
	return growing(draft, fields, path, { draw, more: t("dead.add"), fewer: t("dead.drop"), least: 1, most: 12, next: (list) => [...list, { from_mm: Math.min(60, (list.at(-1)?.from_mm ?? 0) + 5), score: list.at(-1)?.score ?? 1 }], drop: (list) => list.slice(0, -1) });
}
