// Everything recorded about one vine, newest first; what was taken back stays in
// sight, struck through.

import { QUANTITIES } from "../lib/measures.js";
import { takeBack } from "./acts.js";
import { button, h } from "./dom.js";
import { zoneOf } from "./legend.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").LoggedEvent} LoggedEvent
 */

/**
 * @param {App} app
 * @param {import("../lib/model.js").Vine} vine
 */
export function history(app, vine) {
	const { t } = app;
	const waiting = app.outbox.state.entries.filter(({ event }) => about(event, vine)).map(({ event }) => event);
	const known = new Set(waiting.map((e) => e.id));
	const logged = vine.events.filter((e) => !known.has(e.id));
	const all = [...waiting.reverse(), ...logged];
	if (!all.length) return h("p", { class: "state" }, t("vine.no_history"));
	const taken = new Set(waiting.filter((e) => e.kind === "void").map((e) => e.value.event));
	const byId = new Map(all.map((e) => [e.id, e]));
	return h("ol", { class: "history" }, ...all.map((event) => entry(app, event, {
		waiting: known.has(event.id),
		voided: /** @type {LoggedEvent} */ (event).voided || taken.has(event.id),
		of: event.kind === "void" ? byId.get(event.value.event) : undefined,
		vine: vine.id,
	})));
}

/**
 * @param {import("../lib/model.js").FieldEvent} event
 * @param {import("../lib/model.js").Vine} vine
 */
function about(event, vine) {
	if (event.block !== vine.block.id) return false;
	if (event.vines?.length) return event.vines.includes(vine.id);
	return !event.row || event.row === vine.row.id;
}

/**
 * @param {App} app
 * @param {LoggedEvent} event
 * @param {{waiting: boolean, voided: boolean, of?: LoggedEvent, vine: number}} state
 */
function entry(app, event, { waiting, voided, of, vine }) {
	const { t } = app;
	const what = describe(app, event, { of, vine });
	const own = event.device === app.device && event.kind !== "void" && !voided;
	const time = h("time", { datetime: event.when ?? event.at }, dayText(app, event.when ?? event.at));
	const words = [t("event.season", { season: String(event.season) }), event.by ? t("vine.by", { who: event.by }) : event.device, reach(app, event)];
	return h("li", { class: voided ? "voided" : null, data: { event: event.id, kind: event.kind } },
		h("p", { class: "what" }, voided ? h("del", {}, what) : what, voided ? h("span", { class: "tag" }, t("vine.voided")) : null, waiting ? h("span", { class: "tag tag-waiting" }, t("vine.waiting")) : null),
		h("p", { class: "when" }, time, ` · ${words.filter(Boolean).join(" · ")}`),
		own ? button(t("vine.take_back"), () => void takeBack(app, [event]), { class: "small", "aria-label": t("vine.take_back_long", { what }), data: { key: `undo-${event.id}` } }) : null);
}

/** @param {App} app @param {LoggedEvent} event */
function reach(app, event) {
	if (event.vines?.length) return event.vines.length > 1 ? app.t("vine.for_many", { n: event.vines.length }) : "";
	return app.t(event.row ? "vine.for_row" : "vine.for_block");
}

/** @param {App} app @param {string} iso */
export function dayText(app, iso) {
	const date = new Date(iso);
	if (Number.isNaN(date.getTime())) return iso;
	return new Intl.DateTimeFormat(app.t.language, { dateStyle: "medium", timeStyle: "short", timeZone: zoneOf(app) }).format(date);
}

/**
 * One record in words.
 * @param {App} app
 * @param {LoggedEvent} event
 * @param {{of?: LoggedEvent, vine?: number}} [more] what a void takes back; the vine whose own value is wanted
 * @returns {string}
 */
export function describe(app, event, { of, vine } = {}) {
	const { t } = app;
	const v = event.value;
	const join = (/** @type {(string | false | undefined)[]} */ ...parts) => parts.filter(Boolean).join(", ");
	const because = v.reason && t("event.reason", { reason: v.reason });
	switch (event.kind) {
		case "condition":
			return join(t("event.condition", { condition: t(`condition.${v.condition}`) }), v.cause && t("event.cause", { cause: v.cause }),
				v.look_again && t("event.look_again", { day: dayOnly(app, v.look_again) }), v.planted && t("event.planted", { season: String(v.planted) }), v.clone, v.rootstock, v.batch, v.grade && t("places.grade", { grade: v.grade }), v.mother && t("event.layer"), v.severed && t("event.severed"));
		case "measure": {
			const quantity = t.has(`quantity.${v.quantity}`) ? t(`quantity.${v.quantity}`) : v.quantity;
			const value = v.value ?? v.values?.[event.vines?.indexOf(vine ?? -1) ?? -1];
			return value === undefined ? t("event.measures", { quantity }) : t("event.measure", { quantity, value: measureText(app, v, value) });
		}
		case "pruned": {
			const left = join(v.nodes !== undefined && t("vine.nodes", { n: v.nodes }), v.canes !== undefined && t("vine.canes", { n: v.canes }), v.spurs !== undefined && t("vine.spurs", { n: v.spurs }), ...armsText(app, v.arms));
			return join(left ? t("event.pruned_left", { what: left }) : t("event.pruned_as_told"), because);
		}
		case "work":
			return t("event.work", { operation: v.operation === "pruning" ? t("event.operation_pruning") : v.operation, progress: t(`progress.${v.progress}`) });
		case "note":
			return t("event.note", { text: v.text });
		case "void":
			return join(of ? t("event.void_of", { what: describe(app, of, { vine }) }) : t("event.void"), because);
	}
	return event.kind;
}

/** @param {App} app @param {any[]} [arms] */
function armsText(app, arms = []) {
	return arms.map((arm) => {
		const canes = (arm.canes ?? []).map((/** @type {any} */ c) => app.t("vine.nodes", { n: c.nodes }));
		const spurs = (arm.spurs ?? []).map((/** @type {any} */ s) => app.t("vine.nodes", { n: s.nodes }));
		const parts = [canes.length && `${app.t("vine.canes", { n: canes.length })} (${canes.join(" + ")})`, spurs.length && `${app.t("vine.spurs", { n: spurs.length })} (${spurs.join(" + ")})`];
		return `${arm.name}: ${parts.filter(Boolean).join(", ")}`;
	});
}

/** @type {Record<string, import("../lib/units.js").Amount>} quantities with a unit that depends on the estate */
export const AMOUNTS = { pruning_weight: "weight", yield: "weight", cane_diameter: "diameter", trunk_girth: "diameter", shoot_length: "shoot" };

/** @param {App} app @param {Record<string, any>} v of a measure @param {number} value */
function measureText(app, v, value) {
	const factor = QUANTITIES[v.quantity]?.entered[v.scale];
	if (factor) return `${app.t.number(value / factor, 3)} ${app.t(`unit.${v.scale}`)}`;
	const amount = AMOUNTS[v.quantity];
	if (amount) return app.units.text(amount, value);
	const unit = app.t.has(`unit.${v.unit}`) ? app.t(`unit.${v.unit}`, { scale: v.scale ?? "" }) : v.unit;
	return `${app.t.number(value, 3)} ${unit}`.trim();
}

/** @param {App} app @param {string} iso */
function dayOnly(app, iso) {
	return new Intl.DateTimeFormat(app.t.language, { dateStyle: "medium", timeZone: zoneOf(app) }).format(new Date(iso));
}
