// The bar of what is chosen: how to choose, how many, and what to record for them.

import { recordForChosen } from "./acts.js";
import { button, h, show } from "./dom.js";
import { openLoadForm } from "./overrideform.js";
import { openChosenForm } from "./recordform.js";
import { vinesInside } from "../lib/ground.js";
import { COLUMN_OF, living, tellsGaps } from "../lib/model.js";
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
 * @param {{inView: () => import("./legend.js").InView | null}} from
 */
export function mountChooseBar(app, place, { inView }) {
	let last = 0;
	const draw = () => {
		const { way } = app.choosing.get();
		const n = app.selection.count;
		place.hidden = way === "look" && n === 0;
		document.documentElement.dataset.chosen = String(n);
		if (place.hidden) return show(place);
		const onMap = app.view.get().pane === "map";
		show(place, onMap && way !== "look" ? ways(app, way, () => chooseShown(app, inView())) : null, onMap && way !== "look" ? h("p", { class: "choose-hint" }, hint(app)) : null, counted(app, n));
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

/**
 * Chooses what is in view; where one class is shown alone, only that.
 * @param {App} app
 * @param {import("./legend.js").InView | null} view
 */
function chooseShown(app, view) {
	if (!view) return app.announce(app.t("choose.closer"));
	const { theme, only } = app.view.get();
	for (const stand of view.stands) {
		const shown = vinesInside(stand, view.corners).filter((i) => only === null || (stand[COLUMN_OF[theme]][i] === only && (tellsGaps(theme) || living(stand.condition[i]))));
		if (shown.length) app.selection.set(stand, shown);
	}
}

/** @param {App} app @param {ChooseWay} way @param {() => void} shown */
function ways(app, way, shown) {
	const one = (/** @type {ChooseWay} */ w) =>
		button(app.t(`choose.${w}`), () => app.choosing.set({ way: w, anchor: null }), { "aria-pressed": String(w === way), data: { key: `way-${w}` } });
	return h("div", { class: "ways", role: "group", "aria-label": app.t("choose.way") }, one("run"), one("row"), one("box"),
		button(app.t("choose.shown"), shown, { data: { key: "shown" } }),
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
		button(t("choose.load"), () => openLoadForm(app), { data: { key: "load" } }),
		button(t("choose.other"), () => openChosenForm(app), { data: { key: "other" } }),
		button(t("choose.clear"), () => app.selection.clear(), { data: { key: "clear" } }));
}
