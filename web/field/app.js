// What all screens of the phone page share: texts, settings, the bundle, the
// outbox, what this phone recorded.

import { onePage } from "../lib/alone.js";
import { createApi } from "../lib/api.js";
import { Outbox } from "../lib/outbox.js";
import { openOutbox } from "../lib/outboxdb.js";
import { recorder } from "../lib/records.js";
import { createSignal } from "../lib/signal.js";
import { uuid7Maker } from "../lib/uuid7.js";
import { openFieldDb } from "./db.js";
import { Ledger } from "./ledger.js";
import { deviceName, keepSettings, keepWord, keptWord, readSettings } from "./settings.js";
import { textsFor } from "./texts.js";

/**
 * @typedef {import("./types.js").KeptBundle} KeptBundle
 * @typedef {import("./types.js").Unfinished} Unfinished
 * @typedef {import("./types.js").WalkState} WalkState
 * @typedef {Awaited<ReturnType<typeof makeApp>>} App
 */

const LAST_SENT = "courson.field.sent";

export async function makeApp() {
	const db = await openFieldDb(indexedDB);
	// The browser writes its small storage to the disk late: what was just said there is gone
	// when the power goes. The database keeps it for good.
	/** @type {ReturnType<typeof readSettings>} */
	const settings = { ...readSettings(), ...(await db.get("settings")) };
	/** @type {string} */
	const device = (await db.get("device")) ?? deviceName();
	keepWord("courson.device", device);
	await db.write([{ room: "kept", key: "device", put: device }]).catch(() => {});
	const store = await openOutbox(indexedDB);
	const ledger = new Ledger(await db.all("log"));
	const channel = new BroadcastChannel("courson-outbox");
	const tabs = new BroadcastChannel("courson-field");
	const outbox = new Outbox({
		store,
		api: createApi((...args) => fetch(...args)),
		alone: onePage(navigator.locks),
		// The log says "sent" before a record leaves the outbox: it is never in neither.
		onStored: (events) => db.write(ledger.sent(events.map((e) => e.id)).map((put) => ({ room: "log", put }))).catch(() => {}),
		tellOthers: () => channel.postMessage("changed"),
	});
	const app = {
		settings, device, db, ledger, outbox, channel, tabs,
		t: textsFor(settings.language || "en"),
		/** @type {KeptBundle | null} */
		kept: (await db.get("bundle")) ?? null,
		/** @type {Map<string, Unfinished>} */
		todo: new Map((await db.all("todo")).map((u) => [u.id, u])),
		/** @type {Map<string, WalkState>} */
		walks: new Map(),
		/** @type {Map<string, import("./weighacts.js").WeighState>} */
		weighs: new Map(),
		/** @type {Map<string, import("./lookacts.js").LookState>} */
		looks: new Map(),
		net: createSignal({ loading: false, trouble: "", status: 0 }),
		lastSent: Number(keptWord(LAST_SENT)) || 0,
		recorder: recorder({ id: uuid7Maker(), device, by: () => settings.name }),
		/** A new version waits; called to load it. @type {(() => void) | null} */
		update: null,
		version: "",
		/** Said once on the next screen. */
		said: "",
		/** Draws the screen again; set by main.js. */
		draw: () => {},
		/** Draws it again because something came in the background; set by main.js. */
		news: () => {},
		/** @param {string} hash */
		go: (hash) => {
			location.hash = hash;
		},
		/** @param {Partial<import("./settings.js").Settings>} patch */
		set(patch) {
			Object.assign(settings, patch);
			if (patch.language) app.t = textsFor(patch.language);
			void db.write([{ room: "kept", key: "settings", put: { ...settings } }]).catch(() => {});
			return keepSettings(settings);
		},
	};
	outbox.on((state) => {
		ledger.refused = new Set(state.entries.filter((e) => e.refused !== undefined).map((e) => e.event.id));
		if (state.lastSent && state.lastSent !== app.lastSent) {
			app.lastSent = state.lastSent;
			keepWord(LAST_SENT, String(state.lastSent));
		}
	});
	channel.onmessage = () => void outbox.reload().then(() => reconcile(app));
	await outbox.reload();
	await reconcile(app);
	return app;
}

/**
 * The outbox is the truth about what waits: what is there is in the log too, and
 * what is in the log as waiting but no longer there was sent by another page.
 * @param {App} app
 */
async function reconcile(app) {
	const waiting = new Map(app.outbox.state.entries.map((e) => [e.event.id, e.event]));
	const unknown = [...waiting.values()].filter((e) => !app.ledger.entries.has(e.id));
	const fresh = app.ledger.add(unknown, Date.now());
	const gone = [...app.ledger.entries.values()].filter((e) => !e.sent && !waiting.has(e.id)).map((e) => e.id);
	const sent = app.ledger.sent(gone);
	if (fresh.length || sent.length) await app.db.write([...fresh, ...sent].map((put) => ({ room: "log", put }))).catch(() => {});
}

/** Orders of the bundle. @param {App} app */
export const ordersOf = (app) => app.kept?.bundle.orders ?? [];

/** @param {App} app @param {string} id */
export const orderOf = (app, id) => ordersOf(app).find((o) => o.id === id);

/** The season that what is recorded now belongs to. @param {App} app */
export const seasonOf = (app) => app.kept?.bundle.estate.season ?? 0;
