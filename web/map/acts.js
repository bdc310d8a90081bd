// What a person can do with vines: record facts, take them back, choose, look.

import { onceAtATime } from "../lib/once.js";
import { indexOf } from "../lib/stand.js";
import { eligible, placesOf } from "../lib/records.js";
import { why } from "./app.js";
import { toast } from "./toast.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/records.js").Fact} Fact
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {import("../lib/model.js").FieldEvent} FieldEvent
 */

/**
 * Records a fact for all chosen vines, and offers to take it back. A second press
 * meanwhile records nothing.
 * @param {App} app
 * @param {Fact} fact
 * @param {string} said key of the words that say it is done
 * @returns {Promise<boolean>}
 */
export const recordForChosen = async (app, fact, said) => (await recordOnce(app, fact, said)) ?? false;

const recordOnce = onceAtATime(async (/** @type {App} */ app, /** @type {Fact} */ fact, /** @type {string} */ said) => {
	const { season } = app.view.get();
	/** @type {import("../lib/model.js").Place[]} */
	const places = [];
	let skipped = 0;
	for (const [block, { stand, indexes }] of app.selection.blocks) {
		// What counts is how the vines stand in the season that is recorded for.
		const now = stand.season === season ? stand : await app.stands.load(block, season);
		const kept = eligible(now, indexes, fact);
		skipped += indexes.size - kept.length;
		places.push(...placesOf(now, kept));
	}
	if (!places.length) {
		toast(app, app.t("choose.nothing"));
		return false;
	}
	const note = skipped ? ` ${app.t("choose.skipped", { n: skipped })}` : "";
	return record(app, places, season, fact, said, note);
});

/**
 * Records a fact for places. True when it is kept on this computer.
 * @param {App} app
 * @param {import("../lib/model.js").Place[]} places
 * @param {number} season
 * @param {Fact | Fact[]} fact
 * @param {string} said
 * @param {string} [note]
 */
export async function record(app, places, season, fact, said, note = "") {
	const n = places.reduce((sum, p) => sum + (p.vines?.length ?? 1), 0);
	let events;
	try {
		events = await app.outbox.add([fact].flat().flatMap((f) => places.map((p) => app.recorder.record(p, season, f))));
	} catch (error) {
		toast(app, app.t("saved.failed", { why: why(error) }), { trouble: true });
		return false;
	}
	toast(app, app.t(said, { n }) + note, { act: { label: app.t("saved.undo"), run: () => takeBack(app, events) } });
	return true;
}

/**
 * Takes records back by void events of their own.
 * @param {App} app
 * @param {FieldEvent[]} events
 */
export async function takeBack(app, events) {
	try {
		await app.outbox.add(events.map((e) => app.recorder.takeBack(e, "")));
		toast(app, app.t("saved.undone"));
	} catch (error) {
		toast(app, app.t("saved.failed", { why: why(error) }), { trouble: true });
	}
}

/**
 * Looks at a vine: its history opens, it is brought into view.
 * @param {App} app
 * @param {number | null} vine
 */
export function lookAt(app, vine) {
	app.view.set({ vine });
}

/**
 * The stand and index of the vine that is looked at, if its block is loaded.
 * @param {App} app
 * @param {number | null} [id]
 * @returns {{stand: Stand, index: number} | null}
 */
export function vineInHand(app, id = app.view.get().vine) {
	if (id === null) return null;
	const { season } = app.view.get();
	for (const stand of app.stands.held.values()) {
		if (stand.season !== season) continue;
		const index = indexOf(stand, id);
		if (index >= 0) return { stand, index };
	}
	return null;
}

/**
 * Chooses or unchooses a whole row.
 * @param {App} app
 * @param {number} block
 * @param {number} row id
 */
export async function toggleRow(app, block, row) {
	const stand = await app.stands.load(block, app.view.get().season);
	const found = stand.rows.find((r) => r.id === row);
	if (found) app.selection.toggle(stand, Array.from({ length: found.count }, (_, k) => found.first + k));
}

/**
 * Whether all vines of a row are chosen, as far as its stand is known.
 * @param {App} app
 * @param {number} block
 * @param {number} row id
 */
export function rowChosen(app, block, row) {
	const chosen = app.selection.blocks.get(block);
	const found = chosen?.stand.rows.find((r) => r.id === row);
	if (!chosen || !found || !found.count) return false;
	for (let i = found.first; i < found.first + found.count; i++) if (!chosen.indexes.has(i)) return false;
	return true;
}
