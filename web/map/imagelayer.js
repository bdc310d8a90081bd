// Lays the image that is chosen under the rows. Its pixels stay squares: nothing
// is smoothed between them.

import { NO_CLASS } from "../style/map.js";
import { chosenImage } from "./imagechoice.js";

/** @typedef {import("./app.js").App} App */

const ID = "image";
/** The layer that it lies below. */
const BELOW = "zone-lines";

/** The one class that rows and vines are drawn of; where the image alone is wanted, none. @param {App} app */
export function onlyShown(app) {
	const { only, bare } = app.view.get();
	return bare && chosenImage(app) ? NO_CLASS : only;
}

/**
 * @param {App} app
 * @param {import("./maplibre.js").MapLibreMap} map
 * @param {import("./styled.js").Styled} styled
 */
export function keepImageLayer(app, map, styled) {
	const draw = () => {
		const image = chosenImage(app);
		const now = /** @type {any} */ (map.getSource(ID))?.tiles?.[0] ?? "";
		const wanted = image ? location.origin + image.tiles : "";
		if (now === wanted) return;
		if (map.getLayer(ID)) map.removeLayer(ID);
		if (map.getSource(ID)) map.removeSource(ID);
		if (!image) return;
		map.addSource(ID, { type: "raster", tiles: [wanted], tileSize: 256, bounds: image.bounds, minzoom: image.min_zoom, maxzoom: image.max_zoom });
		map.addLayer({ id: ID, type: "raster", source: ID, paint: { "raster-resampling": "nearest", "raster-fade-duration": 0 } }, BELOW);
	};
	const soon = () => styled.when(draw);
	map.on("style.load", draw);
	app.view.on((now, old) => {
		if (now.image !== old.image) soon();
	});
	app.images.on(soon);
	soon();
}
