// One block: what it is, how it stands, its rows.

import { rowChosen, toggleRow } from "./acts.js";
import { blockOf, why } from "./app.js";
import { shareBar } from "./bars.js";
import { button, h, icon, show } from "./dom.js";
import { foundText, pruningPath, replantsPath, reportPath, zonesPath } from "./foundwords.js";
import { operationName } from "./operation.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Block} Block
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountBlockPanel(app, place) {
	/** @type {Block | null} */
	let detail = null;
	let trouble = "";
	let asked = 0;
	const read = async () => {
		const { block, season } = app.view.get();
		const mine = ++asked;
		if (block === null) return;
		try {
			const got = await app.api.block(block, season);
			if (mine !== asked) return;
			detail = got;
			trouble = "";
		} catch (error) {
			if (mine !== asked) return;
			trouble = why(error);
		}
		draw();
	};
	const draw = () => {
		const { block } = app.view.get();
		const known = blockOf(app, block);
		place.hidden = block === null;
		if (block === null) return show(place);
		const shown = detail?.id === block ? { ...detail, ...known, row_list: detail.row_list } : known;
		show(place, ...(shown ? panel(app, shown) : []), trouble ? h("p", { class: "trouble" }, trouble, button(app.t("app.try_again"), read)) : null);
	};
	app.view.on((now, old) => {
		if (now.block !== old.block || now.season !== old.season) {
			draw();
			void read();
		} else if (now.theme !== old.theme || now.row !== old.row) draw();
	});
	app.blocks.on((now, old) => {
		const { block } = app.view.get();
		draw();
		const revision = (/** @type {Block[]} */ list) => list.find((b) => b.id === block)?.revision;
		if (block !== null && (detail?.id !== block || revision(now.list) !== revision(old.list))) void read();
	});
	app.ground.on(draw);
	app.findings.on(draw);
	app.selection.on((block) => {
		if (block === app.view.get().block) draw();
	});
	draw();
	void read();
}

/**
 * @param {App} app
 * @param {Block} block
 */
function panel(app, block) {
	const { t } = app;
	return [
		button(t("block.back"), () => app.view.set({ block: null, row: null }), { class: "link back", data: { key: "back" } }),
		h("h2", { class: "block-title" }, block.code, block.name ? h("span", { class: "block-name" }, ` ${block.name}`) : null),
		h("div", { class: "acts" },
			button(t("block.fit"), () => block.bounds && app.camera.fit(block.bounds), { data: { key: "fit" } }),
			button(t("block.choose_all"), () => void chooseAll(app, block.id), { data: { key: "choose-all" } }),
			h("a", { class: "button", href: reportPath(block, app.view.get().season), data: { key: "report" } }, t("block.report")),
			h("a", { class: "button", href: pruningPath(block, app.view.get().season), data: { key: "pruning" } }, t("block.pruning")),
			h("a", { class: "button", href: replantsPath(block, app.view.get().season), data: { key: "replants" } }, t("block.replants")),
			h("a", { class: "button", href: zonesPath(block, app.view.get().season), data: { key: "zones" } }, t("block.zones"))),
		findings(app, block),
		shareBar(app, block.totals, app.view.get().theme),
		facts(app, block),
		rows(app, block),
	];
}

/** What was found of the block, in three lines. @param {App} app @param {Block} block */
function findings(app, block) {
	const found = app.findings.summary(block.id, app.view.get().season);
	if (!found) return null;
	/** @type {import("../lib/model.js").Theme[]} */
	const themes = found.state === "ready" ? ["vigour", "patches", "change"] : ["vigour"];
	return h("ul", { class: "found-lines" }, ...themes.map((theme) => h("li", {}, foundText(app, theme, found))));
}

/** @param {App} app @param {number} id */
async function chooseAll(app, id) {
	const stand = await app.stands.load(id, app.view.get().season);
	app.selection.set(stand, Array.from({ length: stand.count }, (_, i) => i));
}

/** @param {App} app @param {Block} block */
function facts(app, block) {
	const { t, units } = app;
	const { totals } = block;
	const done = totals.progress.done ?? 0;
	/** @type {[string, string | false | 0 | null | undefined][]} */
	const lines = [
		[t("block.variety"), block.variety],
		[t("block.clone"), block.clone],
		[t("block.rootstock"), block.rootstock],
		[t("block.planted"), block.planted && (block.leaf > 0 ? t("block.leaf", { leaf: String(block.planted), n: block.leaf }) : String(block.planted))],
		[t("block.system"), block.system],
		[t("block.spacing"), block.row_spacing_m > 0 && t("block.spacing_value", { row: units.text("spacing", block.row_spacing_m), vine: units.text("spacing", block.vine_spacing_m || null) })],
		[t("block.area"), block.area_m2 > 0 && units.text("area", block.area_m2)],
		[t("block.row_length"), block.row_m > 0 && `${units.text("length", block.row_m)} · ${t("block.rows", { n: block.rows })}`],
		[t("block.vines"), t.number(totals.vines)],
		[t("block.density"), block.area_m2 > 0 && units.text("per_area", totals.vines / block.area_m2)],
		[t("table.gaps"), t.number(totals.gaps)],
		[operationName(app), t("block.of", { part: done, whole: totals.to_prune, share: t.percent(done, totals.to_prune) })],
		[t("block.weight"), totals.weighed && t("block.weight_value", { n: totals.weighed, mean: units.text("weight", totals.weight_mean_g) })],
		[t("block.yield"), totals.yielded && yieldText(app, totals)],
		[t("block.nodes"), (totals.nodes_planned || totals.nodes_left) && t("block.nodes_value", { planned: totals.nodes_planned ?? 0, left: totals.nodes_left ?? 0 })],
	];
	return h("dl", { class: "facts" }, ...lines.flatMap(([name, value]) => (value ? [h("dt", {}, name), h("dd", {}, value)] : [])));
}

/** @param {App} app @param {import("../lib/model.js").Totals} totals */
function yieldText(app, totals) {
	const value = app.t("block.yield_value", { n: totals.yielded ?? 0, mean: app.units.text("weight", totals.yield_mean_g) });
	return totals.yield_cv ? app.t("block.yield_cv", { value, cv: `${app.t.number(totals.yield_cv * 100, 1)}\u00a0%` }) : value;
}

/** @param {App} app @param {Block} block */
function rows(app, block) {
	const { t } = app;
	const list = block.row_list ?? [];
	return h("ul", { class: "rows" }, ...list.map((row) => {
		const chosen = rowChosen(app, block.id, row.id);
		const pick = h("input", { type: "checkbox", "aria-label": t("block.choose_row", { label: row.label }), data: { key: `row-${row.id}` }, on: { change: () => void toggleRow(app, block.id, row.id) } });
		pick.checked = chosen;
		const share = row.done + row.to_do > 0 ? row.done / (row.done + row.to_do) : 0;
		const meter = h("span", { class: "meter", "aria-hidden": "true" }, h("span", { class: "meter-fill" }));
		/** @type {HTMLElement} */ (meter.firstChild).style.width = `${100 * share}%`;
		return h("li", {}, h("label", { class: "row-pick" }, pick),
			button(t("block.open_row", { label: row.label }), () => void app.view.set({ row: row.id, pane: "table" }), { class: "row-open", icon: icon("M9 4l8 8-8 8z"), data: { key: `open-${row.id}` } }),
			h("span", { class: "row-label" }, t("block.row", { label: row.label })), meter,
			h("span", { class: "row-done" }, t("block.row_done", { done: row.done, all: row.done + row.to_do })));
	}));
}
