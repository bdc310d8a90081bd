// The mean vigour of the block, season by season, with the spread of its vines.

import { meanOf, underWay } from "../lib/findings.js";
import { why } from "../map/app.js";
import { button, h, show, svg } from "../map/dom.js";
import { chart, leftAxis, line, niceSteps, words } from "./chart.js";
import { foldedTable, section, tableOf } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Vigour} Vigour
 * @typedef {{season: number, vigour: Vigour | null}} Year
 */

const HEIGHT = 240;
const MOST_SEASONS = 12;

/** How often seasons that are still being worked out are asked about. */
const AGAIN_MS = 2_000;

/**
 * Reads the other seasons of the block while the rest of the report is already
 * there.
 * @param {App} app
 * @param {import("../lib/findings.js").BlockFindings} found
 */
export function seasonsSection(app, found) {
	const { t } = app;
	const place = h("div", {}, h("p", { class: "state", role: "status" }, t("report.seasons_loading")));
	const read = async () => {
		try {
			const seasons = app.estate.seasons.slice(-MOST_SEASONS);
			const all = await Promise.all(seasons.map((season) => (season === found.season ? found : app.findings.load(found.block, season))));
			const years = all.map((f, k) => ({ season: seasons[k], vigour: f.vigour }));
			const late = all.filter((f) => f !== found && underWay(f.state)).length;
			show(place, ...drawn(app, years, found), late ? h("p", { class: "state", role: "status" }, t("report.seasons_late", { n: late })) : null);
			if (late) setTimeout(() => place.isConnected && void read(), AGAIN_MS);
		} catch (error) {
			show(place, h("p", { class: "trouble" }, t("report.seasons_failed", { why: why(error) })), button(t("app.try_again"), () => void read()));
		}
	};
	void read();
	return section("seasons", t("report.seasons"), place);
}

/** @param {App} app @param {Year[]} years @param {import("../lib/findings.js").BlockFindings} found */
function drawn(app, years, found) {
	const { t, units } = app;
	const write = (/** @type {number | null | undefined} */ kg) => (kg === null || kg === undefined ? t("value.none") : t.fixed(units.shown("weight_per_m", kg * 1000), 2));
	const unit = units.unit("weight_per_m");
	const known = years.filter((y) => typeof meanOf(y.vigour) === "number");
	const heads = [t("vine.season"), `${t("report.mean_in", { unit })}#`, `${t("report.spread_in", { unit })}#`, `${t("basis.measured")}#`, `${t("basis.calibrated")}#`, `${t("basis.estimated")}#`];
	const count = (/** @type {number | undefined} */ n) => (n ? t.number(n) : t("value.none"));
	const table = tableOf(t("report.seasons"), heads, years.map(({ season, vigour: v }) => [String(season), write(meanOf(v)), write(meanOf(v) === null ? null : v?.sd_kg_m), count(v?.measured), count(v?.calibrated), count(v?.estimated)]));
	if (known.length < 2) return [h("p", {}, t("report.seasons_few")), table];
	const parts = known.map((y) => t("report.season_mean", { season: String(y.season), mean: units.text("weight_per_m", (meanOf(y.vigour) ?? 0) * 1000) }));
	return [
		chart(t("report.seasons_say", { parts: parts.join(", ") }), HEIGHT, (root, width) => draw(app, years, found.season, root, width, unit, write)),
		h("p", { class: "hint" }, t("report.seasons_key")),
		foldedTable(t("report.as_table"), table),
	];
}

/**
 * @param {App} app
 * @param {Year[]} years
 * @param {number} current
 * @param {SVGElement} root
 * @param {number} width
 * @param {string} unit
 * @param {(kg: number) => string} write
 */
function draw(app, years, current, root, width, unit, write) {
	const shown = (/** @type {number} */ kg) => app.units.shown("weight_per_m", kg * 1000);
	const tops = years.map((y) => shown((y.vigour?.mean_kg_m ?? 0) + (y.vigour?.sd_kg_m ?? 0)));
	const steps = niceSteps(Math.max(...tops), 4);
	const frame = { left: 52, right: width - 16, top: 28, bottom: HEIGHT - 30 };
	const x = (/** @type {number} */ k) => frame.left + ((k + 0.5) * (frame.right - frame.left)) / years.length;
	const y = (/** @type {number} */ v) => frame.bottom - (v / steps[steps.length - 1]) * (frame.bottom - frame.top);
	leftAxis(root, steps, y, frame, (v) => app.t.number(v, 2));
	root.append(words(6, 16, unit, { class: "axis-name" }));
	years.forEach((year, k) => {
		root.append(words(x(k), HEIGHT - 8, String(year.season), { "text-anchor": "middle", class: year.season === current ? "value" : "" }));
		const before = meanOf(years[k - 1]?.vigour);
		const mean = meanOf(year.vigour);
		if (typeof mean !== "number") return void root.append(words(x(k), frame.bottom - 8, app.t("value.none"), { "text-anchor": "middle" }));
		const sd = year.vigour?.sd_kg_m ?? 0;
		if (typeof before === "number") root.append(line(x(k - 1), y(shown(before)), x(k), y(shown(mean)), "between"));
		root.append(line(x(k), y(shown(Math.max(0, mean - sd))), x(k), y(shown(mean + sd)), "spread"));
	});
	years.forEach((year, k) => {
		const mean = meanOf(year.vigour);
		if (typeof mean !== "number") return;
		root.append(svg("circle", { cx: x(k).toFixed(1), cy: y(shown(mean)).toFixed(1), r: year.season === current ? 7 : 5.5, class: year.season === current ? "is" : "was" }),
			words(x(k) + 10, y(shown(mean)) - 8, write(mean), { class: "value" }));
	});
}
