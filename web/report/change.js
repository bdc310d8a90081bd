// What changed between two seasons, by leaf and by variety: means side by side,
// and a test that goes by rows.

import { toast } from "../map/toast.js";
import { h, svg } from "../map/dom.js";
import { signed } from "../map/foundwords.js";
import { chanceText, percentText, testedText } from "../map/patchfacts.js";
import { chart, line, niceSteps, words } from "./chart.js";
import { foldedTable, section, tableOf } from "./section.js";

/**
 * @typedef {import("./main.js").Report} Report
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Change} Change
 * @typedef {import("../lib/findings.js").Group} Group
 * @typedef {import("../lib/findings.js").BlockFindings} BlockFindings
 */

/** From which size an effect is called so: J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 1988. */
const EFFECTS = /** @type {const} */ ([[0.8, "large"], [0.5, "middling"], [0.2, "small"]]);

/** The last leaf of a class that has no end. */
const AND_LATER = 255;

/** @param {Report} report @param {BlockFindings} found */
export function changeSection(report, found) {
	const { app } = report;
	const { t } = app;
	const c = found.change;
	const title = t("report.change");
	const choice = sinceChoice(report, found);
	if (!c) return section("change", title, choice, h("p", {}, t("report.no_change")));
	const groups = [c.all, ...several(c.by_leaf), ...several(c.by_cultivar)];
	return section("change", title, choice,
		c.ranks ? h("p", { class: "warning" }, h("strong", {}, t("report.ranks")), " ", c.why) : h("p", {}, t("report.change_what", { label: c.label })),
		h("p", {}, says(app, c), " ", t("report.pairs", { n: c.pairs }), " ", leftOut(app, c)),
		chart(says(app, c), 40 + 44 * groups.length, (root, width) => draw(app, c, found.season, groups, root, width)),
		h("p", { class: "hint" }, t("report.change_key", { since: String(c.since), season: String(found.season) })),
		groupTable(app, c, found.season, groups),
		h("p", { class: "hint" }, t("report.go_by_rows")),
		c.all.turned ? turnedTable(app, groups) : null);
}

/** Groups are worth showing where there are two or more. @param {Group[]} list */
function several(list) {
	return list.length > 1 ? list : [];
}

/** @param {Report} report @param {BlockFindings} found */
function sinceChoice({ app, about }, found) {
	const { t } = app;
	const since = about.get().since ?? found.change?.since ?? 0;
	const earlier = app.estate.seasons.filter((s) => s < found.season);
	if (!earlier.length) return null;
	const list = h("select", { id: "since", data: { key: "since" }, on: { change: () => about.set({ since: Number(list.value) || null }) } },
		h("option", { value: "" }, t("report.since_latest")), ...[...earlier].reverse().map((s) => h("option", { value: s }, s)));
	list.value = about.get().since ? String(since) : "";
	const onMap = about.get().since ? h("button", { type: "button", data: { key: "since-map" }, on: { click: async () => {
		try {
			await app.api.compareWith(found.season, about.get().since ?? 0, app.by.get());
			toast(app, t("report.since_on_map", { since: String(about.get().since) }));
		} catch (e) {
			toast(app, t("report.not_asked", { why: e instanceof Error ? e.message : String(e) }), { trouble: true });
		}
	} } }, t("report.since_map")) : null;
	return h("p", { class: "line-choice" }, h("label", { for: "since" }, t("report.since")), list, onMap, found.change ? h("span", {}, t("report.between", { since: String(found.change.since), season: String(found.season) })) : null);
}

/** The finding in a sentence. @param {App} app @param {Change} c */
function says(app, c) {
	const { t } = app;
	const p = c.all.rows.t?.p ?? c.all.rows.rank?.p ?? null;
	if (c.ranks) return t("report.says_ranks", { since: String(c.since) });
	const percent = percentText(app, c.all.rows.percent ?? c.all.vines.percent);
	if (p === null) return t("report.says_untested", { percent, since: String(c.since) });
	return t(p < 0.05 ? "report.says_changed" : "report.says_same", { percent, since: String(c.since), p: chanceText(app, p) });
}

/** @param {App} app @param {Change} c */
function leftOut(app, c) {
	const parts = [];
	if (c.lost) parts.push(app.t("report.lost", { n: c.lost }));
	if (c.replanted) parts.push(app.t("report.replanted", { n: c.replanted }));
	return parts.join(" ");
}

/** The name of a group in the page's words. @param {App} app @param {Group} g @param {Change} c */
export function groupName(app, g, c) {
	const { t } = app;
	if (g === c.all) return t("report.all_vines");
	if (g.cultivar) return g.cultivar;
	const from = g.leaf_from ?? 0;
	const to = g.leaf_to ?? 0;
	if (!from && !to) return g.label;
	if (to >= AND_LATER) return t("report.leaf_from", { from: String(from) });
	return from === to ? t("report.leaf_one", { from: String(from) }) : t("report.leaf_range", { from: String(from), to: String(to) });
}

