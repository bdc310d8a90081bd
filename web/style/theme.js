// One theme is drawn at a time; each has a file that says how blocks and rows
// look. Vines take their looks from the legend alone.

import { condition } from "./condition.js";
import { progress } from "./progress.js";
import { vigour } from "./vigour.js";

/**
 * @typedef {import("./expr.js").Expression} Expression
 * @typedef {import("../lib/model.js").Legend} Legend
 * @typedef {import("./ground.js").Ground} Ground
 * @typedef {import("./ground.js").GroundName} GroundName
 * @typedef {(key: string) => string} Words
 *
 * @typedef {object} ThemeStyle
 * @property {Expression} rowClass byte of the class of a piece of row
 * @property {(legend: Legend, ground: GroundName, inks: Ground) => Expression | string} blockColour
 * @property {(t: Words) => Expression} blockLine second line of a block's label
 */

/** @type {Record<import("../lib/model.js").Theme, ThemeStyle>} */
export const THEME_STYLES = { condition, vigour, progress };
