// The map: camera, blocks, pieces of row and labels by the library, vines by our
// own layer.

import { lonOf, latOf, worldX, worldY } from "../lib/ground.js";
import { tilesOver } from "../lib/tiles.js";
import { TILES_UNTIL, VINES_BEFORE, blockWords, mapStyle, paintsOf } from "../style/map.js";
import { blockOf, inksOf } from "./app.js";
import { cameraNow, cameraOf, firstCamera, keepCamera, sameCamera } from "./camera.js";
import { watchClicks } from "./click.js";
import { h } from "./dom.js";
import { mountBox } from "./box.js";
import { keepImageLayer, onlyShown } from "./imagelayer.js";
import { toldByBlock } from "./foundwords.js";
import { mountMapButtons } from "./mapbuttons.js";
import { Map as MapLibre, setWorkerCount } from "./maplibre.js";
import { watchNearby } from "./nearby.js";
import { keepPatchPoints, outlined } from "./patchpoints.js";
import { shownOperation } from "./operation.js";
import { mountRing } from "./ring.js";
import { mountScale } from "./scalebar.js";
import { watchStyled } from "./styled.js";
import { mountWhere } from "./where.js";
import { VineLayer } from "./vinelayer.js";

/** @typedef {import("./app.js").App} App */
/** @typedef {import("./maplibre.js").MapLibreMap} MapLibreMap */

/** How long a lost graphics card may take to come back. */
const RESTORE_MS = 8_000;

/** How long the map may wait for tiles before it says so; at the start it says so at once. */
const PATIENCE_MS = 400;

/** Whether this browser can draw the map at all. */
export function canDraw() {
	const gl = document.createElement("canvas").getContext("webgl2");
	gl?.getExtension("WEBGL_lose_context")?.loseContext();
	return gl !== null;
}

/**
 * @param {App} app
 * @param {HTMLElement} place
 * @param {{onState: (nearby: import("./nearby.js").Nearby) => void, onWaiting: (waiting: boolean) => void, onTrouble: (text: string) => void, giveUp: (text: string) => void}} tell
 */
export function mountMap(app, place, tell) {
	const { t, estate, view } = app;
	const box = h("div", { class: "map" });
	place.append(box);
	setWorkerCount(1);
	const map = new MapLibre({ container: box, style: styleOf(app), ...firstCamera(app, place), ...STILL });
	const styled = watchStyled(map);
	const layer = new VineLayer({ centre: centreOf(app), onFault: (fault) => tell.giveUp(t("map.fault", { why: fault })) });
	applyLook(app, map, layer);
	const canvas = map.getCanvas();
	canvas.setAttribute("aria-label", t("map.label"));
	canvas.id = "map-canvas";

	map.on("load", () => {
		app.camera = cameraOf(map, place);
		const nearby = watchNearby(app, map, layer, styled, tell.onState);
		nearby.look();
		parts.nearby = nearby;
		watchClicks(app, map, nearby);
		document.documentElement.dataset.map = "ready";
		parts.onReady?.();
	});
	keepCamera(app, map);
	keepRowLabels(map, layer);
	const rest = watchIdle(map);
	keepLook(app, map, layer, styled, rest);
	keepPatchPoints(app, map, styled);
	keepImageLayer(app, map, styled);
	watchTiles(map, tell.onWaiting);
	watchContext(map, layer, () => tell.giveUp(t("map.lost_graphics")));
	map.on("error", (e) => tell.onTrouble(e.error?.message ?? ""));
	map.on("data", (e) => {
		if (/** @type {any} */ (e).tile) tell.onTrouble("");
	});
	mountRing(app, map);
	mountBox(app, map, place);
	mountMapButtons(app, map, place);
	mountScale(map, place, estate.us_units);
	mountWhere(app, map, place);
	if (estate.base_map?.attribution) place.append(h("p", { class: "attribution" }, estate.base_map.attribution));
	/** @type {{map: MapLibreMap, layer: VineLayer, nearby: ReturnType<typeof watchNearby> | null, refreshTiles: (bounds: [number, number, number, number]) => void, onReady: (() => void) | null}} */
	const parts = { map, layer, nearby: null, onReady: null, refreshTiles: (bounds) => void (map.getSource("estate") && map.refreshTiles("estate", tilesOver(bounds, 0, TILES_UNTIL))) };
	view.on((now, old) => {
		if (now.at && now.at !== old.at && !sameCamera(now.at, cameraNow(map))) map.jumpTo({ center: [now.at.lon, now.at.lat], zoom: now.at.zoom, bearing: now.at.bearing });
	});
	return parts;
}

