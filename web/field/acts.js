// What a tap does: a record is kept on the phone first, and only then shows.

import { orderOf } from "./app.js";
import { buzz, refuse, say } from "./ui.js";
import { DONE, SKIPPED, alive, gapBetween, nextAlive, nextOpen, walkOf } from "./walk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./types.js").Order} Order
 * @typedef {import("./types.js").FieldRow} FieldRow
 * @typedef {import("./types.js").WalkState} WalkState
 * @typedef {import("./walk.js").Walk} Walk
 * @typedef {{order: Order, row: FieldRow, state: WalkState, walk: Walk}} Here a row that is open
 * @typedef {{kind: string, value: Record<string, any>}} Fact
 */

/** What is being kept, and the screen on which it was tapped. @type {{at: string, done: Promise<boolean>} | null} */
let running = null;

/**
 * Keeps one thing after the other; false where it could not be kept, which is said.
 * Meanwhile the page carries the mark data-keeping. A tap on the same screen while one
 * is being kept does nothing: the screen does not show yet what came of the first. A
 * tap on another screen waits its turn.
 * @param {App} app
 * @param {() => Promise<void>} work
 */
export async function keeping(app, work) {
	const at = location.hash;
	while (running) {
		if (running.at === at) return false;
		await running.done;
	}
	const mine = { at, done: keepNow(app, work) };
	running = mine;
	document.documentElement.dataset.keeping = "true";
	try {
		return await mine.done;
	} finally {
		running = null;
		delete document.documentElement.dataset.keeping;
	}
}

/** @param {App} app @param {() => Promise<void>} work */
async function keepNow(app, work) {
	try {
		await work();
		buzz(40);
		return true;
	} catch (error) {
		refuse(app, error);
		return false;
	}
}

/** @param {Order} order @param {FieldRow} row */
export const walkKey = (order, row) => `walk:${order.id}:${row.row}:${row.from}`;

/**
 * Where somebody is in a row; begins at the first open vine.
 * @param {App} app
 * @param {Order} order
 * @param {FieldRow} row
 * @returns {Promise<Here>}
 */
export async function enter(app, order, row) {
	const key = walkKey(order, row);
	const known = app.walks.get(key);
	/** @type {WalkState} */
	const state = known ?? (await app.db.get(key)) ?? { key, at: 0, agreed: null, ask: null, ended: false, start: row.start === "far" ? "far" : "near", check: [] };
	app.walks.set(key, state);
	const walk = look(app, order, row, state);
	const at = walk.index.get(state.at);
	// At the start: done already, by a tap that was kept just before the phone went off, or by
	// another: on to the next. Later the person has chosen where to be.
	if (at === undefined || (!known && walk.spots[at].progress === DONE)) {
		const next = nextOpen(walk, at ?? 0);
		if (next >= 0) state.at = walk.spots[next].number;
		else if (at === undefined) state.at = walk.spots[0]?.number ?? 0;
	}
	return { order, row, state, walk };
}

/** @param {App} app @param {Order} order @param {FieldRow} row @param {WalkState} state */
export function look(app, order, row, state) {
	return walkOf(row, state.start, app.ledger.over(row, order.operation));
}

/**
 * The row as it is now. The screen may have been drawn a while ago, and what came
 * since, records and the row they lie over, only tells the truth together.
 * @param {App} app
 * @param {Here} here
 */
function lookAgain(app, here) {
	const order = orderOf(app, here.order.id);
	const row = order?.rows.find((r) => r.row === here.row.row && r.from === here.row.from);
	// Places are told by their index from what the screen shows: another list waits for the next drawing.
	if (order && row?.vines.length === here.row.vines.length) Object.assign(here, { order, row });
	here.walk = look(app, here.order, here.row, here.state);
}

/** The fact that the work is done as said. @param {Order} order @returns {Fact} */
export const doneFact = (order) => (order.operation === "pruning" ? { kind: "pruned", value: {} } : { kind: "work", value: { operation: order.operation, progress: "done" } });

/**
 * Keeps records, then shows them. Says so and changes nothing where they cannot
 * be kept.
 * @param {App} app
 * @param {Here} here
 * @param {{fact: Fact, vines: number[]}[]} facts
 * @param {(events: import("./types.js").FieldEvent[]) => import("./db.js").Write[]} [more] kept beside them; may change the state
 * @returns {Promise<boolean>}
 */
export function keep(app, here, facts, more = () => []) {
	return keeping(app, async () => {
		const { order, row } = here;
		const drafts = facts.map(({ fact, vines }) => app.recorder.record({ block: row.block, row: row.row, vines }, order.season, fact));
		const events = await app.outbox.add(drafts);
		await shown(app, here, events, more);
	});
}

/** @param {App} app @param {Here} here @param {import("./types.js").FieldEvent[]} events @param {(events: import("./types.js").FieldEvent[]) => import("./db.js").Write[]} more */
async function shown(app, here, events, more) {
	const logged = app.ledger.add(events, Date.now());
	lookAgain(app, here);
	const writes = more(events);
	// The records are safe already; a place that cannot be kept is found again from them.
	await app.db.write([...logged.map((put) => /** @type {const} */ ({ room: "log", put })), ...writes, stateWrite(here.state)]).catch(() => {});
	void navigator.storage?.persist?.().catch(() => {});
}

