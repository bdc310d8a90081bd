// What is spread, to which end, and how much in which zone: the second half of the
// order.

import { AIMS, KINDS, RULES, newMaterial } from "../lib/zones.js";
import { h, show } from "../map/dom.js";
import { choiceField, idOf, mark, numberField, textField } from "./field.js";
import { amountUnit, measureOf, metres } from "./measures.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("./field.js").Draft} Draft
 * @typedef {import("./field.js").Fields} Fields
 * @typedef {import("../lib/zones.js").Materials} Materials
 */

/**
 * @param {App} app
 * @param {Draft} draft
 * @param {Fields} fields
 * @param {Materials} materials
 * @param {{keepOwn: () => void}} acts
 */
export function mountRateForm(app, draft, fields, materials, { keepOwn }) {
	const { t } = app;
	const place = h("div", { class: "groups" });
	let zones = 0;
	const draw = () => {
		for (const path of [...fields.keys()]) if (path.startsWith("rates.") || path.startsWith("terminal.") || path.startsWith("grid.")) fields.delete(path);
		const open = new Set([...place.querySelectorAll("details[open]")].map((d) => /** @type {HTMLElement} */ (d).dataset.group));
		const group = (/** @type {string} */ name, /** @type {boolean} */ first, /** @type {import("../map/dom.js").Child[]} */ ...inside) =>
			h("details", { class: "group", open: first || open.has(name), data: { group: name } }, h("summary", {}, t(`zones.group_${name}`)), h("div", { class: "group-body" }, ...inside));
		const { rates } = draft.get();
		const parts = [group("material", true, materialField(app, draft, fields, materials, draw), rates?.material === "own" ? ownFields(app, draft, fields, materials, draw, keepOwn) : null)];
		if (rates?.material) {
			parts.push(group("rate", true, aimField(app, draft, fields), choiceField(draft, fields, { path: "rates.rule", label: t("zones.rule"), of: RULES.map((r) => [r, t(`zones.rule_${r.replaceAll(" ", "_")}`)]), hint: t("zones.rule_hint"), then: draw }),
				unitField(app, draft, fields, materials, draw), ...ruleFields(app, draft, fields, zones)));
			parts.push(group("limits", false, ...limitFields(app, draft, fields, materials)));
			parts.push(group("nitrogen", false, ...nitrogenFields(app, draft, fields, zones)));
			parts.push(group("machine", false, numberField(app, draft, fields, { path: "terminal.width_m", label: t("zones.machine_width"), unit: metres(app), hint: t("zones.machine_width_hint"), high: 200 }),
				numberField(app, draft, fields, { path: "grid.side_m", label: t("zones.side"), unit: metres(app), hint: t("zones.side_hint"), low: 0.5, high: 200, empty: false })));
		}
		show(place, ...parts);
	};
	draw();
	return {
		place, redraw: draw,
		/** How many zones there are now. @param {number} n */
		zones(n) {
			if (n === zones) return;
			zones = n;
			draw();
		},
	};
}

