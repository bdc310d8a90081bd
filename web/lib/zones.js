// Zones and rates as the server tells them, and the order for them while somebody
// writes it.

/**
 * @typedef {{of: "vigour" | "canopy_index", season: number, weight: number}} Column
 * @typedef {{of: "vigour" | "canopy_index", season: number, vines: number}} Layer
 * @typedef {{method: string, zones: number, least_m2: number, width_m: number, rows_per_pass: number, whole_rows: boolean, reaction_m: number, rounds: number}} Cut
 * @typedef {{name: string, kind: string, unit: string, least: number, most: number, n_kg_per_t: number, n_share: number, weak: number, label_product: string, label_least: number, label_most: number}} OwnMaterial
 * @typedef {{yield_t_per_ha: number[], kg_per_tonne: number, kg_per_year: number, kg_given: number, n_kg_per_t: number}} Nitrogen
 *
 * @typedef {object} RateWish
 * @property {string} material key; "": not chosen, "own": own
 * @property {OwnMaterial | null} own
 * @property {string} aim "": not chosen
 * @property {string} rule
 * @property {string} unit
 * @property {number[]} by_zone
 * @property {number} base
 * @property {number[]} factor
 * @property {number} slope
 * @property {number} target
 * @property {number} per_unit
 * @property {number} column
 * @property {number} floor
 * @property {number} cap
 * @property {number} budget
 * @property {string} saving
 * @property {number} uniform
 * @property {number} price
 * @property {Nitrogen} nitrogen
 *
 * @typedef {{columns: Column[], zones: Cut, rates: RateWish | null, terminal: {width_m: number}, grid: {side_m: number}}} Order
 *
 * @typedef {{zones: number, explained: number, performance: number, entropy: number, modified_entropy: number, refused: string}} Index
 * @typedef {{number: number, vines: number, living: number, gaps: number, area_m2: number, row_m: number, parts: number, means: number[], sure: number}} Zone
 * @typedef {{zone: number, area_m2: number, asked: number, rate: number, bound: string, quantity: number, cost: number, n_kg_per_ha: number}} ZoneRate
 * @typedef {{material: string, kind: string, aim: string, unit: string, zones: ZoneRate[], area_m2: number, mean: number, total: number, measure: string, cost: number,
 *   uniform: {rate: number, total: number, cost: number, more: number, more_cost: number}, cautions: string[], notes: string[], terminal: string[], mended: string[]}} Rates
 * @typedef {{least_m2: number, width_m: number, rows_per_pass: number, whole_rows: boolean, rounds: number, text: string}} Remedy
 *
 * @typedef {object} View
 * @property {number} season
 * @property {string} code
 * @property {string} method
 * @property {{name: string, vines: number, mean: number, sd: number, weight: number, used: boolean}[]} columns
 * @property {number} explained
 * @property {number} kept
 * @property {number} changed
 * @property {string} sure_by
 * @property {Zone[]} zones
 * @property {{zone: number, vines: number[], none: number}[]} sure
 * @property {string[]} notes
 * @property {Remedy | null} remedy
 * @property {{indices: Index[], by_performance: number, by_entropy: number, text: string[], points: number}} advice
 * @property {{vines: number, always: number, times: number[], pairs: {a: string, b: string, vines: number, changed: number, rand: number}[], text: string[]} | null} stable
 * @property {Rates | null} rates
 * @property {{features: {geometry: {coordinates: number[][][][]}, properties: Record<string, any>}[]}} ground
 *
 * @typedef {{id: string, made: string, by: string, note: string, method: string, zones: number, columns: string[], kept: number, material: string, total: number, measure: string, unit: string, rates: number[]}} Version
 * @typedef {Version & {order: Order, view: View}} Kept
 * @typedef {{season: number, block: number, code: string, row_spacing_m: number, area_m2: number, layers: Layer[], versions: Version[]}} ZonesList
 * @typedef {{now: Version, with: Version, vines: number, changed: number, rand: number, table: number[][], rows: {row: string, vines: number, changed: number}[], rates: {measure: string, total: number, cost: number, material: boolean} | null}} Comparison
 * @typedef {{zone: number, points: number, planned: number, mean: number, sd: number, percent: number, within: number}} ZoneApplied
 * @typedef {{points: number, fields: {name: string, values: number, least: number, most: number}[], work: {unit: string, zones: ZoneApplied[], points: number, outside: number, bad: number, within: number, notes: string[]} | null}} Applied
 * @typedef {{key: string, name: string, kind: string, unit: string, least: number, most: number, source: string, n_kg_per_t: number, price: number}} Material
 * @typedef {{materials: Material[], own: OwnMaterial[], cautions: Record<string, string[]>, on_record: {text: string, unit: string, low: number, medium: number, high: number, source: string}[], units: string[]}} Materials
 */

