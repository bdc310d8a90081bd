// The shapes that the server and the page exchange, for the type check only.
// Lengths are in metres, weights in grams, areas in square metres.

/**
 * @typedef {"condition" | "vigour" | "doubt" | "change" | "patches" | "load" | "progress" | "follow-ups" | "replants" | "zones"} Theme
 * @typedef {[west: number, south: number, east: number, north: number]} Bounds degrees
 *
 * @typedef {object} BaseMap
 * @property {string} tiles address template with {z}, {x}, {y}
 * @property {string} [attribution]
 * @property {number} [max_zoom]
 *
 * @typedef {object} Estate
 * @property {string} name
 * @property {boolean} south
 * @property {string} zone
 * @property {boolean} us_units
 * @property {string} score_scale
 * @property {number[]} seasons
 * @property {number} season
 * @property {Bounds | null} bounds
 * @property {number} vines
 * @property {BaseMap | null} base_map
 * @property {string} version
 *
 * @typedef {object} Totals
 * @property {number} vines
 * @property {Record<string, number>} condition by word
 * @property {number[]} vigour none, then class 1 to 5
 * @property {Record<string, number>} progress by word, living vines only
 * @property {number} to_prune
 * @property {number} gaps
 * @property {number} [weight_mean_g]
 * @property {number} [weighed]
 * @property {number} [yield_mean_g]
 * @property {number} [yield_cv]
 * @property {number} [yielded]
 * @property {number[]} load living vines by class of the nodes planned, [0] without a plan
 * @property {number[]} follow_ups living vines by job at shoot thinning
 * @property {number} [nodes_planned]
 * @property {number} [nodes_left]
 * @property {number} [clashes]
 * @property {number[]} [zones] living vines by zone for rates, [0] in none; absent until worked out
 * @property {number[]} [patches] living vines by kind of patch; absent until worked out
 * @property {number[]} [change] living vines by class of change; absent until worked out
 * @property {number[]} [doubt] living vines by how unsure their vigour is; absent until worked out
 * @property {number[]} [replants] places by kind of gap or step of replanting, in the order of the legend; absent until worked out
 *
 * @typedef {object} RowSummary
 * @property {number} id
 * @property {string} label
 * @property {number} vines
 * @property {number} length_m
 * @property {number} done
 * @property {number} to_do
 *
 * @typedef {object} Block
 * @property {number} id
 * @property {string} code
 * @property {string} name
 * @property {string} variety
 * @property {string} clone
 * @property {string} rootstock
 * @property {number} planted
 * @property {number} leaf
 * @property {string} system
 * @property {number} row_spacing_m
 * @property {number} vine_spacing_m
 * @property {number} area_m2
 * @property {number} row_m
 * @property {number} rows
 * @property {number} vines
 * @property {number} revision
 * @property {Bounds | null} bounds
 * @property {[number, number] | null} center
 * @property {Totals} totals
 * @property {RowSummary[]} [row_list]
 *
 * @typedef {object} LegendClass
 * @property {string} key
 * @property {string} label
 * @property {number} code byte in the stand column
 * @property {string} light
 * @property {string} dark
 * @property {string} symbol
 * @property {string} line of a piece of row: solid, dashed, dotted, dashdot
 * @property {number | null} [from]
 * @property {number | null} [to]
 *
 * @typedef {object} Legend
 * @property {string} title
 * @property {string} unit
 * @property {LegendClass[]} classes
 *
 * @typedef {Record<Theme, Legend>} Legends only condition, vigour and progress are always there
 *
 * @typedef {object} MeasureRead
 * @property {number} value
 * @property {string} unit
 * @property {string} [scale]
 * @property {string} [at]
 *
 * @typedef {object} VineSeason
 * @property {number} season
 * @property {number} leaf
 * @property {string} condition
 * @property {string} [cause]
 * @property {string} [seen_at]
 * @property {Record<string, MeasureRead>} [measures]
 * @property {number} vigour
 * @property {number | null} [weight_g_per_m]
 * @property {{nodes?: number, canes?: number, spurs?: number, reason?: string, at?: string, by?: string} | null} [pruned]
 * @property {string} progress
 * @property {{nodes?: number, canes?: number, spurs?: number, reason?: string} | null} [plan]
 * @property {{field: string, kept: string, disputed: string}[]} [clashes] ids of two records
 * @property {string} [look_again]
 * @property {string} [grade]
 *
 * @typedef {object} Place what an event is about
 * @property {number} block
 * @property {number} [row]
 * @property {number[]} [vines]
 *
 * @typedef {object} EventHead
 * @property {string} id
 * @property {string} device
 * @property {number} seq
 * @property {string} at
 * @property {string} [by]
 * @property {number} season
 * @property {string} kind
 * @property {Record<string, any>} value
 *
 * @typedef {EventHead & Place} FieldEvent one record
 * @typedef {FieldEvent & {cursor?: number, voided?: boolean, when?: string, received?: string}} LoggedEvent
 *
 * @typedef {object} Vine
 * @property {number} id
 * @property {{id: number, code: string}} block
 * @property {{id: number, label: string}} row
 * @property {number} number
 * @property {string} address
 * @property {string} [tag]
 * @property {number} lon
 * @property {number} lat
 * @property {number} chainage_m
 * @property {{label: string, until: string}[]} [old_labels]
 * @property {{from: number, to?: number, why?: string, rootstock?: string, clone?: string, batch?: string, grade?: string, mother?: number, mother_address?: string, severed?: number}[]} [plantings]
 * @property {VineSeason[]} seasons
 * @property {LoggedEvent[]} events
 * @property {number} previous
 * @property {number} next
 *
 * @typedef {object} FoundVine
 * @property {number} id
 * @property {string} address
 * @property {string} [tag]
 * @property {number} lon
 * @property {number} lat
 *
 * @typedef {object} Answer of the server to one event
 * @property {string} id
 * @property {"stored" | "known" | "refused"} result
 * @property {string} [reason]
 *
 * @typedef {object} PostAnswer
 * @property {string} received_at
 * @property {number} skew_ms
 * @property {Answer[]} results
 */

