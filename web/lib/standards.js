// What the owner of a block sets for pruning: every field with its limits and
// its unit, and how standards are read, changed and told apart. The limits are
// those of the server, which has the last word.

import { readNumber } from "./units.js";

/**
 * @typedef {object} System
 * @property {string} key
 * @property {string} name
 * @property {number} arms
 * @property {number} spurs_per_arm
 * @property {number} nodes_per_spur
 * @property {number} canes_per_arm
 * @property {number} [most_canes]
 * @property {number} [least_nodes_per_cane]
 * @property {number} [most_nodes_per_cane]
 * @property {number} [wires]
 * @property {number} [spur_spacing_m]
 *
 * @typedef {{leaf: number, stage: string, nodes_share: number, crop_share: number}} LeafLine
 * @typedef {{vigour: any, patches: any, rows: any, pruning: any}} Standards
 *
 * @typedef {object} Settled what counts for a block, and where it is from
 * @property {number} block 0: the estate
 * @property {string} code
 * @property {boolean} own
 * @property {string} by
 * @property {string | null} made
 * @property {string} unclear
 * @property {Standards} standards
 * @property {System[]} systems
 *
 * @typedef {"per_m" | "cm" | "mm" | "g" | "kg" | "per_kg" | "kg_m" | "per_ha" | "m" | "min" | "nodes" | "leaf" | "vines" | "share"} Measure
 *
 * @typedef {object} Setting one field
 * @property {string} path
 * @property {"number" | "whole" | "words" | "check" | "text"} kind
 * @property {Measure} [measure]
 * @property {number} [low] in the unit kept
 * @property {number} [high]
 * @property {string[]} [words] to choose from
 */

const POUND_KG = 0.45359237;
const FOOT_M = 0.3048;
/** The international acre: 4840 square yards. */
const ACRE_HA = (4840 * (3 * FOOT_M) ** 2) / 10_000;

/** What a kept number is multiplied with to be shown, and its unit's word. @type {Record<Measure, {metric: [number, string], us: [number, string]}>} */
const MEASURES = {
	per_m: { metric: [1, "per_m"], us: [FOOT_M, "per_ft"] },
	cm: { metric: [100, "cm"], us: [12 / FOOT_M, "in"] },
	mm: { metric: [1, "mm"], us: [1 / 25.4, "in"] },
	g: { metric: [1, "g"], us: [16 / (1000 * POUND_KG), "oz"] },
	kg: { metric: [1, "kg"], us: [1 / POUND_KG, "lb"] },
	per_kg: { metric: [1, "per_kg"], us: [POUND_KG, "per_lb"] },
	kg_m: { metric: [1, "kg_m"], us: [FOOT_M / POUND_KG, "lb_ft"] },
	per_ha: { metric: [1, "per_ha"], us: [ACRE_HA, "per_ac"] },
	m: { metric: [1, "m"], us: [1 / FOOT_M, "ft"] },
	min: { metric: [1, "min"], us: [1, "min"] },
	nodes: { metric: [1, "nodes"], us: [1, "nodes"] },
	leaf: { metric: [1, "leaf"], us: [1, "leaf"] },
	vines: { metric: [1, "vines"], us: [1, "vines"] },
	share: { metric: [100, "percent"], us: [100, "percent"] },
};

/** @param {string} path @param {number} low @param {number} high @param {Measure} [measure] @returns {Setting} */
const number = (path, low, high, measure) => ({ path, kind: "number", low, high, measure });
/** @param {string} path @param {number} low @param {number} high @param {Measure} [measure] @returns {Setting} */
const whole = (path, low, high, measure) => ({ path, kind: "whole", low, high, measure });
/** @param {string} path @param {string[]} list @returns {Setting} */
const words = (path, list) => ({ path, kind: "words", words: list });

const P = "pruning.";

/** The fields of each kind of load rule. @type {Record<string, Setting[]>} */
export const RULES = {
	per_weight: [number(`${P}load_rule.a`, 1, 400, "nodes"), number(`${P}load_rule.first_weight`, 0.05, 10), number(`${P}load_rule.b`, 0, 400, "nodes"), words(`${P}load_rule.unit`, ["lb", "kg"])],
	per_weight_metric: [number(`${P}load_rule.first`, 1, 400, "nodes"), number(`${P}load_rule.first_kg`, 0.05, 10, "kg"), number(`${P}load_rule.more_per_kg`, 0, 400, "per_kg")],
	cane_weight: [number(`${P}load_rule.target_g`, 5, 200, "g")],
	effective_shoots: [number(`${P}load_rule.extra`, 0, 50, "nodes")],
	ideal_shoots: [number(`${P}load_rule.small`, 0, 1), number(`${P}load_rule.large`, 1, 3), number(`${P}load_rule.raise_share`, 0, 0.5, "share"), number(`${P}load_rule.raise_young_share`, 0, 1, "share")],
	fixed: [number(`${P}load_rule.nodes`, 4, 400, "nodes")],
};

