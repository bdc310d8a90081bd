// Sightings with one tap, completed later; what was left; notes.

import { indexOf, keep, keeping, moveOn } from "./acts.js";
import { LANGUAGES } from "../text/field/index.js";
import { totalsOf } from "./say.js";
import { inRow, nameOf } from "./rowscreen.js";
import { h, para, say, stepper, tap, title } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./acts.js").Here} Here
 */

/** The marks: what is recorded, and whether there is still a plant to work on. */
const MARKS = /** @type {const} */ ([
	{ key: "missing", condition: "missing", gone: true },
	{ key: "dead", condition: "dead", gone: true },
	{ key: "sick", condition: "diseased", gone: false },
	{ key: "weak", condition: "weak", gone: false },
	{ key: "post", condition: "", gone: false },
	{ key: "look", condition: "doubtful", gone: false },
]);
const CAUSES = ["frost", "disease", "machine", "animals", "drought", "unknown"];
const REASONS = ["weak_wood", "broken", "no_spur", "sick_wood"];

/** Words that the record keeps are English, so that all crews' can be counted together. @param {string} key */
const kept = (key) => String(LANGUAGES.en.table[key]);

/** @param {App} app @param {Here} here */
export function markScreen(app, here) {
	const { t } = app;
	const i = indexOf(here);
	const spot = here.walk.spots[i];
	const mark = async (/** @type {typeof MARKS[number]} */ m) => {
		const fact = m.condition ? { kind: "condition", value: { condition: m.condition } } : { kind: "note", value: { text: kept("mark.post") } };
		const ok = await keep(app, here, [{ fact, vines: [spot.id] }], (events) => {
			if (m.gone) moveOn(here, i);
			/** @type {import("./types.js").Unfinished} */
			const todo = { id: events[0].id, mark: m.key, order: here.order.id, row: here.row.row, vine: spot.id, number: spot.number, code: here.row.code, label: here.row.label };
			app.todo.set(todo.id, todo);
			return [{ room: "todo", put: todo }];
		});
		if (!ok) return;
		app.said = t("mark.said", { what: t(`mark.${m.key}`), number: String(spot.number) });
		app.go(inRow(here));
	};
	return [
		title(t("mark.title", { number: String(spot.number) })),
		h("div", { class: "halves" }, ...MARKS.map((m) => tap(t(`mark.${m.key}`), m.key, () => mark(m), { key: `mark-${m.key}`, class: "tall" }))),
		tap(t("more.note"), "note", () => app.go(inRow(here, "note")), { key: "note" }),
		tap(t("measure.other"), "scale", () => app.go(inRow(here, "measure")), { key: "measure" }),
	];
}

/** What was left where it is not as said. @param {App} app @param {Here} here */
export function leftScreen(app, here) {
	const { t } = app;
	const i = indexOf(here);
	const spot = here.walk.spots[i];
	const line = spot.text >= 0 ? (app.kept?.bundle.texts[spot.text] ?? "") : "";
	const first = totalsOf(line);
	/** @type {{nodes: number | null, canes: number | null, spurs: number | null}} */
	const left = { nodes: first?.nodes ?? null, canes: first?.canes ?? null, spurs: first?.spurs ?? null };
	let reason = "";
	const fault = h("p", { class: "fault", role: "alert" });
	const own = h("input", { type: "text", id: "reason", maxlength: "120", on: { input: () => choose("") } });
	const choices = REASONS.map((k) => tap(t(`reason.${k}`), null, () => choose(k), { key: `reason-${k}`, "aria-pressed": "false" }));
	function choose(/** @type {string} */ k) {
		reason = k;
		if (k) own.value = "";
		choices.forEach((c, n) => c.setAttribute("aria-pressed", String(REASONS[n] === k)));
	}
	const keepLeft = async () => {
		const why = own.value.trim() || (reason ? kept(`reason.${reason}`) : "");
		const value = Object.fromEntries(Object.entries(left).filter(([, n]) => n !== null));
		if (!Object.keys(value).length) {
			fault.textContent = t("left.wanted");
			return;
		}
		if (await keep(app, here, [{ fact: { kind: "pruned", value: { ...value, ...(why ? { reason: why } : {}) } }, vines: [spot.id] }], () => (moveOn(here, i), []))) {
			app.said = t("row.said_done", { number: String(spot.number) });
			app.go(inRow(here));
		}
	};
	const step = (/** @type {"nodes" | "canes" | "spurs"} */ key, /** @type {number} */ most) => stepper(app, { label: t(`left.${key}`), value: left[key], least: 0, most, key, on: (n) => {
		left[key] = n;
		fault.textContent = "";
	} });
	return [
		title(t("left.title", { number: String(spot.number) })),
		step("nodes", 200), step("canes", 20), step("spurs", 40), fault,
		h("h2", {}, t("left.why")),
		h("div", { class: "halves" }, ...choices),
		h("label", { for: "reason" }, t("left.own")), own,
		h("div", { class: "dock" }, tap(t("left.keep"), "done", keepLeft, { key: "left-keep", class: "main" })),
	];
}

