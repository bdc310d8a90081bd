// The fields of each kind of record, and how what is typed becomes its value.

import { CONDITIONS, PROGRESS, living } from "../lib/model.js";
import { addressOf, rowOf } from "../lib/stand.js";
import { vineInHand } from "./acts.js";
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
		if (chosen === "replanted") {
			// A layer is a cane of a neighbour: it comes with no delivery and stands on its own roots.
			const neighbours = id === "vine" ? neighboursOf(app) : [];
			const mother = rawOf(before, "mother") ?? "";
			list.push(field(app, id, "planted", t("record.planted"), h("input", { inputmode: "numeric" }), whole(app, 1850, 2200, season)));
			if (neighbours.length) list.push(field(app, id, "mother", t("record.mother"), select([["", t("record.no_mother")], ...neighbours], mother, redraw), (typed) => (typed ? Number(typed) : undefined), t("record.mother_hint")));
			list.push(...(mother ? ["clone"] : ["rootstock", "clone", "batch"]).map((name) => field(app, id, name, t(`record.${name}`), h("input", { maxlength: "80" }), text)));
		}
		// What was typed stays when another choice draws the fields anew.
		for (const f of list) f.raw = rawOf(before, f.name) || f.raw;
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

/** The living vines beside the one in hand, in its row, by id. @param {App} app @returns {[string, string][]} */
function neighboursOf(app) {
	const hand = vineInHand(app);
	if (!hand) return [];
	const { stand, index } = hand;
	const row = rowOf(stand, index);
	return [index - 1, index + 1].filter((i) => i >= 0 && i < stand.count && rowOf(stand, i) === row && living(stand.condition[i])).map((i) => [String(stand.id[i]), addressOf(stand, i)]);
}

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
