// The shapes of what the server works out of the measures, for the type check;
// and small readings of them that pages and tests share. Lengths m, areas ha,
// vigour kg of prunings per metre of row.

/**
 * @typedef {"waiting" | "running" | "ready" | "failed" | "cancelled"} FindingState
 *
 * @typedef {object} BlockSummary
 * @property {number} block
 * @property {string} code
 * @property {string} [variety]
 * @property {number} [leaf]
 * @property {FindingState} state
 * @property {number} progress 0 to 1
 * @property {string} found stamp
 * @property {string} [detail] why it failed
 * @property {number | null} [mean_kg_m]
 * @property {number} weak patches
 * @property {number} strong
 * @property {number} likely areas
 * @property {number} [weak_ha]
 * @property {number} [weak_vines]
 * @property {number | null} [change_pct]
 * @property {boolean} [change_ranks]
 *
 * @typedef {object} EstateFindings
 * @property {number} season
 * @property {number} since 0: nothing to compare with
 * @property {BlockSummary[]} blocks
 * @property {Group | null} [all]
 * @property {Group[]} [by_leaf]
 * @property {Group[]} [by_cultivar]
 * @property {string} [quantity]
 * @property {string} [unit]
 * @property {boolean} [ranks]
 * @property {string} [why]
 *
 * @typedef {object} BlockFindings
 * @property {number} block
 * @property {string} code
 * @property {string} name
 * @property {string} variety
 * @property {number} planted
 * @property {number} leaf
 * @property {number} season
 * @property {FindingState} state
 * @property {number} progress
 * @property {string} found
 * @property {string} [detail]
 * @property {Vigour | null} vigour
 * @property {Patches | null} patches
 * @property {Likely | null} likely
 * @property {Change | null} change
 *
 * @typedef {object} Bin
 * @property {number} from kg/m
 * @property {number} to
 * @property {number} measured
 * @property {number} calibrated
 * @property {number} estimated
 *
 * @typedef {object} Calibration
 * @property {string} quantity
 * @property {string} [scale]
 * @property {string} label
 * @property {string} unit
 * @property {number} pairs
 * @property {number} r2
 * @property {number} se_kg_m
 * @property {number} vines
 * @property {number} used
 * @property {string} refused
 *
 * @typedef {object} LeaveOneOut
 * @property {number} vines
 * @property {number} mean_error_kg_m
 * @property {number} rmse_kg_m
 * @property {number} msdr
 * @property {number} [correlation]
 *
 * @typedef {object} Kriging
 * @property {number} vines
 * @property {number} [estimated]
 * @property {number} [neighbours]
 * @property {{model: string, nugget: number, psill: number, range: number, anisotropy: number}} fit
 * @property {number} nugget_share
 * @property {LeaveOneOut} [leave_one_out]
 * @property {{name: string, used: boolean, why: string, rmse_kg_m: number, rmse_without_kg_m: number} | null} [covariate]
 * @property {string} refused
 *
 * @typedef {object} Oddity
 * @property {number} id of the vine
 * @property {string} address
 * @property {string} quantity
 * @property {number} value
 * @property {string} unit
 * @property {string} why
 *
 * @typedef {object} Vigour
 * @property {number} measured
 * @property {number} calibrated
 * @property {number} estimated
 * @property {number} none
 * @property {number | null} mean_kg_m
 * @property {number | null} sd_kg_m
 * @property {number[]} limits
 * @property {number[]} classes vines: none, then class 1 to 5
 * @property {Bin[]} histogram
 * @property {Calibration[]} calibrations
 * @property {Kriging | null} kriging
 * @property {string[]} notes
 * @property {Oddity[]} unlikely
 * @property {number | null} cane_mean_g
 *
 * @typedef {object} Patch
 * @property {string | number} id
 * @property {"weak" | "strong"} kind
 * @property {number} vines
 * @property {number} living
 * @property {number} gaps
 * @property {number} gap_share
 * @property {number} hectares
 * @property {number} row_m
 * @property {number} expected
 * @property {number} mean
 * @property {number} shortfall
 * @property {number} shortfall_share
 * @property {number} leaf_median
 * @property {number} leaf_least
 * @property {number} leaf_most
 * @property {number} z
 * @property {number} q
 * @property {[number, number]} center
 * @property {[number, number, number, number]} bounds
 * @property {{pairs: number, percent: number, rest_percent: number | null} | null} since
 *
 * @typedef {object} Patches
 * @property {string} quantity
 * @property {string} label
 * @property {string} unit
 * @property {number} rate
 * @property {string | null} refused
 * @property {{i: number, expected: number, z: number, p: number, n: number} | null} moran
 * @property {boolean} structured
 * @property {number} judged
 * @property {number} tested
 * @property {number} scattered
 * @property {Patch[]} list
 *
 * @typedef {object} LikelyArea
 * @property {string | number} id
 * @property {number} vines
 * @property {number} estimated
 * @property {number} measured
 * @property {number} living
 * @property {number} gaps
 * @property {number} hectares
 * @property {number} row_m
 * @property {number} probability
 * @property {number} least_probability
 * @property {[number, number]} center
 * @property {[number, number, number, number]} bounds
 *
 * @typedef {object} Likely
 * @property {string | null} refused
 * @property {number} limit_kg_m
 * @property {number} level
 * @property {number} measured
 * @property {LikelyArea[]} list
 *
 * @typedef {object} Paired
 * @property {number} n
 * @property {number} before
 * @property {number} after
 * @property {number} mean
 * @property {number} [median]
 * @property {number} [sd]
 * @property {number | null} percent
 * @property {number | null} effect
 * @property {{t: number, df: number, p: number, low: number, high: number} | null} t
 * @property {{v: number, p: number, biserial: number} | null} rank
 *
 * @typedef {object} Group
 * @property {string} label
 * @property {number} [leaf_from]
 * @property {number} [leaf_to]
 * @property {string} [cultivar]
 * @property {Paired} vines
 * @property {Paired} rows
 * @property {{sound: number, turned_weak: number, recovered: number, weak: number, p: number | null} | null} turned
 *
 * @typedef {object} Change
 * @property {number} since
 * @property {string} quantity
 * @property {string} label
 * @property {string} unit
 * @property {boolean} ranks
 * @property {string} why
 * @property {number} pairs
 * @property {number} lost
 * @property {number} replanted
 * @property {Group} all
 * @property {Group[]} by_leaf
 * @property {Group[]} by_cultivar
 *
 * @typedef {object} WeighingVine
 * @property {number} id
 * @property {string} address
 * @property {string} row label
 * @property {number} number
 * @property {number} lon
 * @property {number} lat
 * @property {number} [range] of vigour that it stands for
 *
 * @typedef {object} Weighing
 * @property {number} block
 * @property {string} code
 * @property {number} season
 * @property {number} wanted
 * @property {number} qualified
 * @property {number} cv
 * @property {string} cv_from
 * @property {number} kept
 * @property {number} lost
 * @property {Record<string, number>} passed
 * @property {string[]} notes
 * @property {number} [again] season whose weighed vines are kept, 0: none
 * @property {number} [within] relative error of the mean that these vines leave
 * @property {WeighingVine[]} vines in walking order
 *
 * @typedef {object} HandedList a list that phones carry
 * @property {string} id
 * @property {string} crew "" for every crew
 * @property {string} unit
 * @property {string} by
 * @property {string} made
 * @property {number} number of vines
 * @property {number} done
 * @property {number} skipped
 */

/** The share of the nugget from which an estimate gives the trend, not the vine. */
export const HIGH_NUGGET = 0.6;

/** The mean of the vines that have a value; null where none has. @param {Vigour | null | undefined} v */
export function meanOf(v) {
	return v && v.measured + v.calibrated + v.estimated > 0 ? v.mean_kg_m : null;
}

/** Is it still to come? @param {FindingState} state */
export function underWay(state) {
	return state === "waiting" || state === "running";
}
