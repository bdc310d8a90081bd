// What a tap does while gaps are looked at: the person's word is kept on the phone
// first, then the next place comes.

import { keeping } from "./acts.js";
import { isAnswer, lookSpots, nextToLook } from "./lookwalk.js";
import { refuse, say } from "./ui.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./types.js").LookList} LookList
 * @typedef {import("./types.js").FieldEvent} FieldEvent
 * @typedef {{key: string, at: number, ended: boolean}} LookState the place in front by its id
 * @typedef {{list: LookList, state: LookState, spots: import("./lookwalk.js").LookSpot[]}} Looking a list that is open
 */

/** Lists of places to look at of the bundle; one that an older server sent has none. @param {App} app */
export const lookListsOf = (app) => app.kept?.bundle.reviews ?? [];

/** @param {App} app @param {string} id */
export const lookListOf = (app, id) => lookListsOf(app).find((l) => l.id === id);

/**
 * Where somebody is on a list; begins at the first open place.
 * @param {App} app
 * @param {LookList} list
 * @returns {Promise<Looking>}
 */
export async function enterLook(app, list) {
	const key = `look:${list.id}`;
	const known = app.looks.get(key);
	/** @type {LookState} */
	const state = known ?? (await app.db.get(key)) ?? { key, at: 0, ended: false };
	app.looks.set(key, state);
	const spots = lookSpots(list, app.ledger);
	const i = spots.findIndex((s) => s.id === state.at);
	// At the start: said already, by a tap that was kept just before the phone went off, or by
	// another. Later the person has chosen where to be.
	if (i < 0 || (!known && spots[i].how !== "open")) go({ list, state, spots }, nextToLook(spots, Math.max(i, 0)));
	return { list, state, spots };
}

/** Puts a place in front; -1 ends the list. @param {Looking} here @param {number} i */
function go(here, i) {
	here.state.ended = i < 0;
	if (i >= 0) here.state.at = here.spots[i].id;
	else if (!here.state.at && here.spots.length) here.state.at = here.spots[0].id;
}

/** @param {Looking} here */
const indexIn = (here) => Math.max(0, here.spots.findIndex((s) => s.id === here.state.at));

/** The place in front. @param {Looking} here */
export const lookSpot = (here) => here.spots[indexIn(here)];

/** A person chooses a place of the list. @param {App} app @param {Looking} here @param {number} id */
export async function lookAt(app, here, id) {
	here.state.at = id;
	here.state.ended = false;
	await app.db.write([stateWrite(here)]).catch((error) => refuse(app, error));
}

/** On to the next open place; the one in front stays as it is. @param {App} app @param {Looking} here */
export async function passBy(app, here) {
	const i = indexIn(here);
	const next = nextToLook(here.spots, i + 1);
	// The only open one comes round again: that is the end of this walk.
	go(here, next === i ? -1 : next);
	await app.db.write([stateWrite(here)]).catch((error) => refuse(app, error));
}

/** @param {Looking} here @returns {import("./db.js").Write} */
const stateWrite = ({ state }) => ({ room: "kept", key: state.key, put: { ...state } });

/** Keeps what stands at the place in front, and goes on. @param {App} app @param {Looking} here @param {Record<string, any>} value */
export function answerHere(app, here, value) {
	const spot = lookSpot(here);
	return keeping(app, async () => {
		const place = { block: here.list.block, row: spot.row.row, vines: [spot.id] };
		const events = await app.outbox.add([app.recorder.record(place, here.list.season, { kind: "condition", value })]);
		await shown(app, here, events, () => go(here, nextToLook(here.spots, here.spots.findIndex((s) => s.id === spot.id) + 1)));
	});
}

/** @param {App} app @param {Looking} here @param {FieldEvent[]} events @param {() => void} then */
async function shown(app, here, events, then) {
	const logged = app.ledger.add(events, Date.now());
	here.list = lookListOf(app, here.list.id) ?? here.list;
	here.spots = lookSpots(here.list, app.ledger);
	then();
	// The records are safe already; a place that cannot be kept is found again from them.
	await app.db.write([...logged.map((put) => /** @type {const} */ ({ room: "log", put })), stateWrite(here)]).catch(() => {});
	void navigator.storage?.persist?.().catch(() => {});
}

/** What was said last on this list and can be taken back. @param {App} app @param {Looking} here */
export function lastSaid(app, here) {
	const vines = new Set(here.spots.map((s) => s.id));
	const all = [...new Set(here.list.rows.map((r) => r.row))].flatMap((row) => app.ledger.about(row, vines));
	return all.filter((e) => isAnswer(e.event)).sort((a, b) => b.event.seq - a.event.seq)[0] ?? null;
}

/** Takes it back and stands at its place again. @param {App} app @param {Looking} here */
export function undoSaid(app, here) {
	const last = lastSaid(app, here);
	if (!last) return Promise.resolve(false);
	return keeping(app, async () => {
		const events = await app.outbox.add([app.recorder.takeBack(last.event, "")]);
		await shown(app, here, events, () => {
			here.state.at = last.event.vines?.[0] ?? here.state.at;
			here.state.ended = false;
			say(app.t("row.taken_back"));
		});
	});
}
