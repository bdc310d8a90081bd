// One theme is drawn at a time; each has a file that says how blocks and rows
// look. Vines take their looks from the legend alone.

import { change } from "./change.js";
import { condition } from "./condition.js";
import { doubt } from "./doubt.js";
import { followUps } from "./followups.js";
import { load } from "./load.js";
import { patches } from "./patches.js";
import { progress } from "./progress.js";
import { replants } from "./replants.js";
import { vigour } from "./vigour.js";
import { zones } from "./zones.js";

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
 * @property {(t: Words, told: Expression | string) => Expression | string} blockLine second line of a block's label; told: what findings say of it
 */

/** @type {Record<import("../lib/model.js").Theme, ThemeStyle>} */
export const THEME_STYLES = { condition, vigour, doubt, change, patches, load, progress, "follow-ups": followUps, replants, zones };