/** The material that rates are worked out for, as it stands in a list. @param {Draft} draft @param {Materials} materials */
export function materialOf(draft, materials) {
	const { rates } = draft.get();
	return rates?.material === "own" ? rates.own : materials.materials.find((m) => m.key === rates?.material) ?? null;
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {Materials} materials @param {() => void} draw */
function materialField(app, draft, fields, materials, draw) {
	const { t } = app;
	const path = "rates.material";
	const fault = h("p", { class: "fault", id: `${idOf(path)}-fault`, role: "alert" });
	const option = (/** @type {string} */ value, /** @type {string} */ text) => h("option", { value }, text);
	const list = h("select", { id: idOf(path), data: { key: idOf(path) }, "aria-describedby": fault.id, on: { change: () => {
		const own = materials.own.find((m) => `own:${m.name}` === list.value) ?? (list.value === "own" ? newMaterial() : null);
		const key = own ? "own" : list.value;
		const unit = own?.unit ?? materials.materials.find((m) => m.key === key)?.unit ?? "";
		draft.set("rates", { ...draft.get().rates, material: key, own, unit });
		draw();
	} } }, option("", t("zones.material_none")), ...materials.materials.map((m) => option(m.key, m.name)), ...materials.own.map((m) => option(`own:${m.name}`, m.name)), option("own", t("zones.material_other")));
	const { rates } = draft.get();
	const known = rates?.own && materials.own.some((m) => m.name === rates.own?.name);
	list.value = rates?.material === "own" ? (known ? `own:${rates.own?.name}` : "own") : rates?.material ?? "";
	fields.set(path, { control: list, fault, wrong: false });
	const m = materialOf(draft, materials);
	const limits = m && m.most > 0 ? t("zones.material_most", { most: t.number(m.most, 2), unit: m.unit, source: "source" in m && m.source ? m.source : t("zones.own_entry") }) : "";
	return h("div", { class: "set" }, h("label", { for: list.id }, t("zones.material")), list, limits ? h("p", { class: "hint" }, limits) : null, fault);
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {Materials} materials @param {() => void} draw @param {() => void} keepOwn */
function ownFields(app, draft, fields, materials, draw, keepOwn) {
	const { t } = app;
	const own = draft.get().rates?.own;
	const spray = own?.kind === "plant protection";
	return h("div", { class: "group-body own-material" },
		textField(draft, fields, { path: "rates.own.name", label: t("zones.own_name") }),
		choiceField(draft, fields, { path: "rates.own.kind", label: t("zones.own_kind"), of: KINDS.map((k) => [k, t(`zones.kind_${k.replaceAll(/[ -]/g, "_")}`)]), then: draw }),
		choiceField(draft, fields, { path: "rates.own.unit", label: t("zones.own_unit"), of: materials.units.map((u) => [u, u]), then: (unit) => { draft.set("rates.unit", unit); draw(); } }),
		spray ? h("p", { class: "warning" }, t("zones.label_wanted")) : null,
		spray ? textField(draft, fields, { path: "rates.own.label_product", label: t("zones.label_product") }) : null,
		spray ? numberField(app, draft, fields, { path: "rates.own.label_least", label: t("zones.label_least"), unit: { factor: 1, word: own?.unit ?? "" } }) : null,
		spray ? numberField(app, draft, fields, { path: "rates.own.label_most", label: t("zones.label_most"), unit: { factor: 1, word: own?.unit ?? "" } }) : null,
		numberField(app, draft, fields, { path: "rates.own.most", label: t("zones.own_most"), unit: { factor: 1, word: own?.unit ?? "" } }),
		h("div", { class: "acts" }, h("button", { type: "button", class: "small", data: { key: "keep-own" }, on: { click: keepOwn } }, t("zones.keep_own"))));
}

/** @param {App} app @param {Draft} draft @param {Fields} fields */
function aimField(app, draft, fields) {
	const { t } = app;
	const fault = h("p", { class: "fault", id: "z-rates-aim-fault", role: "alert" });
	const box = h("fieldset", { id: "z-rates-aim", class: "layers", "aria-describedby": fault.id }, h("legend", {}, t("zones.aim")), ...AIMS.map((aim) => {
		const id = `z-aim-${aim.replaceAll(" ", "-")}`;
		const radio = h("input", { type: "radio", id, name: "z-aim", value: aim, data: { key: id }, on: { change: () => {
			mark(kept, "");
			draft.set("rates.aim", aim);
		} } });
		radio.checked = draft.get().rates?.aim === aim;
		return h("label", { class: "check", for: id }, radio, h("span", {}, t(`zones.aim_${aim.replaceAll(" ", "_")}`), h("span", { class: "hint block" }, t(`zones.aim_${aim.replaceAll(" ", "_")}_hint`))));
	}));
	const kept = { control: box, fault, wrong: false };
	fields.set("rates.aim", kept);
	return h("div", { class: "set" }, box, fault);
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {Materials} materials @param {() => void} draw */
function unitField(app, draft, fields, materials, draw) {
	const m = materialOf(draft, materials);
	const same = materials.units.filter((u) => measureOf(u) === measureOf(m?.unit ?? ""));
	return choiceField(draft, fields, { path: "rates.unit", label: app.t("zones.unit"), of: same.map((u) => [u, u]), hint: app.t("zones.unit_hint"), then: draw });
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {number} zones */
function ruleFields(app, draft, fields, zones) {
	const { t } = app;
	const { rates, columns } = draft.get();
	const unit = { factor: 1, word: rates?.unit ?? "" };
	const each = (/** @type {string} */ path, /** @type {string} */ label, /** @type {typeof unit} */ of) => Array.from({ length: zones }, (_, k) =>
		numberField(app, draft, fields, { path: `rates.${path}.${k}`, label: t(label, { n: String(k + 1) }), unit: of }));
	switch (rates?.rule) {
		case "by zone":
			return each("by_zone", "zones.rate_of_zone", unit);
		case "by factor":
			return [numberField(app, draft, fields, { path: "rates.base", label: t("zones.base"), unit }), ...each("factor", "zones.factor_of_zone", { factor: 1, word: "×" })];
		case "linear":
			return [numberField(app, draft, fields, { path: "rates.base", label: t("zones.base"), unit }), numberField(app, draft, fields, { path: "rates.slope", label: t("zones.slope"), unit, hint: t("zones.slope_hint"), low: -1e9 })];
		default:
			return [choiceField(draft, fields, { path: "rates.column", number: true, label: t("zones.need_column"), of: columns.map((c, k) => [String(k), t(`zones.layer_${c.of}`, { season: String(c.season) })]) }),
				numberField(app, draft, fields, { path: "rates.target", label: t("zones.target"), unit: { factor: 1, word: columns[rates?.column ?? 0]?.of === "vigour" ? "kg/m" : "" } }),
				numberField(app, draft, fields, { path: "rates.per_unit", label: t("zones.per_unit"), unit, hint: t("zones.per_unit_hint") })];
	}
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {Materials} materials */
function limitFields(app, draft, fields, materials) {
	const { t } = app;
	const unit = { factor: 1, word: draft.get().rates?.unit ?? "" };
	const total = amountUnit(app, measureOf(materialOf(draft, materials)?.unit ?? ""));
	return [numberField(app, draft, fields, { path: "rates.floor", label: t("zones.floor"), unit }), numberField(app, draft, fields, { path: "rates.cap", label: t("zones.cap"), unit, hint: t("zones.cap_hint") }),
		numberField(app, draft, fields, { path: "rates.budget", label: t("zones.budget"), unit: total, hint: t("zones.budget_hint") }),
		choiceField(draft, fields, { path: "rates.saving", label: t("zones.saving"), of: ["scaled", "levelled"].map((s) => [s, t(`zones.saving_${s}`)]) }),
		numberField(app, draft, fields, { path: "rates.uniform", label: t("zones.uniform"), unit, hint: t("zones.uniform_hint") }),
		numberField(app, draft, fields, { path: "rates.price", label: t("zones.price", { unit: total.word }), unit: { factor: 1 / total.factor, word: "" }, hint: t("zones.price_hint") })];
}

/** @param {App} app @param {Draft} draft @param {Fields} fields @param {number} zones */
function nitrogenFields(app, draft, fields, zones) {
	const { t } = app;
	const kg = { factor: 1, word: "kg/ha" };
	return [h("p", { class: "hint" }, t("zones.nitrogen_hint")),
		numberField(app, draft, fields, { path: "rates.nitrogen.n_kg_per_t", label: t("zones.nitrogen_content"), unit: { factor: 1, word: "kg/t" }, hint: t("zones.nitrogen_content_hint") }),
		numberField(app, draft, fields, { path: "rates.nitrogen.kg_per_year", label: t("zones.nitrogen_year"), unit: kg }),
		numberField(app, draft, fields, { path: "rates.nitrogen.kg_given", label: t("zones.nitrogen_given"), unit: kg }),
		...Array.from({ length: zones }, (_, k) => numberField(app, draft, fields, { path: `rates.nitrogen.yield_t_per_ha.${k}`, label: t("zones.crop_of_zone", { n: String(k + 1) }), unit: { factor: 1, word: "t/ha" } })),
		numberField(app, draft, fields, { path: "rates.nitrogen.kg_per_tonne", label: t("zones.nitrogen_tonne"), unit: { factor: 1, word: "kg/t" }, hint: t("zones.nitrogen_tonne_hint") })];
}
