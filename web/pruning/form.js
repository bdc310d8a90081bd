// The form of a block's standards: groups that unfold, each change shown in the
// preview at once, and kept only when somebody says so.

import { onceAtATime } from "../lib/once.js";
import { GROUPS } from "../lib/standards.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { dayText } from "../map/history.js";
import { toast } from "../map/toast.js";
import { deadTable, leafTable } from "./linetables.js";
import { ruleFields, systemFields } from "./kinds.js";
import { mark, settingLine } from "./setting.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/draft.js").Draft} Draft
 * @typedef {{blame: (path: string, text: string) => void, sound: () => boolean}} StandardsForm
 */

/**
 * @param {App} app
 * @param {Draft} draft
 * @param {HTMLElement} place
 * @param {{saved: () => void}} acts
 * @returns {StandardsForm}
 */
export function mountForm(app, draft, place, { saved }) {
	const { t } = app;
	/** @type {import("./setting.js").Fields} */
	const fields = new Map();
	const fold = (/** @type {string} */ name, /** @type {import("../map/dom.js").Child[]} */ ...inside) =>
		h("details", { class: "group", data: { group: name } }, h("summary", {}, t(`group.${name}`)), h("div", { class: "group-body" }, ...inside));
	const plain = (/** @type {string} */ name, /** @type {import("../map/dom.js").Child[]} */ ...more) => fold(name, ...GROUPS[name].map((s) => settingLine(app, draft, fields, s)), ...more);
	const groups = h("div", { class: "groups" });
	const drawGroups = () => {
		const open = [...groups.querySelectorAll("details[open]")].map((d) => /** @type {HTMLElement} */ (d).dataset.group);
		fields.clear();
		show(groups, fold("system", systemFields(app, draft, fields)), fold("rule", ruleFields(app, draft, fields)), plain("limits"),
			fold("leaves", leafTable(app, draft, fields)), plain("dead_buds", deadTable(app, draft, fields)), plain("drought", ...droughtFields(app, draft)),
			plain("wood"), plain("yield"), plain("work"), plain("vigour"), plain("patches"), plain("rows"));
		for (const d of groups.querySelectorAll("details")) d.open = open.length ? open.includes(d.dataset.group) : d.dataset.group === "system" || d.dataset.group === "rule";
	};
	const foot = h("div", { class: "form-foot" });
	const sound = () => {
		const first = [...fields.values()].find((f) => f.wrong);
		if (!first) return true;
		reveal(first.control);
		return false;
	};
	const form = { sound, blame };
	/** @param {string} path @param {string} text */
	function blame(path, text) {
		for (const [p, kept] of fields) if (kept.control.dataset.blamed && p !== path) unblame(kept);
		const kept = path ? fields.get(path) ?? [...fields].find(([p]) => p.startsWith(`${path}.`))?.[1] : undefined;
		if (!kept) return;
		mark(kept, text);
		kept.control.dataset.blamed = "1";
		kept.control.closest("details")?.setAttribute("open", "");
	}
	const keep = keeper(app, saved);
	const drawFoot = () => show(foot, ...footParts(app, draft, form, { keep, undo: () => { draft.undo(); drawGroups(); } }));
	drawGroups();
	drawFoot();
	draft.on(drawFoot);
	show(place, h("section", { class: "part standards no-print", id: "standards", "aria-labelledby": "standards-title" },
		h("h2", { id: "standards-title" }, t("standards.title")), h("p", { class: "hint" }, whose(app, draft.settled)),
		draft.settled.unclear ? h("p", { class: "warning" }, t("standards.unclear", { why: draft.settled.unclear })) : null, groups, foot));
	return form;
}

/** @param {import("./setting.js").Kept} kept */
function unblame(kept) {
	mark(kept, "");
	delete kept.control.dataset.blamed;
}

/** @param {HTMLElement} control */
function reveal(control) {
	control.closest("details")?.setAttribute("open", "");
	control.focus();
}

