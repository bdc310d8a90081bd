// How the figures came about, in plain words: what was measured, what was turned
// into weight, what was estimated, and what was refused.

import { HIGH_NUGGET, meanOf } from "../lib/findings.js";
import { h } from "../map/dom.js";
import { pageLink } from "../map/pagelink.js";
import { section } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Vigour} Vigour
 * @typedef {import("../lib/findings.js").Kriging} Kriging
 */

/** @param {App} app @param {Vigour | null} v */
export function notesSection(app, v) {
	const { t, units } = app;
	if (!v) return section("how", t("report.how"), h("p", {}, t("report.nothing")), pageLink("import", t("report.import")));
	const lines = [
		v.measured ? t("report.measured", { n: v.measured }) : t("report.none_weighed"),
		...v.calibrations.map((c) => calibration(app, c)),
		...kriging(app, v),
		v.none ? t("report.none", { n: v.none }) : "",
		meanOf(v) !== null ? t("report.mean", { mean: units.text("weight_per_m", (v.mean_kg_m ?? 0) * 1000), sd: units.text("weight_per_m", (v.sd_kg_m ?? 0) * 1000) }) : "",
		v.cane_mean_g ? t("report.cane", { mean: caneText(app, v.cane_mean_g) }) : "",
	];
	const refused = [...v.calibrations.map((c) => c.refused), v.kriging?.refused].filter(Boolean);
	const notes = v.notes.filter((text) => !refused.some((r) => text.includes(r ?? "")));
	const trend = (v.kriging?.estimated ?? v.estimated) > 0 && (v.kriging?.nugget_share ?? 0) >= HIGH_NUGGET;
	return section("how", t("report.how"),
		trend ? h("p", { class: "warning" }, h("strong", {}, t("report.trend")), " ", t("report.trend_more", { share: t.percent(v.kriging?.nugget_share ?? 0, 1) })) : null,
		h("ul", { class: "sentences" }, ...lines.filter(Boolean).map((text) => h("li", {}, text))),
		notes.length ? h("div", {}, h("h3", {}, t("report.notes")), h("ul", { class: "sentences" }, ...notes.map((text) => h("li", {}, text)))) : null);
}

/** The weight of a cane: ounces where pounds are used. @param {App} app @param {number} g */
function caneText(app, g) {
	return app.units.us ? `${app.t.number(g / 28.349523125, 2)}\u00a0oz` : `${app.t.number(g, 0)}\u00a0g`;
}

/** @param {App} app @param {import("../lib/findings.js").Calibration} c */
function calibration(app, c) {
	const { t, units } = app;
	const figures = { label: c.label, pairs: c.pairs, r2: t.number(c.r2, 2), used: c.used };
	if (c.refused) return t("report.calibration_refused", { ...figures, why: c.refused });
	return t("report.calibration", { ...figures, n: c.used, se: units.text("weight_per_m", c.se_kg_m * 1000) });
}

/** @param {App} app @param {Vigour} v @returns {string[]} */
function kriging(app, v) {
	const { t, units } = app;
	const k = v.kriging;
	if (!k) return [];
	if (k.refused) return [t("report.kriging_refused", { why: k.refused })];
	if (!v.estimated) return [];
	const lines = [t("report.kriging", { n: v.estimated, vines: k.vines, neighbours: k.neighbours ?? 0, range: units.text("length", k.fit.range), model: k.fit.model, share: t.percent(k.nugget_share, 1) })];
	const loo = k.leave_one_out;
	if (loo?.vines)
		lines.push(t("report.left_out", {
			n: loo.vines, bias: signedWeight(app, loo.mean_error_kg_m), rmse: fineWeight(app, loo.rmse_kg_m), msdr: t.number(loo.msdr, 2),
		}));
	const c = k.covariate;
	if (c?.used) lines.push(t("report.covariate", { name: c.name, with: fineWeight(app, c.rmse_kg_m), without: fineWeight(app, c.rmse_without_kg_m) }));
	return lines;
}

/** With a third decimal: errors are small. @param {App} app @param {number} kg */
function fineWeight({ t, units }, kg) {
	return `${t.fixed(units.shown("weight_per_m", kg * 1000), 3)}\u00a0${units.unit("weight_per_m")}`;
}

/** @param {App} app @param {number} kg */
function signedWeight(app, kg) {
	const text = fineWeight(app, Math.abs(kg));
	return kg < -0.0005 ? `\u2212${text}` : text;
}