/** The words of the wire in the order of their byte in the stand. */
export const CONDITIONS = ["unseen", "bearing", "young", "weak", "diseased", "dead", "missing", "replanted", "doubtful"];
export const PROGRESS = ["not_started", "started", "done", "to_redo", "skipped"];

/** Bytes with a meaning of their own. */
export const DEAD = CONDITIONS.indexOf("dead");
export const MISSING = CONDITIONS.indexOf("missing");
export const DONE = PROGRESS.indexOf("done");

/** No value in a byte column. */
export const NONE = 255;

/** Bits of the flags column. */
export const FLAG = { clash: 1, note: 2, lookAgain: 4, differs: 8 };

/** The themes to choose from; how sure the vigour is (doubt) is offered beside it. @type {Theme[]} */
export const THEMES = ["condition", "vigour", "change", "patches", "load", "progress", "follow-ups", "replants", "zones"];

/** @type {Theme[]} */
export const ALL_THEMES = [...THEMES, "doubt"];

/** Where a vine's value is from: bytes of the basis column. */
export const BASES = ["none", "measured", "calibrated", "estimated"];
export const MEASURED = BASES.indexOf("measured");
export const ESTIMATED = BASES.indexOf("estimated");

/** Bytes of the patch column. */
export const PATCH = { none: 0, plain: 1, weak: 2, strong: 3, likely: 4 };

/** The stand's column that a theme is drawn from. */
export const COLUMN_OF = /** @type {const} */ ({ condition: "condition", vigour: "vigour", doubt: "doubt", change: "change", patches: "patch", load: "load", progress: "progress", "follow-ups": "follow", replants: "replant", zones: "zone" });

/** Whether a theme has classes for places without a living vine; elsewhere these keep a glyph of their own. @param {Theme} theme */
export function tellsGaps(theme) {
	return theme === "condition" || theme === "replants";
}

/**
 * Tells whether a living plant is taken to stand there.
 * @param {number} condition byte of the stand
 */
export function living(condition) {
	return condition !== DEAD && condition !== MISSING;
}
