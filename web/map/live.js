// Keeps the page up with the server: blocks of the season, changes as they come.

import { BlockLists } from "../lib/blocklists.js";
import { Stream } from "../lib/stream.js";
import { blockOf, why } from "./app.js";
import { shownOperation } from "./operation.js";

/** @typedef {import("./app.js").App} App */

/** Changes of a block within this time are asked about together. */
const TOGETHER_MS = 150;

/** How long lists wait for more findings before they are read anew. */
const TOTALS_MS = 600;

/**
 * @param {App} app
 * @param {{refreshTiles: (bounds: [number, number, number, number]) => void, onLine: (state: import("../lib/stream.js").LineState) => void, onNewVersion: () => void, onBack: () => void}} parts onBack: the server is there again
 */
export function keepUp(app, { refreshTiles, onLine, onNewVersion, onBack }) {
	const kept = new BlockLists();
	/** @type {Map<number, {ground: boolean, timer: any}>} */
	const changed = new Map();
	let coming = 0;
	/** Says on the page while something new is on its way: lists, vines and findings of one change come one by one. @param {1 | -1} by */
	const mark = (by) => {
		coming += by;
		document.documentElement.dataset.news = coming ? "coming" : "";
	};

	const showKept = () => {
		const { season } = app.view.get();
		const here = kept.get(season);
		if (here) app.blocks.set({ state: "ready", season, list: here.blocks, trouble: "", at: here.at });
		return here !== undefined;
	};
	const read = async (/** @type {number} */ season) => {
		const operation = shownOperation(app.view.get());
		const { blocks } = await app.api.blocks(season, operation);
		if (operation === shownOperation(app.view.get())) kept.put(season, blocks ?? [], Date.now());
	};
	/** Reads the blocks of the season shown, then of its neighbours. */
	const readAll = async () => {
		const { season } = app.view.get();
		if (!showKept()) app.blocks.set({ state: "loading", trouble: "" });
		try {
			await read(season);
			showKept();
		} catch (error) {
			if (app.view.get().season === season) app.blocks.set({ state: "failed", trouble: why(error) });
			return;
		}
		const at = app.estate.seasons.indexOf(season);
		for (const near of [app.estate.seasons[at - 1], app.estate.seasons[at + 1]]) if (near !== undefined && !kept.get(near)) await read(near).catch(() => {});
	};

	/** One block's record anew, in the season shown; the other seasons are read when they are wanted. */
	const readBlock = async (/** @type {number} */ id) => {
		const { season } = app.view.get();
		const operation = shownOperation(app.view.get());
		kept.keepOnly(season);
		const block = await app.api.block(id, season, operation);
		if (operation !== shownOperation(app.view.get())) return;
		kept.putOne(season, block, Date.now());
		showKept();
	};
	const follow = async (/** @type {number} */ id, /** @type {boolean} */ ground) => {
		if (ground) app.selection.forget(id);
		const bounds = blockOf(app, id)?.bounds;
		if (bounds) refreshTiles(bounds);
		await Promise.all([app.stands.refresh(id, ground), readBlock(id)]);
	};
	const soon = (/** @type {number} */ id, /** @type {boolean} */ ground) => {
		const known = changed.get(id);
		const job = known ?? { ground: false, timer: 0 };
		job.ground ||= ground;
		if (known) return;
		mark(1);
		job.timer = setTimeout(() => {
			changed.delete(id);
			// Where the line is down all is read again when it is back.
			follow(id, job.ground).catch(() => {}).finally(() => mark(-1));
		}, TOGETHER_MS);
		changed.set(id, job);
	};
	/** Findings of a block are new: what the map shows of them, and what lists say. */
	const onFound = (/** @type {import("../lib/stream.js").Found} */ { block, season }) => {
		app.findings.forget(block);
		app.zones.forget(block);
		const bounds = blockOf(app, block)?.bounds;
		if (bounds && season === app.view.get().season) refreshTiles(bounds);
		mark(1);
		void Promise.all([app.stands.refresh(block, false, season).catch(() => {}), season === app.view.get().season ? readFindings() : null]).finally(() => mark(-1));
		// Totals count what was found too; findings come in bursts.
		if (season === app.view.get().season) totals ||= window.setTimeout(() => {
			totals = 0;
			void read(app.view.get().season).then(showKept, () => {});
		}, TOTALS_MS);
	};
	let totals = 0;
	const readFindings = () => app.findings.read(app.view.get().season, () => app.view.get().season);
	/** After the line was down: whatever differs by revision. */
	const catchUp = async () => {
		const before = new Map(app.blocks.get().list.map((b) => [b.id, b.revision]));
		kept.clear();
		void readFindings();
		await readAll();
		for (const b of app.blocks.get().list) {
			const held = [...app.stands.held.values()].some((s) => s.block === b.id && s.revision < b.revision);
			if (held || (before.get(b.id) ?? 0) < b.revision) soon(b.id, false);
		}
	};
	const stream = new Stream({
		connect: () => new EventSource("/api/stream"),
		onChange: (c) => soon(c.block, c.ground),
		onFound,
		onHello: (version, again) => {
			if (version && version !== app.estate.version) onNewVersion();
			if (again) {
				void catchUp();
				onBack();
				void app.outbox.hurry();
			}
		},
		onState: onLine,
	});
	stream.open();
	for (const [target, name] of /** @type {[EventTarget, string][]} */ ([[window, "online"], [document, "visibilitychange"]]))
		target.addEventListener(name, () => {
			if (name === "online") stream.renew();
			if (document.visibilityState !== "visible") return;
			stream.hurry();
			if (app.outbox.waiting.length) void app.outbox.hurry();
		});
	app.view.on((now, old) => {
		const other = shownOperation(now) !== shownOperation(old);
		if (other) kept.clear();
		if (now.season === old.season && !other) return;
		void readAll();
		if (now.season === old.season) return;
		void readFindings();
	});
	void readAll().then(readFindings);
	return { readAll };
}
