// The form to record something about one vine, or about all that are chosen.

import { record, recordForChosen } from "./acts.js";
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
		const form = recordForm(app, "vine", app.t("record.title_vine", { address: one.address }), close, (fact, said) =>
			record(app, [{ block: one.block.id, row: one.row.id, vines: [one.id] }], app.view.get().season, fact, said));
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
	dialog.append(recordForm(app, "chosen", app.t("record.title_many", { n: app.selection.count }), close, (fact, said) => recordForChosen(app, fact, said)));
	document.body.append(dialog);
	dialog.addEventListener("close", () => dialog.remove());
	dialog.showModal();
}

/**
 * @param {App} app
 * @param {string} name
 * @param {string} title
 * @param {() => void} close
 * @param {(fact: import("../lib/records.js").Fact, said: string) => Promise<boolean>} save
 */
function recordForm(app, name, title, close, save) {
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
	const form = h("form", { class: "record-form", novalidate: true },
		h("h3", { id: `${name}-title` }, title),
		h("div", { class: "line" }, h("label", { for: kind.id }, t("record.kind")), kind),
		fields,
		h("div", { class: "line" }, h("label", { for: by.id }, t("record.by")), by),
		h("p", { class: "hint" }, t("record.season_hint", { season })),
		h("p", { class: "hint" }, t("record.caution")),
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("record.save")), button(t("record.cancel"), close)));
	form.addEventListener("submit", async (e) => {
		e.preventDefault();
		const fact = readForm(app, kind.value, shown);
		if (!fact) return;
		app.by.set(by.value.trim());
		if (await save(fact, "saved.any")) close();
	});
	return form;
}