/** The map never tilts and never turns by a gesture. */
const STILL = {
	maxPitch: 0, dragRotate: false, touchPitch: false, pitch: 0, boxZoom: false, fadeDuration: 0, maplibreLogo: false,
	attributionControl: /** @type {const} */ (false), renderWorldCopies: false, maxZoom: 22, minZoom: 2, refreshExpiredTiles: false,
};

/** @param {App} app */
function tilesOf(app) {
	const operation = shownOperation(app.view.get());
	return `${location.origin}/tiles/${app.view.get().season}/{z}/{x}/{y}.mvt${operation ? `?operation=${encodeURIComponent(operation)}` : ""}`;
}

/** @param {App} app @returns {import("../style/map.js").Look} */
function lookOf(app) {
	const { theme, patch } = app.view.get();
	const code = patch === null ? undefined : blockOf(app, Number(patch.split(".")[0]))?.code;
	return {
		theme, only: onlyShown(app), told: toldByBlock(app), outlines: outlined(app), patch: code && patch ? { id: patch.slice(patch.indexOf(".") + 1), block: code } : null,
		picture: app.estate.base_map !== null, legend: app.legends[theme], ground: app.ground.get().name, words: (key) => app.t(key),
	};
}

/** @param {App} app */
function styleOf(app) {
	return mapStyle(tilesOf(app), app.estate.bounds, app.estate.base_map, lookOf(app));
}

/** @param {App} app */
function centreOf(app) {
	const [w, s, e, n] = app.estate.bounds ?? [0, 0, 0, 0];
	return { x: Math.round((worldX(w) + worldX(e)) / 2), y: Math.round((worldY(s) + worldY(n)) / 2) };
}

/**
 * Row numbers at both ends of the rows whose vines are drawn.
 * @param {MapLibreMap} map
 * @param {VineLayer} layer
 */
function keepRowLabels(map, layer) {
	let shown = "";
	map.on("webglcontextrestored", () => (shown = ""));
	map.on("idle", () => {
		const stands = [...layer.blocks.values()].map((d) => d.stand);
		const key = stands.map((s) => `${s.block}.${s.groundRevision}`).join();
		if (key === shown) return;
		shown = key;
		const source = /** @type {any} */ (map.getSource("row-ends"));
		source?.setData({ type: "FeatureCollection", features: stands.flatMap(rowEnds) });
	});
}

/** @param {import("../lib/stand.js").Stand} stand */
function rowEnds(stand) {
	return stand.rows.flatMap((row) => {
		if (!row.count) return [];
		const a = row.first;
		const b = row.first + row.count - 1;
		const dx = row.count > 1 ? ((stand.wx[b] - stand.wx[a]) / (row.count - 1)) * 1.6 : 0;
		const dy = row.count > 1 ? ((stand.wy[b] - stand.wy[a]) / (row.count - 1)) * 1.6 : 0;
		const ends = [[stand.wx[a] - dx, stand.wy[a] - dy], [stand.wx[b] + dx, stand.wy[b] + dy]];
		return ends.map(([x, y]) => ({ type: "Feature", geometry: { type: "Point", coordinates: [lonOf(x), latOf(y)] }, properties: { label: row.label, row: row.id, block: stand.block } }));
	});
}

/** @param {App} app @param {MapLibreMap} map @param {VineLayer} layer */
function applyLook(app, map, layer) {
	const { theme } = app.view.get();
	layer.setLook(theme, app.legends[theme], app.ground.get().name, onlyShown(app));
	map.getContainer().style.backgroundColor = inksOf(app).ground;
}

/** What of the view changes how the map looks. */
const LOOKS = /** @type {const} */ (["theme", "only", "patch", "outlines", "season", "image", "bare"]);

