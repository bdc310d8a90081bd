// Candidates and places on their way: a list to filter and to choose from, the next
// step for what is chosen, and the same list in walking order for the rows.

import { STAGES, allPlaces, filtered, walkOrder, wordKey } from "../lib/replants.js";
import { keptText } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { vinePath } from "../report/links.js";
import { settledSection } from "./settled.js";
import { dueText, saidLine } from "./sources.js";
import { mountStepForm } from "./stepform.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").ListedPlace} ListedPlace
 */

const ACTIONS = ["replace", "look", "test", "watch"];

/** How many lines are drawn at once; the rest is asked for. */
const MOST_LINES = 400;

/** @param {import("./main.js").ReplantsPage} page @param {() => void} reload @returns {import("./page.js").Part} */
export function mountPlaces({ app, about }, reload) {
	const { t } = app;
	const { season } = about.get();
	const filter = { what: "", stage: "", reason: "" };
	const walk = keptText("courson.replants.walk");
	/** @type {Set<number>} */
	const chosen = new Set();
	let most = MOST_LINES;
	/** @type {Replants | null} */
	let answer = null;
	/** @type {ListedPlace[]} */
	let all = [];
	const tableAt = h("div", { id: "place-table" });
	const filterAt = h("div", { class: "weigh-form no-print", role: "group", "aria-label": t("places.filter") });
	const steps = mountStepForm(app, { chosen: () => all.filter((v) => chosen.has(v.id)), block: () => answer?.code ?? "", sends: () => drawTable(), done: (ids) => {
		choose(ids, false);
		reload(); // draws nothing where a live update was faster
	} });
	const shown = () => {
		const list = filtered(all, filter);
		return walk.get() === "rows" ? list : walkOrder(list);
	};
	const drawTable = () => {
		if (!answer) return;
		const list = shown();
		const inSight = list.slice(0, most);
		show(tableAt,
			h("div", { class: "acts no-print" },
				h("p", { id: "shown-count", role: "status" }, t("places.shown", { n: list.length, all: all.length }), chosen.size ? ` ${t("places.chosen", { n: chosen.size })}` : ""),
				button(t("places.choose_all"), () => choose(list.map((v) => v.id), true), { class: "small", data: { key: "choose-all" } }),
				chosen.size ? button(t("places.choose_none"), () => choose([...chosen], false), { class: "small", data: { key: "choose-none" } }) : null),
			list.length ? placeTable(app, answer, inSight, { chosen, sending: steps.sending() }, (id, on) => choose([id], on)) : h("p", { class: "state" }, t("places.none_shown")),
			list.length > most ? button(t("places.more", { n: list.length - most }), () => { most = list.length; drawTable(); }, { data: { key: "more" } }) : null);
	};
	const choose = (/** @type {number[]} */ asked, /** @type {boolean} */ on) => {
		const ids = asked.filter((id) => !steps.sending().has(id));
		for (const id of ids) if (on) chosen.add(id); else chosen.delete(id);
		drawTable();
		steps.draw();
	};
	const list = (/** @type {keyof typeof filter} */ key, /** @type {[string, string][]} */ options) => {
		const select = h("select", { id: `filter-${key}`, data: { key: `filter-${key}` }, on: { change: () => { filter[key] = select.value; most = MOST_LINES; drawTable(); } } }, ...options.map(([value, text]) => h("option", { value }, text)));
		select.value = filter[key];
		return [h("label", { for: `filter-${key}` }, t(`places.by_${key}`)), select];
	};
	const drawFilter = () => {
		const reasons = [...new Set(all.flatMap((v) => v.candidate?.reasons ?? []))];
		const stages = STAGES.filter((s) => all.some((v) => v.place?.stage === s));
		const way = h("select", { id: "walk-way", data: { key: "walk-way" }, on: { change: () => { walk.set(way.value); drawTable(); } } }, h("option", { value: "back" }, t("places.walk_back")), h("option", { value: "rows" }, t("places.walk_rows")));
		way.value = walk.get() === "rows" ? "rows" : "back";
		show(filterAt, ...list("what", [["", t("places.all")], ...ACTIONS.filter((a) => all.some((v) => v.candidate?.action === a)).map((a) => /** @type {[string, string]} */ ([a, t(`what.${a}`)]))]),
			...list("reason", [["", t("places.all")], ...reasons.map((r) => /** @type {[string, string]} */ ([r, t(`reason.${wordKey(r)}`)]))]),
			...list("stage", [["", t("places.all")], ["-", t("places.not_on_way")], ...stages.map((s) => /** @type {[string, string]} */ ([s, t(`step.${wordKey(s)}`)]))]),
			h("label", { for: "walk-way" }, t("places.walk")), way);
	};
	return {
		draw(got) {
			answer = got;
			all = allPlaces(got);
			const known = new Set(all.map((v) => v.id));
			for (const id of [...chosen]) if (!known.has(id)) chosen.delete(id);
			if (!all.length) return [section("places", t("places.title"), h("p", { class: "state" }, t("places.none")))];
			drawFilter();
			drawTable();
			steps.draw();
			return [stageSection(app, got), settledSection(app, got), section("places", t("places.title"), h("p", { class: "hint" }, t("places.hint")), filterAt, steps.element, tableAt, h("p", { class: "print-only" }, t("places.on_paper")), files(app, got))];
		},
	};
}

