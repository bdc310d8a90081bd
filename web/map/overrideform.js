// A person decides what some vines are to carry, whatever the rules say: for one
// vine in its panel, or for all that are chosen.

import { onceAtATime } from "../lib/once.js";
import { why } from "./app.js";
import { button, h } from "./dom.js";
import { Slip, field, text, whole } from "./field.js";
import { toast } from "./toast.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {{block: number, vines: number[]}} Where
 */

/**
 * @param {App} app
 * @param {string} id
 * @param {string} title
 * @param {{blocks: Where[], before: import("../lib/pruning.js").Override | null, close: (done: boolean) => void}} parts before: what was decided already
 */
export function overrideForm(app, id, title, { blocks, before, close }) {
	const { t } = app;
	const number = (/** @type {number | undefined} */ n) => {
		const control = h("input", { inputmode: "numeric" });
		if (n !== undefined && n >= 0) control.value = String(n);
		return control;
	};
	const reason = h("input", { maxlength: "200" });
	reason.value = before?.reason ?? "";
	const nodes = field(app, id, "nodes", t("override.nodes"), number(before?.nodes), whole(app, 2, 400, 12));
	const canes = field(app, id, "canes", t("override.canes"), number(before?.canes), whole(app, 0, 40, 1), t("override.empty"));
	const because = field(app, id, "reason", t("override.reason"), reason, text);
	const by = h("input", { id: `${id}-by`, autocomplete: "name", maxlength: "80" });
	by.value = app.by.get();
	const all = blocks.reduce((n, b) => n + b.vines.length, 0);
	const { season } = app.view.get();
	const send = onceAtATime(async (/** @type {object} */ wish, /** @type {string} */ said) => {
		app.by.set(by.value.trim());
		try {
			for (const { block, vines } of blocks) await app.api.override(block, /** @type {any} */ ({ season, by: app.by.get(), vines, ...wish }));
			toast(app, t(said, { n: all }));
			close(true);
		} catch (error) {
			toast(app, t("override.failed", { why: why(error) }), { trouble: true });
		}
	});
	const submit = (/** @type {Event} */ e) => {
		e.preventDefault();
		const values = [nodes, canes, because].map((f) => {
			try {
				f.blame("");
				return f.read();
			} catch (error) {
				if (!(error instanceof Slip)) throw error;
				f.blame(error.message);
				return null;
			}
		});
		if (values.includes(null)) return;
		if (values[0] === undefined && values[1] === undefined) return nodes.blame(t("override.nothing"));
		if (!values[2]) return because.blame(t("override.why"));
		void send({ nodes: values[0] ?? -1, canes: values[1] ?? -1, reason: values[2] }, "override.saved");
	};
	return h("form", { class: "record-form override-form", novalidate: true, on: { submit } }, h("h3", { id: `${id}-title` }, title), nodes.line, canes.line, because.line,
		h("div", { class: "line" }, h("label", { for: by.id }, t("pruning.who")), by), h("p", { class: "hint" }, t("override.season", { season: String(season) })),
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("override.save")),
			before || all > 1 ? button(t("override.clear"), () => void send({ clear: true, nodes: -1, canes: -1, reason: reason.value.trim() }, "override.cleared")) : null,
			button(t("record.cancel"), () => close(false))));
}

/** The form for all chosen vines, in a dialog. @param {App} app */
export function openLoadForm(app) {
	const { season } = app.view.get();
	const blocks = [...app.selection.blocks.values()].map(({ stand, indexes }) => ({ block: stand.block, vines: [...indexes].map((i) => stand.id[i]) }));
	const dialog = h("dialog", { class: "dialog", "aria-labelledby": "load-title" });
	const close = (/** @type {boolean} */ done) => {
		dialog.close();
		if (done) for (const { block } of blocks) void app.stands.refresh(block, false, season).catch(() => {});
	};
	dialog.append(overrideForm(app, "load", app.t("override.title_many", { n: app.selection.count }), { blocks, before: null, close }));
	document.body.append(dialog);
	dialog.addEventListener("close", () => dialog.remove());
	dialog.showModal();
}
