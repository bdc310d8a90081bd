// A measure of the vine in front, in an ordinary row: which quantity, in which
// unit, how much.

import { keep, indexOf } from "./acts.js";
import { BY_HAND, SCALES, amountText, unitFor, unitsOf } from "./amount.js";
import { amountPad } from "./amountpad.js";
import { inRow } from "./rowscreen.js";
import { h, tap, title } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./acts.js").Here} Here
 */

/** @param {App} app @param {Here} here @param {string} quantity "": to be chosen */
export function measureScreen(app, here, quantity) {
	const { t } = app;
	if (!BY_HAND.includes(quantity)) {
		return [title(t("measure.title", { number: String(here.walk.spots[indexOf(here)].number) })),
			h("div", { class: "stack" }, ...BY_HAND.map((q) => tap(t(`quantity.${q}`), null, () => app.go(inRow(here, `measure-${q}`)), { key: `measure-${q}` })))];
	}
	const own = app.kept?.bundle.estate.score_scale ?? "";
	const scored = quantity === "visual_score";
	if (scored && !own && !app.settings.scale) return scaleScreen(app);
	return entryScreen(app, here, quantity, scored ? own || app.settings.scale : "");
}

/** @param {App} app @param {Here} here @param {string} quantity @param {string} scale */
function entryScreen(app, here, quantity, scale) {
	const { t, settings } = app;
	const spot = here.walk.spots[indexOf(here)];
	const unit = () => unitFor(quantity, settings.units[quantity], !!app.kept?.bundle.estate.us_units);
	const pad = amountPad(app, {
		what: () => ({ quantity, unit: unit(), spacingM: here.row.vine_spacing_m ?? 0, scale }),
		onUnit: (u) => void app.set({ units: { ...settings.units, [quantity]: u } }),
		keep: async (value) => {
			if (!(await keep(app, here, [{ fact: { kind: "measure", value }, vines: [spot.id] }]))) return;
			app.said = t("mark.said", { number: String(spot.number), what: measureText(app, value) });
			app.go(inRow(here));
		},
	});
	return [
		h("div", { class: "where" }, title(t("end.go_to", { number: String(spot.number) })), h("p", { class: "slot strong" }, t(`quantity.${quantity}`)), pad.said),
		h("div", { class: "dock weigh-dock" }, pad.numbers, pad.save),
	];
}

/** The scale of scores is asked for once, where the estate has none. @param {App} app */
function scaleScreen(app) {
	return [title(app.t("measure.scale")), h("div", { class: "stack" }, ...SCALES.map((s) => tap(s, null, () => {
		app.set({ scale: s });
		app.draw();
	}, { key: `scale-${s}` })))];
}

/** A measure in words, as it was written. @param {App} app @param {Record<string, any>} value body of the event */
export function measureText({ t }, { quantity, unit, scale, value }) {
	if (!BY_HAND.includes(quantity)) return `${quantity} ${value}`;
	return `${t(`quantity.${quantity}`)} ${amountText(t, quantity, value, unitsOf(quantity).includes(scale) ? scale : unit)}`;
}
