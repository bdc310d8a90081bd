// Ways from the report to the map.

import { zoomFor } from "../lib/reporthash.js";
import { h } from "../map/dom.js";

/**
 * A link that shows a patch on the map.
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/findings.js").BlockFindings} found
 * @param {{id: string | number, center: [number, number], bounds: [number, number, number, number]}} patch
 * @param {string} name of the patch
 * @param {string} kind class
 */
export function reportLink(app, found, patch, name, kind) {
	const at = [patch.center[0].toFixed(6), patch.center[1].toFixed(6), zoomFor(patch.bounds).toFixed(1)].join(",");
	const to = `/#season=${found.season}&theme=patches&block=${found.block}&patch=${encodeURIComponent(`${found.block}.${patch.id}`)}&at=${at}`;
	return h("a", { href: to, title: app.t("report.show_patch", { patch: name }), class: `to-map ${kind}` }, name);
}

/** Where a vine is on the map. @param {number} season @param {number} block @param {{id: number, lon?: number, lat?: number}} vine */
export function vinePath(season, block, { id, lon, lat }) {
	const at = lon === undefined || lat === undefined ? "" : `&at=${lon.toFixed(6)},${lat.toFixed(6)},19`;
	return `/#season=${season}&theme=vigour&block=${block}&vine=${id}${at}`;
}