/** @param {App} app @param {MapLibreMap} map @param {VineLayer} layer @param {import("./styled.js").Styled} styled @param {Rest} rest */
function keepLook(app, map, layer, styled, rest) {
	let shown = textOf(paintsOf(lookOf(app)));
	let said = JSON.stringify(blockWords(lookOf(app)));
	let due = 0;
	/** What really changed; every change makes the library read its tiles again. */
	const restyle = () => {
		const look = lookOf(app);
		const paints = paintsOf(look);
		const now = textOf(paints);
		for (const [id, paint] of Object.entries(paints))
			for (const [name, value] of Object.entries(paint)) if (now[`${id} ${name}`] !== shown[`${id} ${name}`]) map.setPaintProperty(id, /** @type {any} */ (name), value);
		shown = now;
		const words = blockWords(look);
		if (JSON.stringify(words) !== said) map.setLayoutProperty("block-words", "text-field", words);
		said = JSON.stringify(words);
	};
	/** Vines change in the next frame, the rest of the map after it. */
	const relook = () => {
		applyLook(app, map, layer);
		if (due) return;
		rest.begin();
		due = requestAnimationFrame(() => setTimeout(() => {
			due = 0;
			styled.when(restyle);
			rest.end();
		}));
	};
	const retile = () => void /** @type {any} */ (map.getSource("estate")).setTiles([tilesOf(app)]);
	app.view.on((now, old) => {
		if (LOOKS.some((k) => now[k] !== old[k])) relook();
		if (now.season !== old.season || shownOperation(now) !== shownOperation(old)) styled.when(retile);
	});
	app.ground.on(relook);
	app.images.on(relook);
	app.findings.on(relook);
	app.blocks.on(() => {
		const { theme } = app.view.get();
		if (theme === "load" || theme === "replants") relook();
	});
}

/** Every paint as text, by layer and name. @param {Record<string, any>} paints @returns {Record<string, string>} */
function textOf(paints) {
	return Object.fromEntries(Object.entries(paints).flatMap(([id, paint]) => Object.entries(paint).map(([name, value]) => [`${id} ${name}`, JSON.stringify(value)])));
}

/** @typedef {ReturnType<typeof watchIdle>} Rest */

/**
 * Says on the page whether the map is at rest: for tests, and for readers of the page
 * by machine. It is not from the moment a frame is asked for, nor while something that
 * will be drawn is put off.
 * @param {MapLibreMap} map
 */
function watchIdle(map) {
	const { dataset } = document.documentElement;
	let due = 0;
	const busy = () => void (dataset.mapState = "busy");
	const repaint = map.triggerRepaint;
	map.triggerRepaint = () => {
		busy();
		repaint.call(map);
	};
	map.on("render", busy);
	map.on("idle", () => {
		// What another listener of this event has begun is not there yet.
		if (!due && map.loaded()) dataset.mapState = "idle";
	});
	return {
		begin() {
			due++;
			busy();
		},
		end() {
			due--;
			map.triggerRepaint();
		},
	};
}

/** Says while tiles are on their way: an empty map must not look like an empty estate. @param {MapLibreMap} map @param {(waiting: boolean) => void} tell */
function watchTiles(map, tell) {
	let timer = 0;
	tell(true);
	map.on("dataloading", () => {
		timer ||= window.setTimeout(() => {
			timer = 0;
			if (!map.areTilesLoaded()) tell(true);
		}, PATIENCE_MS);
	});
	map.on("idle", () => tell(false));
}

/**
 * Adds our layer whenever there is a style without it: at the start, and after a
 * lost context, when the library brings back its own layers only.
 * @param {MapLibreMap} map
 * @param {VineLayer} layer
 * @param {() => void} giveUp
 */
function watchContext(map, layer, giveUp) {
	let timer = 0;
	map.on("webglcontextlost", () => {
		layer.onRemove();
		document.documentElement.dataset.mapState = "lost";
		timer = window.setTimeout(giveUp, RESTORE_MS);
	});
	map.on("webglcontextrestored", () => clearTimeout(timer));
	map.on("style.load", () => {
		if (map.getLayer(layer.id)) return;
		map.addLayer(layer, VINES_BEFORE);
		const { dataset } = document.documentElement;
		dataset.layer = String(Number(dataset.layer ?? 0) + 1);
	});
}
