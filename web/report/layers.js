// Every layer of the block as a file for other programs.

import { h } from "../map/dom.js";
import { foldedTable, tableOf } from "./section.js";

/** Layers as the server names them. */
const LAYERS = ["blocks", "rows", "vines", "vigour", "patches", "zones", "plan-pruning", "progress", "replants"];
const UNSTYLED = ["replants"];

/** Formats have the same name in all languages. @type {[string, string][]} */
const FORMATS = [["geojson", "GeoJSON"], ["csv", "CSV"], ["xlsx", "XLSX"], ["gpkg", "GeoPackage"], ["shp", "Shapefile"], ["kml", "KML"]];

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/findings.js").BlockFindings} found
 */
export function layerTable(app, found) {
	const { t } = app;
	const link = (/** @type {string} */ layer, /** @type {string} */ file, /** @type {string} */ name, /** @type {string} */ query) =>
		h("a", { href: `/api/layers/${layer}/${file}?season=${found.season}${query}`, download: "", "aria-label": `${t(`report.file_layer_${layer}`)}, ${name}` }, name);
	const row = (/** @type {string} */ layer) => [t(`report.file_layer_${layer}`),
		...FORMATS.map(([form, name]) => link(layer, form, name, `&block=${found.block}`)),
		UNSTYLED.includes(layer) ? "–" : link(layer, "style.sld", "SLD", "")];
	const heads = [t("report.file_layer"), ...FORMATS.map(([, name]) => name), t("report.file_style")];
	return [foldedTable(t("report.file_layers"), tableOf(t("report.file_layers"), heads, LAYERS.map(row))),
		h("p", { class: "hint" }, t("report.file_limits"))];
}