/** @param {App} app @param {Here} here */
export function noteScreen(app, here) {
	const { t } = app;
	const spot = here.walk.spots[indexOf(here)];
	const area = h("textarea", { id: "note", rows: "4", maxlength: "1000" });
	const fault = h("p", { class: "fault", role: "alert" });
	const add = async (/** @type {number[]} */ vines) => {
		const text = area.value.trim();
		if (!text) {
			fault.textContent = t("note.wanted");
			area.focus();
			return;
		}
		if (await keep(app, here, [{ fact: { kind: "note", value: { text } }, vines }])) {
			app.said = t("note.kept");
			app.go(inRow(here));
		}
	};
	return [
		title(nameOf(app, here)),
		h("label", { for: "note" }, t("note.label")), area, fault,
		h("div", { class: "stack" },
			tap(t("note.vine", { number: String(spot.number) }), "note", () => add([spot.id]), { key: "note-vine" }),
			tap(t("note.row"), "row", () => add([]), { key: "note-row" })),
	];
}

/** Marks to be completed. @param {App} app */
export function todoScreen(app) {
	const { t } = app;
	const list = [...app.todo.values()];
	return [
		title(t("todo.title")),
		para(t(list.length ? "todo.how" : "todo.none"), list.length ? "" : "large"),
		h("div", { class: "stack" }, ...list.map((u) => tap(t("todo.one", { what: t(`mark.${u.mark}`), block: u.code, row: u.label, number: String(u.number) }), "mark", () => app.go(`#todo=${u.id}`), { key: `todo-${u.id}` }))),
	];
}

/** Completes one mark: why, when to look again, a word. @param {App} app @param {string} id */
export function completeScreen(app, id) {
	const { t } = app;
	const one = app.todo.get(id);
	const first = app.ledger.entries.get(id)?.event;
	if (!one || !first) return todoScreen(app);
	const m = MARKS.find((x) => x.key === one.mark);
	const note = h("textarea", { id: "todo-note", rows: "3", maxlength: "500" });
	const day = h("input", { type: "date", id: "todo-day" });
	const settle = async (/** @type {string} */ cause) => {
		/** @type {{kind: string, value: Record<string, any>}[]} */
		const facts = [];
		const text = note.value.trim();
		if (m?.condition && (cause || day.value)) facts.push({ kind: "condition", value: { condition: m.condition, ...(cause ? { cause } : {}), ...(day.value ? { look_again: `${day.value}T00:00:00Z` } : {}) } });
		if (text) facts.push({ kind: "note", value: { text } });
		const done = await keeping(app, async () => {
			const events = facts.length ? await app.outbox.add(facts.map((f) => app.recorder.record(first, first.season, f))) : [];
			const logged = app.ledger.add(events, Date.now());
			app.todo.delete(id);
			await app.db.write([{ room: "todo", remove: id }, ...logged.map((put) => /** @type {const} */ ({ room: "log", put }))]);
		});
		if (!done) return;
		say(t("todo.kept"));
		app.go("#todo");
	};
	return [
		title(t("todo.one", { what: t(`mark.${one.mark}`), block: one.code, row: one.label, number: String(one.number) })),
		one.mark === "look" ? h("div", { class: "stack" }, h("label", { for: "todo-day" }, t("todo.day")), day) : null,
		h("label", { for: "todo-note" }, t("todo.note")), note,
		m?.condition && one.mark !== "look" ? h("h2", {}, t("todo.cause")) : null,
		m?.condition && one.mark !== "look" ? h("div", { class: "halves" }, ...CAUSES.map((c) => tap(t(`cause.${c}`), null, () => settle(kept(`cause.${c}`)), { key: `cause-${c}` }))) : null,
		h("div", { class: "dock" }, tap(t("todo.keep"), "done", () => settle(""), { key: "todo-keep", class: "main" })),
	];
}