/** Where each kind of rule begins: the figures its source gives. @type {Record<string, any>} */
export const RULE_STARTS = {
	per_weight: { kind: "per_weight", a: 20, b: 20, unit: "lb", first_weight: 1 },
	per_weight_metric: { kind: "per_weight_metric", first: 55, first_kg: 0.5, more_per_kg: 22 },
	cane_weight: { kind: "cane_weight", target_g: 35 },
	effective_shoots: { kind: "effective_shoots", scores: [{ from_mm: 7, score: 0.5 }, { from_mm: 10, score: 1 }, { from_mm: 15, beyond: true, score: 2 }], extra: 5 },
	ideal_shoots: { kind: "ideal_shoots", small: 0.5, large: 2, raise_share: 0.1, raise_young_share: 0.25 },
	fixed: { kind: "fixed", nodes: 12 },
};

/** The plain groups of settings, in the order of the form. @type {Record<string, Setting[]>} */
export const GROUPS = {
	limits: [
		number(`${P}limits.shoots_per_m`, 3, 60, "per_m"), number(`${P}limits.canopy_m_per_row_m`, 1, 4),
		number(`${P}limits.cap_per_vine`, 0, 400, "nodes"), number(`${P}limits.cap_per_ha`, 0, 1_000_000, "per_ha"), words(`${P}limits.cap_per_ha_over`, ["all", "living"]),
		{ path: `${P}limits.hold_weak`, kind: "check" }, number(`${P}limits.weak_more_share`, 0, 1, "share"), number(`${P}limits.change_share`, 0, 1, "share"),
	],
	dead_buds: [number(`${P}dead_buds.share`, 0, 0.95, "share"), words(`${P}dead_buds.rule`, ["none", "exact", "table"]), number(`${P}dead_buds.minimal_above`, 0, 1, "share")],
	drought: [words(`${P}drought.wish`, ["hold", "ease", "rule"]), number(`${P}drought.ease_share`, 0, 0.9, "share"), whole(`${P}drought.less_crop_through_leaf`, 0, 20, "leaf")],
	wood: [
		number(`${P}wood.min_cane_mm`, 3, 15, "mm"), number(`${P}wood.bull_cane_mm`, 3, 40, "mm"), number(`${P}wood.cut_back_mm`, 0, 15, "mm"), whole(`${P}wood.cut_back_through_leaf`, 0, 20, "leaf"),
		number(`${P}wood.weak_cane_g`, 0, 200, "g"), number(`${P}wood.very_weak_cane_g`, 0, 100, "g"), whole(`${P}wood.one_cane_up_to`, 0, 400, "nodes"), whole(`${P}wood.two_canes_least`, 1, 40, "nodes"),
		{ path: `${P}wood.equal_canes`, kind: "check" }, number(`${P}wood.gap_m`, 0, 2, "cm"), number(`${P}wood.internode_m`, 0.02, 0.3, "cm"),
		number(`${P}wood.stub_mm`, 0, 100, "mm"), number(`${P}wood.stub_per_wound`, 0, 5), whole(`${P}wood.trunk_nodes`, 1, 20),
	],
	yield: [number(`${P}yield.budburst`, 0, 3, "share"), number(`${P}yield.clusters_per_shoot`, 0, 6), number(`${P}yield.cluster_g`, 0, 3000, "g")],
	work: [number(`${P}work.cane_minutes`, 0, 120, "min"), number(`${P}work.spur_minutes`, 0, 120, "min"), number(`${P}work.young_minutes`, 0, 120, "min")],
	vigour: [0, 1, 2, 3].map((k) => number(`vigour.limits_kg_m.${k}`, 0.001, 20, "kg_m")).concat(words("vigour.covariate", ["season_before", "canopy_index", "none"])),
	rows: [whole("rows.vines_per_section", 0, 100, "vines")],
	patches: [number("patches.rate", 0.001, 0.5, "share"), number("patches.level", 0.5, 0.999, "share"), whole("patches.least_vines", 1, 10_000, "vines"), number("patches.along_m", 0, 200, "m"), number("patches.across_rows", 0, 50)],
};

const S = `${P}system.`;

/** Fields of a training system of one's own. @type {Setting[]} */
const BUILT = [{ path: `${S}name`, kind: "text" }, whole(`${S}arms`, 1, 12), whole(`${S}spurs_per_arm`, 0, 30), whole(`${S}nodes_per_spur`, 1, 4, "nodes"), whole(`${S}canes_per_arm`, 0, 30)];
const WITH_CANES = [whole(`${S}most_canes`, 0, 40), whole(`${S}least_nodes_per_cane`, 1, 40, "nodes"), whole(`${S}most_nodes_per_cane`, 1, 40, "nodes"), whole(`${S}wires`, 0, 6)];
const WITHOUT = [number(`${S}spur_spacing_m`, 0, 1, "cm")];

