// The bar of what is chosen: how to choose, how many, and what to record for them.

import { recordForChosen } from "./acts.js";
import { button, h, show } from "./dom.js";
import { openChosenForm } from "./recordform.js";
import { addressOf } from "../lib/stand.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./app.js").ChooseWay} ChooseWay
 */

/** @type {[key: string, fact: import("../lib/records.js").Fact, said: string][]} */
const QUICK = [
	["choose.pruned", { kind: "pruned", value: {} }, "saved.pruned"],
	["choose.redo", { kind: "work", value: { operation: "pruning", progress: "to_redo" } }, "saved.to_redo"],
	["choose.missing", { kind: "condition", value: { condition: "missing" } }, "saved.missing"],
];

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountChooseBar(app, place) {
	let last = 0;
	const draw = () => {
		const { way } = app.choosing.get();
		const n = app.selection.count;
		place.hidden = way === "look" && n === 0;
		document.documentElement.dataset.chosen = String(n);
		if (place.hidden) return show(place);
		const onMap = app.view.get().pane === "map";
		show(place, onMap && way !== "look" ? ways(app, way) : null, onMap && way !== "look" ? h("p", { class: "choose-hint" }, hint(app)) : null, counted(app, n));
		if (n !== last) app.announce(n ? app.t("choose.count", { n }) : app.t("choose.none"));
		last = n;
	};
	app.choosing.on(draw);
	app.selection.on(draw);
	app.view.on((now, old) => {
		if (now.pane !== old.pane) draw();
	});
	draw();
}

/** @param {App} app @param {ChooseWay} way */
function ways(app, way) {
	const one = (/** @type {ChooseWay} */ w) =>
		button(app.t(`choose.${w}`), () => app.choosing.set({ way: w, anchor: null }), { "aria-pressed": String(w === way), data: { key: `way-${w}` } });
	return h("div", { class: "ways", role: "group", "aria-label": app.t("choose.way") }, one("run"), one("row"), one("box"),
		button(app.t("choose.end"), () => app.choosing.set({ way: "look", anchor: null }), { data: { key: "end" } }));
}

/** @param {App} app */
function hint(app) {
	const { way, anchor } = app.choosing.get();
	if (way !== "run") return app.t(`choose.hint_${way}`);
	const stand = anchor && app.stands.peek(anchor.block, app.view.get().season);
	return stand ? app.t("choose.hint_run_last", { address: addressOf(stand, anchor.index) }) : app.t("choose.hint_run_first");
}

/** @param {App} app @param {number} n */
function counted(app, n) {
	const { t } = app;
	if (!n) return null;
	return h("div", { class: "chosen" },
		h("strong", { class: "chosen-count" }, t("choose.count", { n })),
		...QUICK.map(([key, fact, said], k) => button(t(key), () => void recordForChosen(app, fact, said), { class: k === 0 ? "main" : null, data: { key } })),
		button(t("choose.other"), () => openChosenForm(app), { data: { key: "other" } }),
		button(t("choose.clear"), () => app.selection.clear(), { data: { key: "clear" } }));
}
