// What findings say, in a few words for lists, labels and the map.

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/findings.js").BlockSummary} BlockSummary
 * @typedef {import("../lib/model.js").Theme} Theme
 */

/**
 * What a theme says of a block, in a few words; empty where it says nothing.
 * @param {App} app
 * @param {Theme} theme
 * @param {BlockSummary | undefined} found
 */
export function foundText(app, theme, found) {
	const { t } = app;
	if (!found) return "";
	if (found.state === "waiting" || found.state === "running") return t("found.running");
	if (found.state === "failed") return t("found.failed");
	if (found.state === "cancelled") return t("found.cancelled");
	if (theme === "patches") return patchText(app, found);
	if (theme === "change") return changeText(app, found);
	return typeof found.mean_kg_m === "number" ? t("found.mean", { mean: app.units.text("weight_per_m", found.mean_kg_m * 1000) }) : t("map.not_measured");
}

/** @param {App} app @param {BlockSummary} found */
function patchText(app, found) {
	const { t } = app;
	const parts = [];
	if (found.weak) parts.push(t("found.weak", { n: found.weak }));
	if (found.strong) parts.push(t("found.strong", { n: found.strong }));
	if (found.likely) parts.push(t("found.likely", { n: found.likely }));
	return parts.length ? parts.join(", ") : t("found.no_patches");
}

/** @param {App} app @param {BlockSummary} found */
function changeText(app, found) {
	const { t } = app;
	if (typeof found.change_pct !== "number") return t(found.change_ranks ? "found.ranks" : "found.no_change");
	const since = app.findings.seasons.get(app.view.get().season)?.since;
	return t("found.change", { percent: signed(app, found.change_pct, 0), since: String(since || "") });
}

/** A number with its sign, also where it is above 0. @param {{t: import("../lib/text.js").Texts}} app @param {number} n @param {number} digits */
export function signed(app, n, digits) {
	return new Intl.NumberFormat(app.t.language, { maximumFractionDigits: digits, signDisplay: "exceptZero" }).format(n).replace("-", "\u2212");
}

/** Whether a theme rests on findings. @param {Theme} theme */
export function restsOnFindings(theme) {
	return theme === "patches" || theme === "change" || theme === "doubt";
}

/** Whether a theme comes from the pruning plan and what it asks for. @param {Theme} theme */
export function restsOnPlan(theme) {
	return theme === "load" || theme === "follow-ups";
}

/** What findings or plans say of each block of the season, for the map. @param {App} app @returns {[number, string][]} */
export function toldByBlock(app) {
	const { season, theme } = app.view.get();
	if (theme === "replants") return app.blocks.get().list.map((b) => [b.id, replantText(app, [b.totals], true)]);
	if (restsOnPlan(theme)) return app.blocks.get().list.map((b) => [b.id, planText(app, theme, b.totals)]);
	if (!restsOnFindings(theme)) return [];
	return (app.findings.seasons.get(season)?.blocks ?? []).map((b) => [b.block, foundText(app, theme, b)]);
}

/** The address of a block's report. @param {{code: string}} block @param {number} season @param {string} [more] */
export function reportPath(block, season, more = "") {
	return `/report#block=${encodeURIComponent(block.code)}&season=${season}${more}`;
}

/**
 * What the pruning plan says of vines, in as few words as fit on a block.
 * @param {App} app
 * @param {Theme} theme
 * @param {Pick<import("../lib/model.js").Totals, "load" | "nodes_planned" | "follow_ups">} totals
 * @param {boolean} [more] there is room for more words
 */
export function planText({ t }, theme, totals, more = false) {
	if (theme === "follow-ups") {
		const [, rub, push, done] = totals.follow_ups;
		const n = rub + push + done;
		return n ? t(more ? "blocks.jobs_done" : "blocks.jobs", { n, done }) : t("blocks.no_jobs");
	}
	const nodes = totals.nodes_planned ?? 0;
	const vines = totals.load.slice(1).reduce((sum, n) => sum + n, 0);
	return nodes && vines ? t(more ? "blocks.planned_all" : "blocks.planned", { mean: t.number(nodes / vines, 1), n: nodes }) : t("blocks.not_planned");
}

/** Classes of the theme replants: kinds of gap that are sure, and steps on the way to a new plant. */
const SURE_GAPS = [3, 4, 5];
const ON_THE_WAY = [6, 7, 8, 9, 11];

/** Gaps without a step, places on their way, and places to look at, in words; short: as many as fit on a block. @param {App} app @param {import("../lib/model.js").Totals[]} all */
export function replantText(app, all, short = false) {
	if (!all.some((t) => t.replants)) return app.t("found.running");
	const sum = (/** @type {number[]} */ codes) => all.reduce((n, t) => n + codes.reduce((k, c) => k + (t.replants?.[c] ?? 0), 0), 0);
	const parts = [app.t("replants.line_gaps", { n: sum(SURE_GAPS) })];
	if (short) return parts[0];
	const look = sum([1, 2]);
	const way = sum(ON_THE_WAY);
	if (look) parts.push(app.t("replants.line_look", { n: look }));
	if (way) parts.push(app.t("replants.line_way", { n: way }));
	return parts.join(", ");
}

/** The address of a block's gaps and replants. @param {{code: string}} block @param {number} season @param {string} [more] */
export function replantsPath(block, season, more = "") {
	return `/replants#block=${encodeURIComponent(block.code)}&season=${season}${more}`;
}

/** The address of a block's pruning plan. @param {{code: string}} block @param {number} season @param {string} [more] */
export function pruningPath(block, season, more = "") {
	return `/pruning#block=${encodeURIComponent(block.code)}&season=${season}${more}`;
}

/** The address of a block's zones and rates. @param {{code: string}} block @param {number} season */
export function zonesPath(block, season) {
	return `/zones#block=${encodeURIComponent(block.code)}&season=${season}`;
}