/** The fields that count for a system. @param {System} system */
export function systemSettings(system) {
	return [...BUILT, ...(system.canes_per_arm > 0 ? WITH_CANES : WITHOUT)];
}

/** A system without what does not count for its kind; what its kind needs is begun with common figures. @param {System} system @returns {System} */
export function tidySystem(system) {
	const { spur_spacing_m, most_canes, least_nodes_per_cane, most_nodes_per_cane, wires, ...rest } = system;
	if (system.canes_per_arm > 0) return { ...rest, most_canes: most_canes ?? 0, least_nodes_per_cane: least_nodes_per_cane || 4, most_nodes_per_cane: most_nodes_per_cane || 10, wires: wires || 1 };
	return { ...rest, ...(spur_spacing_m ? { spur_spacing_m, spurs_per_arm: 0 } : {}) };
}

/** Every path that an error may be about, the longest first. */
export const PATHS = [...Object.values(GROUPS), ...Object.values(RULES), BUILT, WITH_CANES, WITHOUT].flat().map((s) => s.path)
	.concat(`${P}leaf_table`, `${P}dead_buds.table`, `${P}load_rule.scores`, `${P}load_rule.kind`, "vigour.limits_kg_m").sort((a, b) => b.length - a.length);

/**
 * Which field an error of the server is about, by the name it gives or by what
 * its words say; "" where that cannot be told.
 * @param {string | undefined} field
 * @param {string} detail
 */
export function fieldOf(field, detail) {
	const short = (/** @type {string} */ path) => path.replace(/^pruning\./, "").replace(/^system\./, "");
	const plain = (field ?? "").replace(/^standards\./, "").replace(/\[(\d+)\]/g, ".$1");
	const named = PATHS.find((p) => plain && (plain === p || plain.startsWith(`${p}.`) || plain === short(p)));
	if (named) return named;
	return PATHS.find((p) => new RegExp(`(^|[^\\w.])(pruning\\.)?${short(p).replace(/\./g, "\\.")}(\\[\\d+\\])?(\\.\\w+)?:`).test(detail)) ?? "";
}

/** The value at a path, undefined where there is none. @param {any} from @param {string} path */
export function at(from, path) {
	return path.split(".").reduce((value, key) => value?.[key], from);
}

/** A copy with another value at a path. @template T @param {T} from @param {string} path @param {any} value @returns {T} */
export function withAt(from, path, value) {
	const [key, ...rest] = path.split(".");
	const copy = /** @type {any} */ (Array.isArray(from) ? [...from] : { ...from });
	copy[key] = rest.length ? withAt(copy[key] ?? {}, rest.join("."), value) : value;
	return copy;
}

/** The factor and the unit's word of a setting. @param {Setting} s @param {boolean} us @returns {[number, string]} */
export function scaleOf(s, us) {
	return s.measure ? MEASURES[s.measure][us ? "us" : "metric"] : [1, ""];
}

/** A kept number as it is shown in its field. @param {Setting} s @param {any} value @param {boolean} us */
export function shownIn(s, value, us) {
	if (s.kind === "words" || s.kind === "text") return String(value ?? "");
	const n = Number(value ?? 0) * scaleOf(s, us)[0];
	return String(Number(n.toPrecision(4)));
}

/**
 * What was typed, in the unit kept; null where it cannot be meant.
 * @param {Setting} s
 * @param {string} typed
 * @param {boolean} us
 * @returns {number | string | null}
 */
export function typedIn(s, typed, us) {
	if (s.kind === "words" || s.kind === "text") return typed.trim();
	const n = readNumber(typed);
	if (n === null || (s.kind === "whole" && !Number.isInteger(n))) return null;
	const value = Number((n / scaleOf(s, us)[0]).toPrecision(12));
	const slack = 1e-9;
	return value < (s.low ?? -Infinity) - slack || value > (s.high ?? Infinity) + slack ? null : value;
}

/**
 * What of standards differs from others, key by key in each of their parts:
 * only that is kept for a block, so that it follows the estate in all else.
 * @param {Standards} mine
 * @param {Standards} theirs
 */
export function differing(mine, theirs) {
	/** @type {Record<string, Record<string, any>>} */
	const out = {};
	const other = /** @type {Record<string, any>} */ (theirs);
	for (const [part, keys] of Object.entries(mine))
		for (const [key, value] of Object.entries(keys ?? {}))
			if (JSON.stringify(value) !== JSON.stringify(other[part]?.[key])) (out[part] ??= {})[key] = value;
	return out;
}

/** Standards of the whole estate: all but the training system, which stays with each block. @param {Standards} s */
export function forEstate(s) {
	const { system, ...pruning } = s.pruning;
	return { ...s, pruning };
}
