// The patches that were tested, and apart from them the areas that are only likely
// weak.

import { reportLink } from "./links.js";
import { h } from "../map/dom.js";
import { areaText, chanceText, leafText, percentText, shareText, testedText } from "../map/patchfacts.js";
import { section, tableOf } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").BlockFindings} BlockFindings
 * @typedef {import("../lib/findings.js").Patches} Patches
 */

/** @param {App} app @param {BlockFindings} found */
export function patchesSection(app, found) {
	const { t } = app;
	const p = found.patches;
	const title = t("report.patches");
	if (!p) return section("patches", title, h("p", {}, t("report.no_patches_tested")));
	if (p.refused) return section("patches", title, h("p", {}, t("report.patches_refused", { why: p.refused })));
	const weak = p.list.filter((k) => k.kind === "weak");
	const strong = p.list.filter((k) => k.kind === "strong");
	return section("patches", title,
		h("p", {}, structure(app, p)),
		h("p", {}, t("report.patches_how", { label: p.label, n: p.tested, rate: shareText(app, p.rate) }), " ", p.scattered ? t("report.scattered", { n: p.scattered }) : ""),
		p.list.length ? table(app, found, p, [...weak, ...strong]) : h("p", {}, h("strong", {}, t("report.patches_none"))),
		h("p", { class: "hint" }, t("patch.caution")));
}

/** Whether the block has any structure at all, by Moran's I. @param {App} app @param {Patches} p */
function structure(app, p) {
	const { t } = app;
	if (!p.moran) return "";
	const figures = { i: t.number(p.moran.i, 2), z: t.number(p.moran.z, 1), p: chanceText(app, p.moran.p), n: p.moran.n };
	return t(p.structured ? "report.structure" : "report.no_structure", figures);
}

/** @param {App} app @param {BlockFindings} found @param {Patches} p @param {import("../lib/findings.js").Patch[]} list */
function table(app, found, p, list) {
	const { t, units } = app;
	const since = list.some((k) => k.since) ? (found.change?.since ?? 0) : 0;
	const heads = [t("report.patch"), `${t("patch.vines")}#`, `${t("patch.gaps")}#`, `${t("patch.area")}#`, `${t("patch.row_m")}#`, `${t("patch.mean")}#`, `${t("patch.expected")}#`, `${t("report.off")}#`, t("patch.leaf"), ...(since ? [`${t("report.since_short", { since: String(since) })}#`, `${t("report.rest")}#`] : []), `${t("report.q")}#`];
	const counts = { weak: 0, strong: 0 };
	const rows = list.map((k) => [
		reportLink(app, found, k, t(`report.kind_${k.kind}`, { n: ++counts[k.kind] }), `patch-kind patch-${k.kind}`),
		t.number(k.vines), t("patch.gaps_value", { n: k.gaps, share: shareText(app, k.gap_share) }), areaText(app, k.hectares), units.text("length", k.row_m),
		testedText(app, p.unit, k.mean), testedText(app, p.unit, k.expected),
		`${k.kind === "weak" ? "\u2212" : "+"}${shareText(app, Math.abs(k.shortfall_share))}`,
		leafText(app, k), ...(since ? [percentText(app, k.since?.percent), percentText(app, k.since?.rest_percent)] : []), chanceText(app, k.q),
	]);
	return tableOf(t("report.patches_caption", { label: p.label }), heads, rows);
}

/** @param {App} app @param {BlockFindings} found */
export function likelySection(app, found) {
	const { t, units } = app;
	const l = found.likely;
	if (!l) return null;
	const title = t("report.likely");
	if (l.refused) return section("likely", title, h("p", {}, t("report.likely_refused", { why: l.refused })));
	const how = h("p", {}, t("patch.how_likely", { limit: testedText(app, "kg/m", l.limit_kg_m), level: shareText(app, l.level) }));
	if (!l.list.length) return section("likely", title, how, h("p", {}, h("strong", {}, t("report.likely_none", { n: l.measured }))));
	const heads = [t("report.area"), `${t("patch.vines")}#`, `${t("basis.measured")}#`, `${t("basis.estimated")}#`, `${t("patch.gaps")}#`, `${t("patch.area")}#`, `${t("patch.row_m")}#`, `${t("report.probability")}#`];
	const rows = l.list.map((k, n) => [
		reportLink(app, found, k, t("report.kind_likely", { n: n + 1 }), "patch-kind patch-likely"), t.number(k.vines), t.number(k.measured), t.number(k.estimated), t.number(k.gaps), areaText(app, k.hectares), units.text("length", k.row_m),
		t("report.probability_value", { mean: shareText(app, k.probability), least: shareText(app, k.least_probability) }),
	]);
	return section("likely", title, how, tableOf(title, heads, rows));
}