/** Writes a mean: a rank is a bare number. @param {App} app @param {Change} c @param {number} value */
function meanText(app, c, value) {
	return c.ranks ? app.t.number(value, 0) : testedText(app, c.unit, value);
}

/** @param {App} app @param {Change} c @param {number} value */
function differenceText(app, c, value) {
	if (c.ranks) return signed(app, value, 1);
	const text = testedText(app, c.unit, Math.abs(value));
	return value < 0 ? `\u2212${text}` : value > 0 ? `+${text}` : text;
}

/** @param {App} app @param {number | null | undefined} d */
function effectText(app, d) {
	if (d === null || d === undefined || !Number.isFinite(d)) return app.t("value.none");
	const word = EFFECTS.find(([from]) => Math.abs(d) >= from)?.[1] ?? "none";
	return `${signed(app, d, 2)} (${app.t(`report.effect_${word}`)})`;
}

/** @param {App} app @param {Change} c @param {number} season @param {Group[]} groups */
function groupTable(app, c, season, groups) {
	const { t } = app;
	const heads = [t("report.group"), `${t("patch.vines")}#`, `${c.since}#`, `${season}#`, `${t("report.difference")}#`, ...(c.ranks ? [] : [`${t("report.percent")}#`]), `${t("report.rows_n")}#`, `${t("report.range95")}#`, `${t("report.p")}#`, `${t("report.effect")}#`];
	const rows = groups.map((g) => [
		groupName(app, g, c), t.number(g.vines.n), meanText(app, c, g.vines.before), meanText(app, c, g.vines.after), differenceText(app, c, g.vines.mean),
		...(c.ranks ? [] : [percentText(app, g.vines.percent)]), t.number(g.rows.n),
		g.rows.t ? t("report.range95_value", { low: differenceText(app, c, g.rows.t.low), high: differenceText(app, c, g.rows.t.high) }) : t("value.none"),
		g.rows.t ? chanceText(app, g.rows.t.p) : t("value.none"), effectText(app, g.rows.effect),
	]);
	return tableOf(t("report.change_caption", { label: c.label, since: String(c.since), season: String(season) }), heads, rows);
}

/** Sound vines that became weak, and weak ones that recovered. @param {App} app @param {Group[]} groups */
function turnedTable(app, groups) {
	const { t } = app;
	const shown = groups.filter((g) => g.turned);
	const heads = [t("report.group"), `${t("report.stayed_sound")}#`, `${t("report.turned_weak")}#`, `${t("report.recovered")}#`, `${t("report.stayed_weak")}#`, `${t("report.p")}#`];
	const rows = shown.map((g) => {
		const k = /** @type {NonNullable<Group["turned"]>} */ (g.turned);
		return [g === groups[0] ? t("report.all_vines") : groupName(app, g, /** @type {any} */ ({ all: groups[0] })), t.number(k.sound), t.number(k.turned_weak), t.number(k.recovered), t.number(k.weak), k.p === null ? t("value.none") : chanceText(app, k.p)];
	});
	return foldedTable(t("report.turned"), tableOf(t("report.turned"), heads, rows));
}

/**
 * A line for each group: hollow where it was, full where it is.
 * @param {App} app
 * @param {Change} c
 * @param {number} season
 * @param {Group[]} groups
 * @param {SVGElement} root
 * @param {number} width
 */
function draw(app, c, season, groups, root, width) {
	const most = c.ranks ? 100 : Math.max(...groups.flatMap((g) => [g.vines.before, g.vines.after]));
	const steps = niceSteps(most, width < 480 ? 3 : 5);
	const frame = { left: 10, right: width - 64, top: 8, bottom: 8 + 44 * groups.length };
	const x = (/** @type {number} */ v) => frame.left + (v / steps[steps.length - 1]) * (frame.right - frame.left);
	for (const v of steps) root.append(line(x(v), frame.top, x(v), frame.bottom, v === 0 ? "axis" : "across"), words(x(v), frame.bottom + 16, c.ranks ? String(v) : testedText(app, c.unit, v), { "text-anchor": v === 0 ? "start" : "middle" }));
	groups.forEach((g, k) => {
		const y = frame.top + 44 * k + 30;
		const [a, b] = [x(g.vines.before), x(g.vines.after)];
		const name = groupName(app, g, c);
		root.append(svg("g", {}, svg("title", {}, app.t("report.pair", { group: name, since: String(c.since), before: meanText(app, c, g.vines.before), season: String(season), after: meanText(app, c, g.vines.after) })),
			words(frame.left + 4, y - 14, name, { class: "group-name" }), line(a, y, b, y, "between"),
			svg("circle", { cx: a.toFixed(1), cy: y, r: 5.5, class: "was" }), svg("circle", { cx: b.toFixed(1), cy: y, r: 6.5, class: "is" }),
			words(width - 4, y + 4, c.ranks ? signed(app, g.vines.mean, 0) : percentText(app, g.vines.percent), { "text-anchor": "end", class: "value" })));
	});
}