export const METHODS = ["k-means", "natural breaks", "fuzzy c-means"];
export const RULES = ["by zone", "by factor", "linear", "need"];
export const AIMS = ["even out", "use the difference"];
export const KINDS = ["nitrogen", "compost", "mulch", "lime", "water", "cover-crop seed", "shoots kept", "plant protection", "other"];
export const FORMS = ["geojson", "shapefile", "iso-zones", "iso-grid-1", "iso-grid-2", "rows"];

/** The order that somebody begins with: vigour of the season where there is any, else the newest layer. @param {ZonesList} list @returns {Order} */
export function firstOrder(list) {
	const first = list.layers.find((l) => l.of === "vigour" && l.season === list.season) ?? list.layers.at(-1);
	return {
		columns: first ? [{ of: first.of, season: first.season, weight: 1 }] : [],
		zones: { method: "k-means", zones: 3, least_m2: 1000, width_m: 0, rows_per_pass: 0, whole_rows: false, reaction_m: 15, rounds: 3 },
		rates: noRates(),
		terminal: { width_m: 0 },
		grid: { side_m: 5 },
	};
}

/** @returns {RateWish} */
export function noRates() {
	return {
		material: "", own: null, aim: "", rule: "by zone", unit: "", by_zone: [], base: 0, factor: [], slope: 0, target: 0, per_unit: 0, column: 0,
		floor: 0, cap: 0, budget: 0, saving: "scaled", uniform: 0, price: 0, nitrogen: { yield_t_per_ha: [], kg_per_tonne: 0, kg_per_year: 0, kg_given: 0, n_kg_per_t: 0 },
	};
}

/** A material that somebody begins to describe. @returns {OwnMaterial} */
export function newMaterial() {
	return { name: "", kind: "other", unit: "kg/ha", least: 0, most: 0, n_kg_per_t: 0, n_share: 0, weak: 0, label_product: "", label_least: 0, label_most: 0 };
}

/** An order that was kept, with what a newer page writes besides. @param {Order} kept @param {Order} first @returns {Order} */
export function resumed(kept, first) {
	/** @type {Cut} */
	const zones = { ...first.zones };
	for (const [key, value] of Object.entries(kept.zones)) if (key in zones && value !== 0 && value !== "") Object.assign(zones, { [key]: value });
	zones.whole_rows = kept.zones.whole_rows;
	const rates = kept.rates ? { ...noRates(), ...kept.rates, by_zone: kept.rates.by_zone ?? [], factor: kept.rates.factor ?? [], nitrogen: { ...noRates().nitrogen, ...kept.rates.nitrogen, yield_t_per_ha: kept.rates.nitrogen?.yield_t_per_ha ?? [] } } : noRates();
	return { columns: kept.columns.map((c) => ({ ...c, weight: c.weight || 1 })), zones, rates, terminal: { width_m: kept.terminal?.width_m ?? 0 }, grid: { side_m: kept.grid?.side_m || 5 } };
}

/** What zones alone depend on. @param {Order} order @returns {Order} */
export function cutOnly(order) {
	return { ...order, rates: null };
}

/** The order to send: rates only where they are chosen, and as many numbers as there are zones. @param {Order} order @param {number} zones @returns {Order} */
export function wished(order, zones) {
	const { rates } = order;
	if (!rates?.material) return { ...order, rates: null };
	const many = (/** @type {number[]} */ list) => Array.from({ length: zones }, (_, k) => list[k] ?? 0);
	const nitrogen = { ...rates.nitrogen, yield_t_per_ha: crops(many(rates.nitrogen.yield_t_per_ha)) };
	return { ...order, rates: { ...rates, nitrogen, own: rates.material === "own" ? rates.own : null, by_zone: rates.rule === "by zone" ? many(rates.by_zone) : [], factor: rates.rule === "by factor" ? many(rates.factor) : [] } };
}

/** Crops by zone: none written is no limit, the first alone holds for all. @param {number[]} list */
function crops(list) {
	if (!list.some((n) => n > 0)) return [];
	return list.slice(1).some((n) => n > 0) ? list : list.slice(0, 1);
}

/** The same order with another value somewhere. @template {object} T @param {T} whole @param {string} path "rates.nitrogen.kg_given" @param {any} value @returns {T} */
export function withValue(whole, path, value) {
	const [first, ...rest] = path.split(".");
	const inside = /** @type {any} */ (whole)[first];
	const now = rest.length ? withValue(inside ?? {}, rest.join("."), value) : value;
	if (Array.isArray(whole)) return /** @type {any} */ (Array.from({ length: Math.max(whole.length, Number(first) + 1) }, (_, k) => (k === Number(first) ? now : whole[k] ?? 0)));
	return { ...whole, [first]: now };
}

/** @param {any} whole @param {string} path */
export function valueAt(whole, path) {
	return path.split(".").reduce((part, key) => part?.[key], whole);
}

/** The way of a version's file. @param {string | number} block @param {number} season @param {string} id @param {string} form */
export function filePath(block, season, id, form) {
	return `/api/blocks/${encodeURIComponent(block)}/zones/kept/${id}/${form}?season=${season}`;
}
