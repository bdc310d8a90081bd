// Loads the stands of the blocks in view, and the neighbouring seasons ahead,
// and says in words how far that has got.

import { worldX, worldY } from "../lib/ground.js";
import { blockOf, why } from "./app.js";
import { VINE_ZOOM, inView } from "./vinelayer.js";
import { shownOperation } from "./operation.js";

/** @typedef {import("./app.js").App} App */
/** @typedef {import("../lib/stand.js").Stand} Stand */
/** @typedef {{state: "quiet" | "loading" | "none" | "failed" | "ready", vines: number, failed: number, trouble: string}} Nearby */

/** Stands are fetched a little before single vines are drawn. */
const LOAD_ZOOM = VINE_ZOOM - 0.5;
const AT_ONCE = 4;

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {import("./vinelayer.js").VineLayer} layer
 * @param {import("./styled.js").Styled} styled
 * @param {(nearby: Nearby) => void} onState
 */
export function watchNearby(app, map, layer, styled, onState) {
	/** @type {Map<string, string>} what could not be loaded, by block/season */
	const failed = new Map();
	let busy = 0;
	/** @type {string[]} codes of blocks whose vines are not here yet: their rows stay as pieces */
	let waiting = [];
	let filtered = "?";
	const filterWaiting = () => {
		if (waiting.join() === filtered) return;
		filtered = waiting.join();
		map.setFilter("pieces-waiting", ["in", ["get", "block"], ["literal", waiting]]);
	};

	const wanted = () => (map.getZoom() < LOAD_ZOOM ? [] : app.blocks.get().list.filter((b) => touchesView(map, b.bounds)));

	const drawReady = () => {
		const { season } = app.view.get();
		for (const block of wanted()) {
			const stand = app.stands.peek(block.id, season);
			if (stand && layer.blocks.get(block.id)?.stand !== stand) layer.put(stand, app.selection.of(block.id));
		}
	};

	const tell = () => {
		const { season } = app.view.get();
		const blocks = wanted();
		const missing = blocks.filter((b) => !app.stands.peek(b.id, season));
		const broken = missing.filter((b) => failed.has(`${b.id}/${season}`));
		const shown = blocks.map((b) => layer.blocks.get(b.id)?.stand).filter((s) => s && inView(map, s));
		const vines = shown.reduce((sum, s) => sum + (s?.count ?? 0), 0);
		waiting = missing.map((b) => b.code);
		styled.when(filterWaiting);
		/** @type {Nearby["state"]} */
		let state = "ready";
		if (map.getZoom() < LOAD_ZOOM) state = "quiet";
		else if (broken.length) state = "failed";
		else if (missing.length || app.blocks.get().state === "loading") state = "loading";
		else if (!blocks.length) state = "none";
		onState({ state, vines, failed: broken.length, trouble: broken.length ? (failed.get(`${broken[0].id}/${season}`) ?? "") : "" });
	};

	const look = () => {
		const { season } = app.view.get();
		drawReady();
		tell();
		for (const block of wanted()) {
			const key = `${block.id}/${season}`;
			if (busy >= AT_ONCE) break;
			if (app.stands.peek(block.id, season) || failed.has(key) || app.stands.loading.has(key)) continue;
			void fetchOne(block.id, season, key);
		}
		if (!busy) void ahead();
	};

	/** @param {number} block @param {number} season @param {string} key */
	const fetchOne = async (block, season, key) => {
		busy++;
		try {
			await app.stands.load(block, season);
		} catch (error) {
			failed.set(key, why(error));
		} finally {
			busy--;
			look();
		}
	};

	/** Neighbouring seasons of what is in view, one at a time, when nothing else is wanted. */
	const ahead = async () => {
		const { season } = app.view.get();
		const at = app.estate.seasons.indexOf(season);
		for (const near of [app.estate.seasons[at - 1], app.estate.seasons[at + 1]]) {
			for (const block of wanted()) {
				const key = `${block.id}/${near}`;
				if (near === undefined || app.stands.peek(block.id, near) || failed.has(key) || app.stands.loading.has(key)) continue;
				await fetchOne(block.id, near, key);
				return;
			}
		}
	};

	map.on("moveend", look);
	app.view.on((view, old) => {
		if (view.season !== old.season || shownOperation(view) !== shownOperation(old)) look();
	});
	app.blocks.on(look);
	app.stands.on(({ stand, fresh, indexes }) => {
		if (stand.season !== app.view.get().season) return;
		if (fresh) {
			if (blockOf(app, stand.block) && wanted().some((b) => b.id === stand.block)) layer.put(stand, app.selection.of(stand.block));
			tell();
		} else {
			layer.touch(stand, indexes);
		}
	});
	app.selection.on((block) => layer.mark(block, app.selection.of(block)));

	return {
		look,
		retry() {
			failed.clear();
			look();
		},
		/** Stands drawn in view. */
		stands: () => [...layer.blocks.values()].map((d) => d.stand).filter((s) => s.season === app.view.get().season && inView(map, s)),
		/** Corners of the view on the world square. @returns {[number, number][]} */
		corners() {
			const { clientWidth: w, clientHeight: h } = map.getCanvas();
			return [[0, 0], [w, 0], [w, h], [0, h]].map(([x, y]) => {
				const { lng, lat } = map.unproject([x, y]);
				return [worldX(lng), worldY(lat)];
			});
		},
	};
}

/**
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {[number, number, number, number] | null} bounds
 */
export function touchesView(map, bounds) {
	if (!bounds) return false;
	const view = map.getBounds();
	const [w, s, e, n] = bounds;
	return worldX(w) <= worldX(view.getEast()) && worldX(e) >= worldX(view.getWest()) && worldY(n) <= worldY(view.getSouth()) && worldY(s) >= worldY(view.getNorth());
}
