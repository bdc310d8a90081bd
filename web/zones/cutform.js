// From what a block is cut, how, and how smooth: the first half of the order.

import { METHODS } from "../lib/zones.js";
import { h } from "../map/dom.js";
import { choiceField, numberField, tickField } from "./field.js";
import { metres, squares } from "./measures.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("./field.js").Draft} Draft
 * @typedef {import("./field.js").Fields} Fields
 */

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {import("../lib/zones.js").ZonesList} list */
export function cutFields(app, draft, fields, list) {
	const { t } = app;
	const group = (/** @type {string} */ name, /** @type {import("../map/dom.js").Child[]} */ ...inside) =>
		h("details", { class: "group", open: true, data: { group: name } }, h("summary", {}, t(`zones.group_${name}`)), h("div", { class: "group-body" }, ...inside));
	return [
		group("layers", layers(app, draft, fields, list)),
		group("cut",
			choiceField(draft, fields, { path: "zones.method", label: t("zones.method"), of: METHODS.map((m) => [m, t(`zones.method_${m.replaceAll(/[ -]/g, "_")}`)]), hint: t("zones.method_hint") }),
			choiceField(draft, fields, { path: "zones.zones", number: true, label: t("zones.number"), of: [2, 3, 4, 5, 6].map((n) => [String(n), t("zones.count", { n })]), hint: t("zones.number_hint") })),
		group("smooth",
			numberField(app, draft, fields, { path: "zones.least_m2", label: t("zones.least"), unit: squares(app), hint: t("zones.least_hint"), low: 1, empty: false }),
			numberField(app, draft, fields, { path: "zones.width_m", label: t("zones.width"), unit: metres(app), hint: t("zones.width_hint", { spacing: app.units.text("spacing", list.row_spacing_m) }), high: 200 }),
			numberField(app, draft, fields, { path: "zones.rows_per_pass", label: t("zones.passes"), hint: t("zones.passes_hint"), whole: true, high: 100 }),
			tickField(draft, fields, { path: "zones.whole_rows", label: t("zones.whole_rows"), hint: t("zones.whole_rows_hint") }),
			numberField(app, draft, fields, { path: "zones.reaction_m", label: t("zones.reaction"), unit: metres(app), hint: t("zones.reaction_hint"), low: 0.1, high: 1000, empty: false }),
			choiceField(draft, fields, { path: "zones.rounds", number: true, label: t("zones.rounds"), of: [-1, 1, 2, 3, 5, 8].map((n) => [String(n), n < 0 ? t("zones.rounds_none") : t("zones.rounds_n", { n })]), hint: t("zones.rounds_hint") })),
	];
}

/** Which layers count, and how much. @param {App} app @param {Draft} draft @param {Fields} fields @param {import("../lib/zones.js").ZonesList} list */
function layers(app, draft, fields, list) {
	const { t } = app;
	const fault = h("p", { class: "fault", id: "z-columns-fault", role: "alert" });
	const box = h("fieldset", { id: "z-columns", "aria-describedby": "z-columns-fault", class: "layers" }, h("legend", { class: "out-of-sight" }, t("zones.group_layers")));
	if (!list.layers.length) return h("p", { class: "state" }, t("zones.no_layers"));
	for (const layer of list.layers) {
		const id = `z-layer-${layer.of}-${layer.season}`.replaceAll("_", "-");
		const is = (/** @type {import("../lib/zones.js").Column} */ c) => c.of === layer.of && c.season === layer.season;
		const tick = h("input", { type: "checkbox", id, data: { key: id }, on: { change: () => {
			const { columns } = draft.get();
			const next = tick.checked ? [...columns, { of: layer.of, season: layer.season, weight: 1 }] : columns.filter((c) => !is(c));
			if (!next.length) {
				fault.textContent = t("zones.one_layer_least");
				tick.checked = true;
				return;
			}
			fault.textContent = "";
			draft.set("columns", next.sort((a, b) => a.season - b.season || a.of.localeCompare(b.of)));
		} } });
		tick.checked = draft.get().columns.some(is);
		box.append(h("label", { class: "check", for: id }, tick, h("span", {}, t(`zones.layer_${layer.of}`, { season: String(layer.season) }), h("span", { class: "hint block" }, t("zones.measured", { n: layer.vines })))));
	}
	fields.set("columns", { control: box, fault, wrong: false });
	return h("div", { class: "set" }, box, h("p", { class: "hint" }, t("zones.layers_hint")), fault);
}