/** @param {App} app @param {import("../lib/standards.js").Settled} s */
function whose(app, s) {
	const by = s.own && s.made ? app.t("standards.by", { who: s.by || app.t("pruning.nobody"), day: dayText(app, s.made) }) : "";
	return app.t(s.own ? "standards.whose_own" : "standards.whose_estate", { by });
}

/** What belongs to one plan and not to the standards. @param {App} app @param {Draft} draft */
function droughtFields(app, draft) {
	const { t } = app;
	const { drought, untreated_every: every } = draft.wish().options;
	const is = h("input", { type: "checkbox", id: "drought-is", on: { change: () => {
		draft.options({ drought: is.checked, ...(is.checked ? {} : { untreated_every: 0 }) });
		if (!is.checked) rows.value = "0";
		rows.disabled = !is.checked;
	} } });
	is.checked = drought;
	const fault = h("p", { class: "fault", id: "drought-fault", role: "alert" });
	const rows = h("input", { id: "drought-every", class: "short", inputmode: "numeric", "aria-describedby": "drought-fault drought-hint", on: { input: () => {
		const n = /^\d{1,3}$/.test(rows.value.trim()) ? Number(rows.value) : -1;
		fault.textContent = n < 0 || n === 1 ? t("drought.wrong") : "";
		rows.setAttribute("aria-invalid", String(fault.textContent !== ""));
		if (!fault.textContent) draft.options({ untreated_every: n });
	} } });
	rows.value = String(every);
	rows.disabled = !drought;
	return [h("div", { class: "set" }, h("label", { class: "check", for: "drought-is" }, is, t("drought.is"))),
		h("div", { class: "set" }, h("label", { for: "drought-every" }, t("drought.every")), h("div", { class: "set-value" }, rows, h("span", { class: "set-unit" }, t("drought.every_unit"))),
			h("p", { class: "hint", id: "drought-hint" }, t("drought.every_hint")), fault)];
}

/** Saves standards of a block, or of the estate. @param {App} app @param {() => void} saved */
const keeper = (app, saved) => onceAtATime(async (/** @type {number | string | null} */ block, /** @type {object} */ standards) => {
	try {
		await app.api.saveStandards(block, app.by.get(), standards);
		toast(app, app.t("standards.saved"));
		saved();
	} catch (error) {
		toast(app, app.t("standards.not_saved", { why: why(error) }), { trouble: true });
	}
});

/** @param {App} app @param {Draft} draft @param {StandardsForm} form @param {{keep: ReturnType<typeof keeper>, undo: () => void}} acts */
function footParts(app, draft, form, { keep, undo }) {
	const { t } = app;
	const by = h("input", { id: "standards-by", autocomplete: "name", maxlength: "80", data: { key: "standards-by" }, on: { input: () => app.by.set(by.value.trim()) } });
	by.value = app.by.get();
	const who = h("div", { class: "set" }, h("label", { for: "standards-by" }, t("pruning.who")), by);
	const changed = draft.changed();
	return [changed ? h("p", { class: "alert" }, t("standards.changed")) : null, changed || draft.apart() ? who : null,
		h("div", { class: "acts" },
			changed ? button(t("standards.save_block"), () => void (form.sound() && keep(draft.settled.block, draft.forBlock())), { class: "main", data: { key: "save-block" } }) : null,
			changed ? button(t("standards.save_estate"), () => void (form.sound() && keep(null, draft.forEstate())), { data: { key: "save-estate" }, "aria-describedby": "estate-hint" }) : null,
			changed ? button(t("standards.undo"), undo, { data: { key: "undo" } }) : null,
			draft.apart() ? button(t("standards.back"), () => void keep(draft.settled.block, {}), { data: { key: "back" } }) : null),
		changed ? h("p", { class: "hint", id: "estate-hint" }, t("standards.save_estate_hint")) : null];
}
