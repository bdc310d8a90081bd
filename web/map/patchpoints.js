// The words on patches of the map: how many vines, and what kind. They stand in
// the middle of the patches, from the findings of the blocks in view.

import { touchesView } from "./nearby.js";

/** @typedef {import("./app.js").App} App */

/** Farther out, words would lie over one another. */
const WORDS_FROM = 15.2;

/** How wide a patch is at least on the screen that has words, in px: narrower, they would cover it and its neighbours. */
const WIDE_ENOUGH = 56;

/**
 * Whether a patch is large enough on the screen for its words, taken for a square of
 * its area.
 * @param {number} hectares
 * @param {number} lat degrees
 * @param {number} zoom of tiles of 512 px, the ground 40,075,016.7 m around the equator (WGS 84)
 */
export function roomForWords(hectares, lat, zoom) {
	const pxPerM = (512 * 2 ** zoom) / (40_075_016.7 * Math.cos((lat * Math.PI) / 180));
	return Math.sqrt(hectares * 1e4) * pxPerM >= WIDE_ENOUGH;
}

/** Whether patches are outlined now. @param {App} app */
export function outlined(app) {
	const { theme, outlines } = app.view.get();
	return theme === "patches" || (outlines && (theme === "vigour" || theme === "change" || theme === "doubt"));
}

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {import("./styled.js").Styled} styled
 */
export function keepPatchPoints(app, map, styled) {
	let shown = "";
	const draw = () => {
		const { season } = app.view.get();
		const wanted = outlined(app) && map.getZoom() >= WORDS_FROM ? app.blocks.get().list.filter((b) => touchesView(map, b.bounds)) : [];
		for (const b of wanted) {
			const found = app.findings.summary(b.id, season);
			if (found?.state === "ready" && found.weak + found.strong + found.likely > 0) void app.findings.load(b.id, season).catch(() => {});
		}
		const features = wanted.flatMap((b) => pointsOf(app, b.id, season, map.getZoom()));
		const now = JSON.stringify(features);
		if (now === shown) return;
		shown = now;
		styled.when(() => void /** @type {any} */ (map.getSource("patch-points"))?.setData({ type: "FeatureCollection", features }));
	};
	map.on("webglcontextrestored", () => (shown = ""));
	map.on("moveend", draw);
	app.view.on(draw);
	app.blocks.on(draw);
	app.findings.on(draw);
	draw();
}

/** @param {App} app @param {number} block @param {number} season @param {number} zoom */
function pointsOf(app, block, season, zoom) {
	const found = app.findings.peek(block, season);
	if (!found) return [];
	const point = (/** @type {[number, number]} */ at, /** @type {string} */ words) => ({ type: "Feature", geometry: { type: "Point", coordinates: at }, properties: { words } });
	const fits = (/** @type {{hectares: number, center: [number, number]}} */ p) => roomForWords(p.hectares, p.center[1], zoom);
	return [
		...(found.patches?.list ?? []).filter(fits).map((p) => point(p.center, app.t(`patch.on_map_${p.kind}`, { n: p.vines }))),
		...(found.likely?.list ?? []).filter(fits).map((p) => point(p.center, app.t("patch.on_map_likely", { n: p.vines }))),
	];
}
