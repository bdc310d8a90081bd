// The figures of one patch, or of one area that is only likely weak, in words.
// Shared by the map's panel and the report.

import { signed } from "./foundwords.js";

/**
 * @typedef {{t: import("../lib/text.js").Texts, units: import("../lib/units.js").Units}} Words
 * @typedef {import("../lib/findings.js").Patch} Patch
 * @typedef {import("../lib/findings.js").LikelyArea} LikelyArea
 */

/**
 * A value of the quantity that was tested, in the estate's unit where it has one.
 * @param {Words} words
 * @param {string} unit of the server
 * @param {number | null | undefined} value
 */
export function testedText({ t, units }, unit, value) {
	if (value === null || value === undefined || !Number.isFinite(value)) return "–";
	if (unit === "kg/m") return units.text("weight_per_m", value * 1000);
	if (unit === "g") return units.text("weight", value);
	if (unit === "g/m") return units.text("weight_per_m", value);
	if (unit === "mm") return units.text("diameter", value);
	if (unit === "cm") return units.text("shoot", value);
	return t.fixed(value, 2);
}

/** @param {Words} words @param {number} hectares */
export function areaText({ t, units }, hectares) {
	const shown = units.shown("area", hectares * 10_000);
	return shown < 0.1 ? `${t.fixed(shown, 3)}\u00a0${units.unit("area")}` : units.text("area", hectares * 10_000);
}

/** Leaves of the vines of a patch: the middle one, and from which to which. @param {Words} words @param {Patch} p */
export function leafText({ t }, p) {
	if (!p.leaf_median) return t("value.none");
	if (p.leaf_least === p.leaf_most) return t.number(p.leaf_median, 1);
	return t("patch.leaf_range", { middle: t.number(p.leaf_median, 1), least: t.number(p.leaf_least), most: t.number(p.leaf_most) });
}

/** @param {Words} words @param {number | null | undefined} percent */
export function percentText({ t }, percent) {
	return percent === null || percent === undefined ? t("value.none") : `${signed({ t }, percent, 1)}\u00a0%`;
}

/** A probability or a share as it is spoken of. @param {Words} words @param {number} share */
export function shareText({ t }, share) {
	return `${t.number(100 * share, share < 0.01 ? 1 : 0)}\u00a0%`;
}

/** A chance so small that its digits say nothing is written as below a limit. @param {Words} words @param {number} p */
export function chanceText({ t }, p) {
	return p < 0.001 ? t("patch.chance_below", { p: t.number(0.001, 3) }) : t.number(p, p < 0.1 ? 3 : 2);
}

/**
 * @param {Words} words
 * @param {Patch} p
 * @param {string} unit of what was tested
 * @returns {[string, string][]} name and value
 */
export function patchFacts(words, p, unit) {
	const { t, units } = words;
	return [
		[t("patch.vines"), t.number(p.vines)],
		[t("patch.gaps"), t("patch.gaps_value", { n: p.gaps, share: shareText(words, p.gap_share) })],
		[t("patch.area"), areaText(words, p.hectares)],
		[t("patch.row_m"), units.text("length", p.row_m)],
		[t("patch.mean"), testedText(words, unit, p.mean)],
		[t("patch.expected"), testedText(words, unit, p.expected)],
		[t(p.kind === "weak" ? "patch.shortfall" : "patch.surplus"), `${testedText(words, unit, Math.abs(p.shortfall))} (${shareText(words, Math.abs(p.shortfall_share))})`],
		[t("patch.leaf"), leafText(words, p)],
		[t("patch.chance"), chanceText(words, p.q)],
		...(p.since ? [/** @type {[string, string]} */ ([t("patch.since"), sinceText(words, p.since)])] : []),
	];
}

/** @param {Words} words @param {NonNullable<Patch["since"]>} since */
export function sinceText(words, since) {
	const here = percentText(words, since.percent);
	return since.rest_percent === null ? here : words.t("patch.since_value", { here, rest: percentText(words, since.rest_percent) });
}

/**
 * @param {Words} words
 * @param {LikelyArea} p
 * @returns {[string, string][]}
 */
export function likelyFacts(words, p) {
	const { t, units } = words;
	return [
		[t("patch.vines"), t.number(p.vines)],
		[t("patch.of_these"), t("patch.of_these_value", { measured: p.measured, estimated: p.estimated })],
		[t("patch.gaps"), t.number(p.gaps)],
		[t("patch.area"), areaText(words, p.hectares)],
		[t("patch.row_m"), units.text("length", p.row_m)],
		[t("patch.probability"), t("patch.probability_value", { mean: shareText(words, p.probability), least: shareText(words, p.least_probability) })],
	];
}
