// What a tap does while weighing: the record is kept on the phone first, then the
// next vine comes.

import { keeping } from "./acts.js";
import { LANGUAGES } from "../text/field/index.js";
import { WEIGHING } from "./ledger.js";
import { refuse, say } from "./ui.js";
import { nextToWeigh, standing, weighSpots } from "./weighwalk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./types.js").WeighList} WeighList
 * @typedef {import("./types.js").FieldEvent} FieldEvent
 * @typedef {{key: string, at: number, unit: string, ended: boolean}} WeighState the vine in front by its id, and the unit weights are written in
 * @typedef {{list: WeighList, state: WeighState, spots: import("./weighwalk.js").WeighSpot[]}} Weighing a list that is open
 */

/** Lists to weigh of the bundle; one that an older server sent has none. @param {App} app */
export const weighListsOf = (app) => app.kept?.bundle.weighings ?? [];

/** @param {App} app @param {string} id */
export const weighListOf = (app, id) => weighListsOf(app).find((l) => l.id === id);

/**
 * Where somebody is on a list; begins at the first open vine.
 * @param {App} app
 * @param {WeighList} list
 * @returns {Promise<Weighing>}
 */
export async function enterList(app, list) {
	const key = `weigh:${list.id}`;
	const known = app.weighs.get(key);
	/** @type {WeighState} */
	const state = known ?? (await app.db.get(key)) ?? { key, at: 0, unit: list.unit, ended: false };
	app.weighs.set(key, state);
	const spots = weighSpots(list, app.ledger);
	const i = spots.findIndex((s) => s.id === state.at);
	// At the start: recorded already, by a tap that was kept just before the phone went off, or
	// by another. Later the person has chosen where to be.
	if (i < 0 || (!known && standing(spots[i]) !== "open")) go({ list, state, spots }, nextToWeigh(spots, Math.max(i, 0)));
	return { list, state, spots };
}

/** Puts a vine in front; -1 ends the list. @param {Weighing} here @param {number} i */
function go(here, i) {
	here.state.ended = i < 0;
	if (i >= 0) here.state.at = here.spots[i].id;
	else if (!here.state.at && here.spots.length) here.state.at = here.spots[0].id;
}

/** The vine in front. @param {Weighing} here */
export const spotOf = (here) => here.spots[indexIn(here)];

/** @param {Weighing} here */
export const indexIn = (here) => Math.max(0, here.spots.findIndex((s) => s.id === here.state.at));

/** A person chooses a vine of the list. @param {App} app @param {Weighing} here @param {number} id */
export async function goTo(app, here, id) {
	here.state.at = id;
	here.state.ended = false;
	await keepWhere(app, here);
}

/** Another unit, once it is kept: after a reload it must be the one that was shown. @param {App} app @param {Weighing} here @param {string} unit */
export async function useUnit(app, here, unit) {
	await keeping(app, async () => {
		await app.db.write([{ room: "kept", key: here.state.key, put: { ...here.state, unit } }]);
		here.state.unit = unit;
	});
}

/** @param {Weighing} here @returns {import("./db.js").Write} */
const stateWrite = ({ state }) => ({ room: "kept", key: state.key, put: { ...state } });

/** @param {App} app @param {Weighing} here */
async function keepWhere(app, here) {
	await app.db.write([stateWrite(here)]).catch((error) => refuse(app, error));
}

/** Keeps what was found at the vine in front, and goes on. @param {App} app @param {Weighing} here @param {import("./acts.js").Fact[]} facts */
export function keepHere(app, here, facts) {
	const spot = spotOf(here);
	return keeping(app, async () => {
		const place = { block: here.list.block, row: spot.row.row, vines: [spot.id] };
		await shown(app, here, await app.outbox.add(facts.map((f) => app.recorder.record(place, here.list.season, f))), () => go(here, nextToWeigh(here.spots, here.spots.findIndex((s) => s.id === spot.id) + 1)));
	});
}

/** @param {App} app @param {Weighing} here @param {FieldEvent[]} events @param {() => void} then */
async function shown(app, here, events, then) {
	const logged = app.ledger.add(events, Date.now());
	here.list = weighListOf(app, here.list.id) ?? here.list;
	here.spots = weighSpots(here.list, app.ledger);
	then();
	// The records are safe already; a place that cannot be kept is found again from them.
	await app.db.write([...logged.map((put) => /** @type {const} */ ({ room: "log", put })), stateWrite(here)]).catch(() => {});
	void navigator.storage?.persist?.().catch(() => {});
}

/** Why a vine cannot be weighed, as records: what is gone is seen so; what was pruned before is skipped, with the reason in the words that all crews' records have. @type {Record<"missing" | "dead" | "pruned", import("./acts.js").Fact[]>} */
export const CANNOT = {
	missing: [{ kind: "condition", value: { condition: "missing" } }],
	dead: [{ kind: "condition", value: { condition: "dead" } }],
	pruned: [{ kind: "work", value: { operation: WEIGHING, progress: "skipped" } }, { kind: "note", value: { text: String(LANGUAGES.en.table["cannot.note_pruned"]) } }],
};

/** What was kept last on this list and can be taken back: one record, or those kept with it. @param {App} app @param {Weighing} here */
export function lastKept(app, here) {
	const vines = new Set(here.spots.map((s) => s.id));
	const all = [...new Set(here.list.rows.map((r) => r.row))].flatMap((row) => app.ledger.about(row, vines));
	const last = all.filter(({ event: e }) => isWeighing(e)).sort((a, b) => b.event.seq - a.event.seq)[0];
	if (!last) return [];
	return all.filter((e) => e === last || (e.kept === last.kept && e.event.vines?.[0] === last.event.vines?.[0]));
}

/** @param {FieldEvent} e */
function isWeighing(e) {
	return (e.kind === "measure" && e.value.quantity === "pruning_weight") || (e.kind === "work" && e.value.operation === WEIGHING) || e.kind === "condition";
}

/** Takes the last one back and stands at its vine again. @param {App} app @param {Weighing} here */
export function undoLast(app, here) {
	const list = lastKept(app, here);
	if (!list.length) return Promise.resolve(false);
	return keeping(app, async () => {
		const events = await app.outbox.add(list.map((e) => app.recorder.takeBack(e.event, "")));
		await shown(app, here, events, () => {
			here.state.at = list[0].event.vines?.[0] ?? here.state.at;
			here.state.ended = false;
			say(app.t("row.taken_back"));
		});
	});
}