/** @param {WalkState} state @returns {import("./db.js").Write} */
const stateWrite = (state) => ({ room: "kept", key: state.key, put: state });

/** Keeps where somebody is, without a record. @param {App} app @param {Here} here */
export async function keepPlace(app, here) {
	await app.db.write([stateWrite(here.state)]).catch((error) => refuse(app, error));
}

/** On to the next open vine; a gap on the way is asked about. @param {Here} here @param {number} from index of the vine just left */
export function moveOn(here, from) {
	const { walk, state } = here;
	const next = nextOpen(walk, from + 1);
	const gap = gapBetween(walk, from, next);
	state.ask = gap ? { first: gap.first, last: gap.last, count: gap.count } : null;
	state.ended = next < 0;
	if (next >= 0) state.at = walk.spots[next].number;
}

/** Index of the vine in front. @param {Here} here */
export const indexOf = (here) => here.walk.index.get(here.state.at) ?? 0;

/** Done as said, for the vine in front. @param {App} app @param {Here} here */
export async function done(app, here) {
	const i = indexOf(here);
	const spot = here.walk.spots[i];
	return keep(app, here, [{ fact: doneFact(here.order), vines: [spot.id] }], () => (moveOn(here, i), []));
}

/** @param {App} app @param {Here} here */
export async function skip(app, here) {
	const i = indexOf(here);
	const fact = { kind: "work", value: { operation: here.order.operation, progress: "skipped" } };
	return keep(app, here, [{ fact, vines: [here.walk.spots[i].id] }], () => (moveOn(here, i), []));
}

/** Open living vines from the one in front up to an index; from the beginning where whole. @param {Here} here @param {number} from @param {number} to */
export function openBetween(here, from, to) {
	return here.walk.spots.slice(from, to + 1).filter((s) => alive(s) && s.progress !== DONE);
}

/** @param {App} app @param {Here} here @param {number} from @param {number} to indexes */
export async function doneTo(app, here, from, to) {
	lookAgain(app, here);
	const vines = openBetween(here, from, to).filter((s) => s.progress !== SKIPPED || (from === 0 && to === here.walk.spots.length - 1)).map((s) => s.id);
	if (!vines.length) return false;
	return keep(app, here, [{ fact: doneFact(here.order), vines }], () => {
		moveOn(here, to);
		const passed = gapBetween(here.walk, from, to);
		if (passed) here.state.agreed = here.walk.spots[to].number; // the person named the place
		return [];
	});
}

/**
 * Takes the newest record in this row back; the place goes back with it.
 * @param {App} app
 * @param {Here} here
 */
export async function undo(app, here) {
	const last = app.ledger.last(here.row.row);
	if (!last) return false;
	return takeBack(app, here, [last], () => {
		const ids = new Set(last.event.vines ?? []);
		const spot = here.walk.spots.find((s) => ids.has(s.id));
		here.state.ask = null;
		here.state.ended = false;
		if (spot) here.state.at = spot.number;
		say(app.t("row.taken_back"));
	});
}

/** @param {App} app @param {Here} here @param {import("./types.js").Logged[]} list @param {() => void} then */
export function takeBack(app, here, list, then) {
	return keeping(app, async () => {
		const events = await app.outbox.add(list.map((e) => app.recorder.takeBack(e.event, "")));
		const todo = list.filter((e) => app.todo.delete(e.id)).map((e) => /** @type {const} */ ({ room: "todo", remove: e.id }));
		await shown(app, here, events, () => (then(), todo));
	});
}

/** The gap is where it should be. @param {App} app @param {Here} here */
export async function agree(app, here) {
	if (here.state.ask) here.state.agreed = here.state.ask.last;
	here.state.ask = null;
	await keepPlace(app, here);
}

/**
 * A person says where they stand. Where counting was off, the marks since the last
 * agreed point stay as they are and are to be checked.
 * @param {App} app
 * @param {Here} here
 * @param {number} index where they stand; past the last place means the end of the row
 * @param {boolean} off counting was off
 */
export async function standAt(app, here, index, off) {
	lookAgain(app, here);
	const { state, walk } = here;
	const doubtful = off ? doubtfulMarks(here) : [];
	const move = () => {
		const next = nextAlive(walk, index);
		state.ask = null;
		state.ended = next < 0;
		if (next >= 0) state.at = walk.spots[next].number;
		state.agreed = next >= 0 ? walk.spots[next].number : (walk.spots.at(-1)?.number ?? null);
	};
	if (!doubtful.length) {
		move();
		await keepPlace(app, here);
		return true;
	}
	const numbers = doubtful.map((s) => s.number);
	const [from, to] = [Math.min(...numbers), Math.max(...numbers)];
	const vines = doubtful.map((s) => s.id);
	return keep(app, here, [{ fact: { kind: "note", value: { text: `to check: counting was off between ${from} and ${to}` } }, vines }], () => {
		state.check = [...state.check, { from, to, vines }];
		move();
		return [];
	});
}

/** Places marked since the last agreed point. @param {Here} here */
export function doubtfulMarks(here) {
	const { walk, state } = here;
	const from = state.agreed === null ? -1 : (walk.index.get(state.agreed) ?? -1);
	const to = state.ended ? walk.spots.length - 1 : indexOf(here);
	return walk.spots.slice(from + 1, to + 1).filter((s) => s.progress === DONE || s.progress === SKIPPED || (!s.gap && !alive(s)));
}
