// The fields of what was left on a vine: as instructed, in numbers, or arm by arm.

import { tidyArm } from "../lib/left.js";
import { armsField } from "./armsfield.js";
import { h } from "./dom.js";
import { Slip, field, rawOf, select, text, whole } from "./field.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./field.js").Field} Field
 */

const WAYS = ["told", "totals", "arms"];

/** @param {App} app @param {string} id @param {() => void} redraw @param {Field[]} before @returns {Field[]} */
export function prunedFields(app, id, redraw, before) {
	const { t } = app;
	const way = rawOf(before, "way") ?? "told";
	const choice = field(app, id, "way", t("record.left_how"), select(WAYS.map((w) => /** @type {[string, string]} */ ([w, t(`record.left_${w}`)])), way, redraw), text);
	if (way === "told") return [choice];
	const why = h("input", { maxlength: "200" });
	why.value = rawOf(before, "reason") ?? "";
	const reason = field(app, id, "reason", t("record.reason"), why, text);
	if (way === "arms") return [choice, armsField(app, id), reason];
	const count = () => h("input", { inputmode: "numeric" });
	const nodes = field(app, id, "nodes", t("record.nodes"), count(), whole(app, 0, 400, 12));
	const canes = field(app, id, "canes", t("record.canes"), count(), whole(app, 0, 40, 1));
	const spurs = field(app, id, "spurs", t("record.spurs"), count(), whole(app, 0, 60, 1));
	const read = nodes.read;
	nodes.read = () => {
		const n = read();
		if (n === undefined && !canes.raw.trim() && !spurs.raw.trim()) throw new Slip(t("record.left_missing"));
		return n;
	};
	return [choice, nodes, canes, spurs, reason];
}

/** What the fields say, as it is recorded. @param {Record<string, any>} read by field */
export function prunedFact({ way, arms, ...rest }) {
	return { ...rest, ...(arms ? { arms: arms.map(tidyArm) } : {}) };
}
