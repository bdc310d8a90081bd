// The words on patches of the map: how many vines, and what kind. They stand in
// the middle of the patches, from the findings of the blocks in view.

import { touchesView } from "./nearby.js";

/** @typedef {import("./app.js").App} App */

/** Farther out, words would lie over one another. */
const WORDS_FROM = 15.2;

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
		const features = wanted.flatMap((b) => pointsOf(app, b.id, season));
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

/** @param {App} app @param {number} block @param {number} season */
function pointsOf(app, block, season) {
	const found = app.findings.peek(block, season);
	if (!found) return [];
	const point = (/** @type {[number, number]} */ at, /** @type {string} */ words) => ({ type: "Feature", geometry: { type: "Point", coordinates: at }, properties: { words } });
	return [
		...(found.patches?.list ?? []).map((p) => point(p.center, app.t(`patch.on_map_${p.kind}`, { n: p.vines }))),
		...(found.likely?.list ?? []).map((p) => point(p.center, app.t("patch.on_map_likely", { n: p.vines }))),
	];
}
