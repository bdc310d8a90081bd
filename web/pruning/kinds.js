// The training system and the load rule: each has kinds, and every kind fields of
// its own.

import { RULES, RULE_STARTS, systemSettings, tidySystem } from "../lib/standards.js";
import { h, show } from "../map/dom.js";
import { scoreTable } from "./linetables.js";
import { settingLine } from "./setting.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/draft.js").Draft} Draft
 * @typedef {import("./setting.js").Fields} Fields
 */

const OWN = "own";

/** @param {App} app @param {Draft} draft @param {Fields} fields */
export function systemFields(app, draft, fields) {
	const { t } = app;
	const { systems } = draft.settled;
	const body = h("div", { class: "group-body" });
	const known = (/** @type {string} */ key) => systems.find((s) => s.key === key);
	const list = h("select", { id: "system-which" }, ...systems.map((s) => h("option", { value: s.key }, s.name)), h("option", { value: OWN }, t("system.own")));
	const now = draft.get("pruning.system");
	const same = known(now.key);
	list.value = same && JSON.stringify(same) === JSON.stringify(now) ? now.key : OWN;
	const draw = () => {
		for (const path of [...fields.keys()]) if (path.startsWith("pruning.system.")) fields.delete(path);
		if (list.value !== OWN) return show(body, h("p", { class: "hint" }, described(app, draft.get("pruning.system"))));
		show(body, ...systemSettings(draft.get("pruning.system")).map((s) => settingLine(app, draft, fields, s, s.path.endsWith("canes_per_arm") || s.path.endsWith("spur_spacing_m") ? retidy : undefined)));
	};
	/** Fields come and go with the first cane; where none do, nobody is disturbed. */
	const retidy = () => {
		const before = systemSettings(draft.get("pruning.system")).length;
		draft.set("pruning.system", tidySystem(draft.get("pruning.system")));
		if (before !== [...fields.keys()].filter((p) => p.startsWith("pruning.system.")).length) draw();
		else for (const path of ["pruning.system.spurs_per_arm"]) refresh(draft, fields, path);
		document.getElementById("set-system_canes_per_arm")?.focus();
	};
	list.addEventListener("change", () => {
		const chosen = known(list.value);
		draft.set("pruning.system", chosen ?? { ...tidySystem(draft.get("pruning.system")), key: OWN, name: t("system.own") });
		draw();
	});
	draw();
	return h("div", { class: "kind" }, h("div", { class: "set" }, h("label", { for: "system-which" }, t("system.which")), list), body);
}

/** Puts a field that another one changed right. @param {Draft} draft @param {Fields} fields @param {string} path */
function refresh(draft, fields, path) {
	const control = fields.get(path)?.control;
	if (control instanceof HTMLInputElement && document.activeElement !== control) control.value = String(draft.get(path) ?? 0);
}

/** A known system in a line. @param {App} app @param {import("../lib/standards.js").System} s */
function described(app, s) {
	const { t } = app;
	const parts = [t("system.arms", { n: s.arms })];
	if (s.canes_per_arm > 0) parts.push(t("system.canes", { n: s.most_canes || s.arms * s.canes_per_arm, least: s.least_nodes_per_cane ?? 0, most: s.most_nodes_per_cane ?? 0 }));
	parts.push(s.spur_spacing_m ? t("system.spacing", { length: app.units.us ? `${t.number(s.spur_spacing_m / 0.0254, 1)} ${t("in.in")}` : `${t.number(s.spur_spacing_m * 100, 1)} ${t("in.cm")}`, nodes: s.nodes_per_spur }) : t("system.spurs", { n: s.arms * s.spurs_per_arm, nodes: s.nodes_per_spur }));
	return `${parts.join(", ")}.`;
}

/** @param {App} app @param {Draft} draft @param {Fields} fields */
export function ruleFields(app, draft, fields) {
	const { t } = app;
	const body = h("div", { class: "group-body" });
	const kinds = Object.keys(RULES);
	const list = h("select", { id: "rule-kind" }, ...kinds.map((k) => h("option", { value: k }, t(`rule.${k}`))));
	list.value = draft.get("pruning.load_rule.kind");
	const draw = () => {
		for (const path of [...fields.keys()]) if (path.startsWith("pruning.load_rule.")) fields.delete(path);
		const kind = list.value;
		show(body, h("p", { class: "hint", id: "rule-why" }, t(`rule.why_${kind}`)), kind === "effective_shoots" ? scoreTable(app, draft, fields) : null, ...RULES[kind].map((s) => settingLine(app, draft, fields, s)));
	};
	list.addEventListener("change", () => {
		draft.set("pruning.load_rule", RULE_STARTS[list.value]);
		draw();
	});
	draw();
	return h("div", { class: "kind" }, h("div", { class: "set" }, h("label", { for: "rule-kind" }, t("rule.kind")), list), body);
}
