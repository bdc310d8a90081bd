// The fields of each kind of record, and how what is typed becomes its value.

import { CONDITIONS, PROGRESS } from "../lib/model.js";
import { h } from "./dom.js";
import { Slip, field, rawOf, select, text, whole } from "./field.js";
import { measureFacts, measureFields } from "./measurefields.js";
import { prunedFact, prunedFields } from "./prunedfields.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./field.js").Field} Field
 */

export const KINDS = /** @type {const} */ (["condition", "pruned", "work", "measure", "note"]);

/** @type {Record<(typeof KINDS)[number], (app: App, id: string, redraw: () => void, before: Field[]) => Field[]>} */
export const FIELDS = {
	condition(app, id, redraw, before) {
		const { t } = app;
		const chosen = rawOf(before, "condition") ?? "bearing";
		const options = CONDITIONS.slice(1).map((c) => /** @type {[string, string]} */ ([c, t(`condition.${c}`)]));
		const season = app.view.get().season;
		const list = [
			field(app, id, "condition", t("record.condition"), select(options, chosen, redraw), text),
			field(app, id, "cause", t("record.cause"), h("input", { maxlength: "200" }), text, t("record.cause_hint")),
		];
		if (chosen === "doubtful" || chosen === "weak" || chosen === "diseased")
			list.push(field(app, id, "look_again", t("record.look_again"), h("input", { type: "date" }), (day) => (day ? `${day}T12:00:00Z` : undefined)));
		if (chosen === "replanted")
			list.push(
				field(app, id, "planted", t("record.planted"), h("input", { inputmode: "numeric" }), whole(app, 1850, 2200, season)),
				...["rootstock", "clone", "batch"].map((name) => field(app, id, name, t(`record.${name}`), h("input", { maxlength: "80" }), text)));
		return list;
	},
	pruned: prunedFields,
	work(app, id) {
		const options = PROGRESS.map((p) => /** @type {[string, string]} */ ([p, app.t(`progress.${p}`)]));
		return [field(app, id, "progress", app.t("record.progress"), select(options, "started"), text)];
	},
	measure: measureFields,
	note(app, id) {
		return [field(app, id, "text", app.t("record.note"), h("textarea", { rows: "3", maxlength: "1000" }), (typed) => {
			if (!typed) throw new Slip(app.t("record.missing"));
			return typed;
		})];
	},
};

/**
 * The facts in a form, or null after the first slip has been shown.
 * @param {App} app
 * @param {string} kind
 * @param {Field[]} fields
 * @returns {import("../lib/records.js").Fact[] | null}
 */
export function readForm(app, kind, fields) {
	/** @type {Record<string, any>} */
	const value = {};
	let slips = 0;
	for (const f of fields) {
		try {
			const got = f.read();
			f.blame("");
			if (got !== undefined) value[f.name] = got;
		} catch (error) {
			if (!(error instanceof Slip)) throw error;
			if (slips++ === 0) f.blame(error.message);
		}
	}
	if (slips) return null;
	if (kind === "work") value.operation = "pruning";
	const facts = kind === "measure" ? measureFacts(value) : [{ kind, value: kind === "pruned" ? prunedFact(value) : value }];
	if (facts.length) return facts;
	fields[1].blame(app.t("record.missing"));
	return null;
}
