// Small helpers for expressions of the map style.

/**
 * @typedef {import("../map/maplibre.js").ExpressionSpecification} Expression
 * @typedef {import("../lib/model.js").Legend} Legend
 * @typedef {import("./ground.js").GroundName} GroundName
 */

/**
 * The colour of the class whose byte an expression gives.
 * @param {Expression} code
 * @param {Legend} legend
 * @param {GroundName} ground
 * @param {string} otherwise
 * @returns {Expression}
 */
export function classColour(code, legend, ground, otherwise) {
	return pick(code, legend.classes.map((c) => [c.code, c[ground]]), otherwise);
}

/**
 * A value by number or word.
 * @param {Expression} of
 * @param {[number | string, any][]} pairs
 * @param {any} otherwise
 * @returns {Expression}
 */
export function pick(of, pairs, otherwise) {
	return /** @type {any} */ (["match", of, ...pairs.flat(), otherwise]);
}

/** @param {string} name @returns {Expression} */
export function get(name) {
	return ["get", name];
}

/** A small number that may be missing, which counts as 0. @param {string} name @returns {Expression} */
export function byte(name) {
	return /** @type {any} */ (["coalesce", ["get", name], 0]);
}

/**
 * A number growing with the zoom, doubling its rate at each.
 * @param {...[zoom: number, value: number]} stops
 * @returns {Expression}
 */
export function byZoom(...stops) {
	return /** @type {any} */ (["interpolate", ["exponential", 2], ["zoom"], ...stops.flat()]);
}
