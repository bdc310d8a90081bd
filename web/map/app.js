// What all parts of the page share: data, view, choice and the things one can do.

import { onePage } from "../lib/alone.js";
import { Findings } from "../lib/findingstore.js";
import { Outbox, memoryStore } from "../lib/outbox.js";
import { openOutbox } from "../lib/outboxdb.js";
import { recorder } from "../lib/records.js";
import { Selection } from "../lib/selection.js";
import { createSignal } from "../lib/signal.js";
import { Stands } from "../lib/stands.js";
import { unitsFor } from "../lib/units.js";
import { uuid7Maker } from "../lib/uuid7.js";
import { ZoneVersions } from "../lib/zoneversions.js";
import { GROUNDS } from "../style/ground.js";

/**
 * @typedef {import("../lib/model.js").Estate} Estate
 * @typedef {import("../lib/model.js").Block} Block
 * @typedef {import("../lib/hash.js").View} View
 * @typedef {import("../lib/text.js").Texts} Texts
 * @typedef {import("../style/ground.js").GroundName} GroundName
 *
 * @typedef {object} BlockList
 * @property {"loading" | "ready" | "failed"} state
 * @property {number} season that the list shows
 * @property {Block[]} list
 * @property {string} trouble
 * @property {number} at when it was read, ms
 *
 * @typedef {"look" | "run" | "row" | "box"} ChooseWay
 * @typedef {{way: ChooseWay, anchor: {block: number, index: number} | null}} Choosing
 *
 * @typedef {object} App
 * @property {import("../lib/api.js").Api} api
 * @property {Texts} t
 * @property {Estate} estate
 * @property {import("../lib/model.js").Legends} legends
 * @property {import("../lib/units.js").Units} units
 * @property {import("../lib/signal.js").Signal<View>} view
 * @property {import("../lib/signal.js").Signal<BlockList>} blocks
 * @property {import("../lib/signal.js").Signal<{name: GroundName, wish: "auto" | GroundName}>} ground
 * @property {import("../lib/signal.js").Signal<Choosing>} choosing
 * @property {Stands} stands
 * @property {Findings} findings
 * @property {ZoneVersions} zones versions of zones that are in use
 * @property {import("../lib/signal.js").Signal<{list: import("../lib/images.js").KeptImage[], state: "unread" | "ready" | "failed"}>} images that can lie under the rows
 * @property {Selection} selection
 * @property {Outbox} outbox
 * @property {boolean} volatile records that wait are lost with the page
 * @property {import("../lib/records.js").Recorder} recorder
 * @property {string} device
 * @property {{get: () => string, set: (name: string) => void}} by
 * @property {(text: string) => void} announce for people who do not see the page
 * @property {Camera} camera
 *
 * @typedef {object} Camera how other parts move the map; does nothing where there is none
 * @property {(bounds: [number, number, number, number]) => void} fit
 * @property {(lon: number, lat: number) => void} bringIntoView
 * @property {(lon: number, lat: number) => void} goTo moves there, close enough to see single vines
 */

/**
 * @param {object} parts
 * @param {import("../lib/api.js").Api} parts.api
 * @param {Texts} parts.t
 * @param {Estate} parts.estate
 * @param {import("../lib/model.js").Legends} parts.legends
 * @param {Partial<View>} parts.from view in the address
 * @returns {Promise<App>}
 */
export async function createApp({ api, t, estate, legends, from }) {
	const season = from.season && estate.seasons.includes(from.season) ? from.season : estate.season;
	/** @type {View} */
	const first = { ...PLAIN, ...from, season, theme: themeOf(legends, from.theme) };
	const device = deviceId();
	const by = keptText("courson.by");
	const store = await openOutbox(indexedDB).catch(() => null);
	const stands = new Stands(api);
	const channel = new BroadcastChannel("courson-outbox");
	const outbox = new Outbox({
		store: store ?? memoryStore(),
		api,
		alone: onePage(navigator.locks),
		onStored: (events) => {
			stands.settle(events);
			for (const block of new Set(events.map((e) => e.block))) void stands.refresh(block).catch(() => {});
		},
		tellOthers: () => channel.postMessage("changed"),
	});
	channel.onmessage = () => void outbox.reload();
	return {
		api, t, estate, legends, stands, outbox, device, by,
		findings: new Findings(api),
		zones: new ZoneVersions(api),
		units: unitsFor({ us: estate.us_units, language: t.language }),
		view: createSignal(first),
		blocks: createSignal(/** @type {BlockList} */ ({ state: "loading", season, list: [], trouble: "", at: 0 })),
		ground: createSignal(firstGround()),
		images: createSignal(/** @type {{list: import("../lib/images.js").KeptImage[], state: "unread" | "ready" | "failed"}} */ ({ list: [], state: "unread" })),
		choosing: createSignal(/** @type {Choosing} */ ({ way: "look", anchor: null })),
		selection: new Selection(),
		volatile: store === null,
		recorder: recorder({ id: uuid7Maker(), device, by: by.get }),
		announce: () => {},
		camera: { fit() {}, bringIntoView() {}, goTo() {} },
	};
}

/** A view of nothing in particular. @type {Omit<View, "season">} */
export const PLAIN = { theme: "condition", only: null, at: null, block: null, row: null, vine: null, patch: null, outlines: false, image: "", bare: false, operation: "", pane: "map" };

/**
 * The theme wished for, or the first where the server does not have it.
 * @param {import("../lib/model.js").Legends} legends
 * @param {import("../lib/model.js").Theme} [wish]
 */
export function themeOf(legends, wish) {
	return wish && legends[wish] ? wish : PLAIN.theme;
}

/** @returns {{name: GroundName, wish: "auto" | GroundName}} */
function firstGround() {
	const kept = keptText("courson.ground").get();
	const wish = kept === "light" || kept === "dark" ? kept : "auto";
	return { wish, name: wish === "auto" ? (matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light") : wish };
}

/**
 * A text kept by the browser; forgotten where it keeps none.
 * @param {string} key
 */
export function keptText(key) {
	return {
		get() {
			try {
				return localStorage.getItem(key) ?? "";
			} catch {
				return "";
			}
		},
		/** @param {string} text */
		set(text) {
			try {
				localStorage.setItem(key, text);
			} catch {
				// Private windows may refuse: then it lasts as long as the page.
			}
		},
	};
}

/** This computer's name among all that record; made once. */
function deviceId() {
	const kept = keptText("courson.device");
	const known = kept.get();
	if (known) return known;
	const made = `page-${Array.from(crypto.getRandomValues(new Uint8Array(6)), (b) => b.toString(16).padStart(2, "0")).join("")}`;
	kept.set(made);
	return made;
}

/** The inks of the present ground. @param {App} app */
export function inksOf(app) {
	return GROUNDS[app.ground.get().name];
}

/** A block by id. @param {App} app @param {number | null} id */
export function blockOf(app, id) {
	return app.blocks.get().list.find((b) => b.id === id);
}

/**
 * The name of a class, in the page's language where it has one.
 * @param {App} app
 * @param {import("../lib/model.js").Theme} theme
 * @param {{key: string, label: string}} cls
 */
export function className(app, theme, cls) {
	const key = `${theme}.${cls.key}`;
	return app.t.has(key) ? app.t(key) : cls.label;
}

/**
 * Why something went wrong, for people.
 * @param {unknown} error
 */
export function why(error) {
	return error instanceof Error ? error.message.replace(/\.$/, "") : String(error);
}
