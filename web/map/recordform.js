// The form to record something about one vine, or about all that are chosen.

import { record, recordForChosen } from "./acts.js";
import { QUANTITIES, unlikely } from "../lib/measures.js";
import { sending } from "../lib/once.js";
import { blockOf } from "./app.js";
import { button, h, show } from "./dom.js";
import { FIELDS, KINDS, readForm } from "./recordfields.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Vine} Vine
 */

/**
 * The form of the vine panel, closed until it is wanted.
 * @param {App} app
 * @param {{vine: () => Vine | null}} of
 */
export function mountRecordForm(app, { vine }) {
	const element = h("div", { class: "record" });
	const close = () => show(element, button(app.t("vine.add"), open, { class: "main", data: { key: "add" } }));
	const open = () => {
		const one = vine();
		if (!one) return;
		const form = recordForm(app, "vine", app.t("record.title_vine", { address: one.address }), close, () => blockOf(app, one.block.id)?.vine_spacing_m ?? 0, (facts, said) =>
			record(app, [{ block: one.block.id, row: one.row.id, vines: [one.id] }], app.view.get().season, facts, said));
		show(element, form);
		form.querySelector("select")?.focus();
	};
	close();
	return { element, reset: close };
}

/**
 * The form for all chosen vines, in a dialog.
 * @param {App} app
 */
export function openChosenForm(app) {
	const dialog = h("dialog", { class: "dialog", "aria-labelledby": "chosen-title" });
	const close = () => {
		dialog.close();
		dialog.remove();
	};
	dialog.append(recordForm(app, "chosen", app.t("record.title_many", { n: app.selection.count }), close, () => widest(app), (facts, said) => recordForChosen(app, facts[0], said)));
	document.body.append(dialog);
	dialog.addEventListener("close", () => dialog.remove());
	dialog.showModal();
}

/**
 * @param {App} app
 * @param {string} name
 * @param {string} title
 * @param {() => void} close
 * @param {() => number} spacing metres of row that a vine has
 * @param {(facts: import("../lib/records.js").Fact[], said: string) => Promise<boolean>} save
 */
function recordForm(app, name, title, close, spacing, save) {
	const { t } = app;
	const kind = h("select", { id: `${name}-kind` }, ...KINDS.map((k) => h("option", { value: k }, t(`record.kind_${k}`))));
	const fields = h("div", { class: "fields" });
	const by = h("input", { id: `${name}-by`, autocomplete: "name", maxlength: "80" });
	by.value = app.by.get();
	/** @type {import("./recordfields.js").Field[]} */
	let shown = [];
	const draw = () => {
		shown = FIELDS[/** @type {keyof typeof FIELDS} */ (kind.value)](app, name, draw, shown);
		show(fields, ...shown.map((f) => f.line));
	};
	kind.addEventListener("change", () => {
		shown = [];
		draw();
	});
	draw();
	const season = String(app.view.get().season);
	let warned = "";
	const doubt = h("div", { class: "doubt", role: "alert" });
	const keep = h("button", { type: "submit", class: "main" }, t("record.save"));
	const form = h("form", { class: "record-form", novalidate: true },
		h("h3", { id: `${name}-title` }, title),
		h("div", { class: "line" }, h("label", { for: kind.id }, t("record.kind")), kind),
		fields,
		h("div", { class: "line" }, h("label", { for: by.id }, t("record.by")), by),
		h("p", { class: "hint" }, t("record.season_hint", { season })),
		h("p", { class: "hint" }, t("record.caution")),
		doubt,
		h("div", { class: "acts" }, keep, button(t("record.cancel"), close)));
	/** Told once; recording it again after that means it. @param {string} text */
	const warn = (text) => {
		warned = text;
		show(doubt, h("p", {}, text));
		keep.textContent = t("record.all_the_same");
		keep.focus();
	};
	form.addEventListener("input", () => {
		if (!warned) return;
		warned = "";
		show(doubt);
		keep.textContent = t("record.save");
	});
	form.addEventListener("submit", sending(async () => {
		const facts = readForm(app, kind.value, shown);
		if (!facts) return;
		const odd = facts.map((f) => oddText(app, f, spacing())).filter(Boolean).join(" ");
		if (odd && odd !== warned) return warn(odd);
		app.by.set(by.value.trim());
		if (await save(facts, "saved.any")) close();
	}));
	return form;
}

/** The widest spacing among the blocks with chosen vines. @param {App} app */
function widest(app) {
	return Math.max(0, ...[...app.selection.blocks.keys()].map((id) => blockOf(app, id)?.vine_spacing_m ?? 0));
}

/**
 * Why a measure is unlikely, in the unit it was written in; empty where it is not.
 * @param {App} app
 * @param {import("../lib/records.js").Fact} fact
 * @param {number} vineSpacingM
 */
function oddText(app, { kind, value: v }, vineSpacingM) {
	if (kind !== "measure") return "";
	const { t } = app;
	const value = v.value ?? v.values[0];
	const odd = unlikely(v.quantity, value, { vineSpacingM, scale: v.scale });
	if (!odd) return "";
	const { entered } = QUANTITIES[v.quantity];
	const unit = v.scale in entered ? v.scale : v.unit;
	const write = (/** @type {number} */ n) => t.number(n / (entered[unit] ?? 1), 2);
	return t("record.unlikely", { value: write(value), unit: t(`unit.${unit}`, { scale: v.scale ?? "" }), quantity: t(`quantity.${v.quantity}`), least: write(odd.least), most: write(odd.most) });
}
