// The fields of each kind of record, and how what is typed becomes its value.

import { CONDITIONS, PROGRESS } from "../lib/model.js";
import { readNumber } from "../lib/units.js";
import { h } from "./dom.js";
import { AMOUNTS } from "./history.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {object} Field
 * @property {string} name
 * @property {HTMLElement} line
 * @property {() => any} read the value, undefined for none; throws a Slip
 * @property {(text: string) => void} blame shows what is wrong
 * @property {string} raw what is in it now
 */

export const KINDS = /** @type {const} */ (["condition", "pruned", "work", "measure", "note"]);

/** Something typed that cannot be meant. */
class Slip extends Error {}

/** Impossible values lie beyond these, in stored units; wide guards against slips, as the server has them. */
const RANGES = /** @type {Record<string, [number, number]>} */ ({
	pruning_weight: [0, 20_000], cane_count: [0, 300], cane_diameter: [0, 60], shoot_length: [0, 1_000],
	trunk_girth: [0, 3_000], visual_score: [0, 100], yield: [0, 200_000],
});
const UNITS = /** @type {Record<string, string>} */ ({
	pruning_weight: "g", cane_count: "canes", cane_diameter: "mm", shoot_length: "cm", trunk_girth: "mm", visual_score: "score", yield: "g",
});

/**
 * @param {App} app
 * @param {string} id
 * @param {string} name
 * @param {string} label
 * @param {HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement} control
 * @param {(text: string) => any} read
 * @param {string} [hint]
 * @returns {Field}
 */
function field(app, id, name, label, control, read, hint) {
	control.id = `${id}-${name}`;
	const fault = h("p", { class: "fault", id: `${control.id}-fault`, role: "alert" });
	const note = hint ? h("p", { class: "hint", id: `${control.id}-hint` }, hint) : null;
	control.setAttribute("aria-describedby", [fault.id, note?.id].filter(Boolean).join(" "));
	return {
		name,
		line: h("div", { class: "line" }, h("label", { for: control.id }, label), control, note, fault),
		read: () => read(control.value.trim()),
		get raw() {
			return control.value;
		},
		blame(text) {
			fault.textContent = text;
			control.setAttribute("aria-invalid", text ? "true" : "false");
			if (text) control.focus();
		},
	};
}

/** @param {[string, string][]} options @param {string} [value] @param {() => void} [onChange] */
function select(options, value, onChange) {
	const control = h("select", {}, ...options.map(([v, label]) => h("option", { value: v }, label)));
	if (value) control.value = value;
	if (onChange) control.addEventListener("change", onChange);
	return control;
}

const text = (/** @type {string} */ typed) => typed || undefined;

/** @param {App} app @param {number} from @param {number} to @param {number} example */
function whole(app, from, to, example) {
	return (/** @type {string} */ typed) => {
		if (!typed) return undefined;
		if (!/^\d+$/.test(typed)) throw new Slip(app.t("record.wrong_whole", { example }));
		const n = Number(typed);
		if (n < from || n > to) throw new Slip(app.t("record.wrong_range", { from: String(from), to: String(to) }));
		return n;
	};
}

/** @param {Field[]} before @param {string} name */
function rawOf(before, name) {
	return before.find((f) => f.name === name)?.raw;
}

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
	pruned(app, id) {
		const { t } = app;
		const count = () => h("input", { inputmode: "numeric" });
		return [
			field(app, id, "nodes", t("record.nodes"), count(), whole(app, 0, 400, 12)),
			field(app, id, "canes", t("record.canes"), count(), whole(app, 0, 40, 1)),
			field(app, id, "spurs", t("record.spurs"), count(), whole(app, 0, 60, 1), t("record.as_planned")),
			field(app, id, "reason", t("record.reason"), h("input", { maxlength: "200" }), text),
		];
	},
	work(app, id) {
		const options = PROGRESS.map((p) => /** @type {[string, string]} */ ([p, app.t(`progress.${p}`)]));
		return [field(app, id, "progress", app.t("record.progress"), select(options, "started"), text)];
	},
	measure(app, id, redraw, before) {
		const { t } = app;
		const chosen = rawOf(before, "quantity") ?? "pruning_weight";
		const quantities = Object.keys(UNITS).map((q) => /** @type {[string, string]} */ ([q, t(`quantity.${q}`)]));
		const amount = AMOUNTS[chosen];
		const unit = amount ? app.units.unit(amount) : t(`unit.${UNITS[chosen]}`, { scale: app.estate.score_scale });
		return [
			field(app, id, "quantity", t("record.quantity"), select(quantities, chosen, redraw), text),
			field(app, id, "value", t("record.value", { unit }), h("input", { inputmode: "decimal" }), (typed) => readMeasure(app, chosen, typed)),
		];
	},
	note(app, id) {
		return [field(app, id, "text", app.t("record.note"), h("textarea", { rows: "3", maxlength: "1000" }), (typed) => {
			if (!typed) throw new Slip(app.t("record.missing"));
			return typed;
		})];
	},
};

/** @param {App} app @param {string} quantity @param {string} typed @returns {number} in the stored unit */
function readMeasure(app, quantity, typed) {
	const { t, units } = app;
	if (!typed) throw new Slip(t("record.missing"));
	const n = readNumber(typed);
	if (n === null) throw new Slip(t("record.wrong_number", { example: t.number(1.25, 2) }));
	const amount = AMOUNTS[quantity];
	const stored = amount ? units.stored(amount, n) : n;
	const [from, to] = RANGES[quantity];
	if (stored < from || stored > to) {
		const write = (/** @type {number} */ v) => t.number(amount ? units.shown(amount, v) : v, 1);
		throw new Slip(t("record.wrong_range", { from: write(from), to: write(to) }));
	}
	return Number(stored.toPrecision(10));
}

/**
 * The fact in a form, or null after the first slip has been shown.
 * @param {App} app
 * @param {string} kind
 * @param {Field[]} fields
 * @returns {import("../lib/records.js").Fact | null}
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
	if (kind === "measure") {
		value.unit = UNITS[value.quantity];
		if (value.quantity === "visual_score" && app.estate.score_scale) value.scale = app.estate.score_scale;
		else if (app.units.us && AMOUNTS[value.quantity]) value.scale = app.units.unit(AMOUNTS[value.quantity]);
	}
	return { kind, value };
}
