// The list of blocks: totals, shares and how pruning goes.

import { shareBar } from "./bars.js";
import { button, h, show } from "./dom.js";
import { foundText, planText, replantText, restsOnFindings, restsOnPlan } from "./foundwords.js";
import { pageLink } from "./pagelink.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Block} Block
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 * @param {{retry: () => void}} acts
 */
export function mountBlockList(app, place, { retry }) {
	let filter = "";
	// Kept, so that who asks is found out once; with blocks the head has them.
	const ways = [pageLink("import", app.t("import.title")), pageLink("ground", app.t("ground.link"))];
	const draw = () => {
		const { state, list, trouble } = app.blocks.get();
		if (state === "loading" && !list.length) show(place, h("p", { class: "state" }, app.t("blocks.loading")));
		else if (state === "failed" && !list.length) show(place, h("p", { class: "trouble" }, app.t("blocks.failed", { why: trouble })), button(app.t("app.try_again"), retry));
		else if (!list.length) show(place, h("p", { class: "state" }, app.t("blocks.empty")), h("p", { class: "estate-links" }, ...ways));
		else drawList(app, place, matching(list, filter));
	};
	app.blocks.on(draw);
	app.ground.on(draw);
	app.findings.on(draw);
	app.view.on((now, old) => {
		if (now.theme !== old.theme || now.block !== old.block || now.season !== old.season) draw();
	});
	draw();
	return {
		/** @param {string} text */
		filter(text) {
			filter = text;
			draw();
		},
	};
}

/**
 * Blocks whose code, name or variety holds the text; a block's whole address counts as its code.
 * @param {Block[]} list
 * @param {string} text
 */
export function matching(list, text) {
	const wanted = text.trim().toLowerCase().split("/")[0];
	return wanted ? list.filter((b) => [b.code, b.name, b.variety].some((word) => word?.toLowerCase().includes(wanted))) : list;
}

/**
 * @param {App} app
 * @param {HTMLElement} place
 * @param {Block[]} list
 */
function drawList(app, place, list) {
	const { theme, season } = app.view.get();
	const all = app.blocks.get().list;
	const vines = all.reduce((sum, b) => sum + b.totals.vines, 0);
	show(
		place,
		h("p", { class: "estate-line" }, h("strong", {}, app.t("blocks.total")), ["", app.t("app.vines", { n: vines }), headline(app, all)].filter((part, k) => k === 0 || part).join(" · ")),
		list.length ? h("ul", { class: "blocks" }, ...list.map((b) => item(app, b, theme))) : h("p", { class: "state" }, app.t("blocks.none")),
	);
}

/**
 * @param {App} app
 * @param {Block} block
 * @param {import("../lib/model.js").Theme} theme
 */
function item(app, block, theme) {
	const { totals } = block;
	const act = () => {
		app.view.set({ block: block.id, row: null });
		if (block.bounds) app.camera.fit(block.bounds);
	};
	return h(
		"li",
		{},
		h("button", { type: "button", class: "block", data: { key: `block-${block.id}`, block: block.code }, "aria-current": block.id === app.view.get().block ? "true" : null, on: { click: act } },
			h("span", { class: "block-code" }, block.code),
			h("span", { class: "block-name" }, [block.name, block.variety].filter(Boolean).join(" · ")),
			h("span", { class: "block-count" }, app.t("app.vines", { n: totals.vines })),
			shareBar(app, totals, theme),
			h("span", { class: "block-line" }, headline(app, [block]), totals.clashes ? h("span", { class: "alert" }, ` · ${app.t("blocks.clashes", { n: totals.clashes })}`) : null),
		),
	);
}

/** What findings say of the whole estate. @param {App} app @param {number} season */
function estateText(app, season) {
	const found = app.findings.seasons.get(season);
	if (!found) return app.t("found.running");
	const { theme } = app.view.get();
	const sum = (/** @type {(b: import("../lib/findings.js").BlockSummary) => number} */ of) => found.blocks.reduce((n, b) => n + (of(b) || 0), 0);
	if (theme === "patches") return [app.t("found.weak", { n: sum((b) => b.weak) }), app.t("found.likely", { n: sum((b) => b.likely) })].join(", ");
	if (theme === "change") return found.since ? app.t("found.since", { season: String(found.since) }) : app.t("found.no_change");
	return "";
}

/**
 * What the theme says of some blocks, in a few words.
 * @param {App} app
 * @param {Block[]} blocks
 */
function headline(app, blocks) {
	const sum = (/** @type {(b: Block) => number} */ of) => blocks.reduce((n, b) => n + of(b), 0);
	const { theme, season } = app.view.get();
	if (restsOnFindings(theme)) return blocks.length === 1 ? foundText(app, theme, app.findings.summary(blocks[0].id, season)) : estateText(app, season);
	if (theme === "replants") return replantText(app, blocks.map((b) => b.totals));
	if (restsOnPlan(theme)) return planText(app, theme, planSum(blocks), true);
	if (theme === "zones") return ""; // the legend has the rates of a block
	if (theme === "condition") return app.t("blocks.gaps", { n: sum((b) => b.totals.gaps) });
	if (theme === "vigour") {
		const living = sum((b) => b.totals.to_prune);
		// What was weighed is told apart from what has a class or a mean at all: those
		// may rest on scores and estimates. A vine that died since may have a weight.
		const weighed = app.t("blocks.weighed", { share: app.t.percent(Math.min(living, sum((b) => b.totals.weighed ?? 0)), living) });
		const found = blocks.length === 1 ? app.findings.summary(blocks[0].id, season) : undefined;
		if (found && found.state !== "ready") return foundText(app, theme, found);
		if (found && typeof found.mean_kg_m === "number") return `${foundText(app, theme, found)}, ${weighed}`;
		return `${app.t("blocks.classed", { share: app.t.percent(sum((b) => b.totals.vigour.slice(1).reduce((n, k) => n + k, 0)), living) })}, ${weighed}`;
	}
	const done = sum((b) => b.totals.progress.done ?? 0);
	const toPrune = sum((b) => b.totals.to_prune);
	return `${app.t("blocks.done", { share: app.t.percent(done, toPrune) })}, ${app.t("blocks.to_go", { n: toPrune - done - sum((b) => b.totals.progress.skipped ?? 0) })}`;
}

/** What plans give and ask for, over some blocks. @param {Block[]} blocks */
function planSum(blocks) {
	const add = (/** @type {number[]} */ to, /** @type {number[]} */ from) => to.map((n, k) => n + (from[k] ?? 0));
	return blocks.reduce((all, { totals }) => ({
		nodes_planned: all.nodes_planned + (totals.nodes_planned ?? 0), load: add(all.load, totals.load), follow_ups: add(all.follow_ups, totals.follow_ups),
	}), { nodes_planned: 0, load: [0, 0, 0, 0, 0, 0, 0], follow_ups: [0, 0, 0, 0] });
}