/** How many places are at each step. @param {App} app @param {Replants} answer */
function stageSection(app, answer) {
	const { t } = app;
	const at = (/** @type {string} */ s) => answer.places.filter((p) => p.stage === s).length;
	return section("stages", t("places.stages"), h("ol", { class: "stages" }, ...STAGES.slice(0, 6).map((s) => h("li", { data: { stage: s } }, h("span", { class: "stage-count" }, t.number(at(s))), ` ${t(`step.${wordKey(s)}`)}`))),
		at("withdrawn") ? h("p", { class: "hint" }, t("places.withdrawn", { n: at("withdrawn") })) : null);
}

/**
 * @param {App} app
 * @param {Replants} answer
 * @param {ListedPlace[]} list
 * @param {{chosen: Set<number>, sending: Set<number>}} picked what is being sent cannot be chosen otherwise
 * @param {(id: number, on: boolean) => void} choose
 */
function placeTable(app, { block, season, today }, list, { chosen, sending }, choose) {
	const { t } = app;
	const heads = [t("table.choose"), t("table.vine"), t("places.stands"), t("places.what"), t("places.stage"), t("places.since"), t("places.batch"), t("places.said"), t("places.reason"), t("places.done")];
	let row = 0;
	const lines = list.map((v) => {
		const box = h("input", { type: "checkbox", class: "tick", "aria-label": t("table.choose_vine", { address: v.address }), data: { key: `pick-${v.id}` }, on: { change: () => choose(v.id, box.checked) } });
		box.checked = chosen.has(v.id);
		box.disabled = sending.has(v.id);
		const fresh = v.row_id !== row;
		row = v.row_id;
		return h("tr", { class: fresh ? "new-row" : null, data: { vine: v.id } },
			h("td", { class: "no-print" }, h("label", { class: "tick-line" }, box)),
			h("th", { scope: "row" }, h("a", { class: "to-map", href: vinePath(season, block, v).replace("theme=vigour", "theme=replants") }, v.address)),
			h("td", { class: "stands" }, v.candidate ? standsText(app, v.candidate, today, season) : ""), h("td", {}, v.candidate ? t(`what.${v.candidate.action}`) : ""),
			h("td", {}, v.place ? t(`step.${wordKey(v.place.stage)}`) : ""), h("td", {}, v.place?.since ?? ""), h("td", {}, [v.place?.batch, v.place?.grade && t("places.grade", { grade: v.place.grade })].filter(Boolean).join(", ")), h("td", { class: "said" }, v.candidate ? saidLine(app, v.candidate.said) : ""), h("td", { class: "reason" }, v.candidate?.text ?? v.place?.note ?? ""), h("td", { class: "found-box print-only-cell" }));
	});
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": t("places.caption") }, h("table", { class: "place-list" }, h("caption", {}, t("places.caption")),
		h("thead", {}, h("tr", {}, ...heads.map((text, k) => h("th", { scope: "col", class: k === 0 ? "no-print" : k === heads.length - 1 ? "print-only-cell" : null }, text)))), h("tbody", {}, ...lines)));
}

/** What stands, and when a doubtful vine is to be looked at again. @param {App} app @param {NonNullable<ListedPlace["candidate"]>} c @param {string} today @param {number} season */
function standsText(app, c, today, season) {
	const state = app.t(`gaps.state_${wordKey(c.stands)}`);
	return c.look_again ? app.t("review.look_on", { state, due: dueText(app, c.look_again, today, season) }) : state;
}

/** @param {App} app @param {Replants} answer */
function files(app, answer) {
	const { t } = app;
	const q = `?season=${answer.season}&block=${answer.block}`;
	const file = (/** @type {string} */ href, /** @type {string} */ key) => h("li", {}, h("a", { href, download: "" }, t(`places.file_${key}`)));
	return h("div", { class: "no-print" }, h("h3", {}, t("report.files")), h("ul", { class: "files" }, file(`/api/replants.csv${q}`, "csv"), file(`/api/layers/replants/xlsx${q}`, "xlsx"), file(`/api/replants.geojson${q}`, "geojson"), file(`/api/layers/replants/gpkg${q}`, "gpkg"), file(`/api/replants.csv?season=${answer.season}`, "estate")),
		button(t("report.print"), () => print(), { data: { key: "print" } }));
}

