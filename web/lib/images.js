// Images that the estate keeps to be drawn under the rows.

/**
 * @typedef {object} KeptImage
 * @property {string} id
 * @property {string} index what its values are
 * @property {string} sensor empty where nobody said
 * @property {string} day
 * @property {number} season
 * @property {string} file name of the file it came from
 * @property {string} source
 * @property {number} pixel_m
 * @property {number} drawn_m
 * @property {number} least
 * @property {number} most
 * @property {[number, number, number, number]} bounds
 * @property {number} min_zoom
 * @property {number} max_zoom
 * @property {string} tiles
 * @property {import("./model.js").Legend} legend
 */

/** What a pixel can tell apart, by the distance between rows. @param {KeptImage} image @param {number[]} rows m; unknown ones are 0 @returns {"rows" | "areas"} */
export function tellsApart(image, rows) {
	const known = rows.filter((m) => m > 0);
	return known.some((m) => image.pixel_m > m) ? "areas" : "rows";
}

/** Whether pixels are drawn larger than the image has them. @param {KeptImage} image */
export function isCoarser(image) {
	return image.drawn_m > image.pixel_m * 1.01;
}
