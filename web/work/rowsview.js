// Rows done and left: a sentence, a chart with its tables, and files.

import { h, svg } from "../map/dom.js";
import { chart, leftAxis, line, niceSteps, words } from "../report/chart.js";
import { foldedTable, section, tableOf } from "../report/section.js";
import { dayWords } from "./days.js";
import { rowSums, rowsByCrew, rowsByDay } from "./rowdays.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("./rowdays.js").DayRows} DayRows
 */

const HEIGHT = 260;
/** Days drawn; the table has all. */
const SHOWN = 24;
/** A bar with its gap is at least this wide, and at most. */
const BAND = { least: 26, most: 72 };
/** Crews told apart by pattern; those after share the last. */
const PATTERNS = 5;

/** @param {import("./main.js").Work} work @param {import("./api.js").Progress} progress */
export function rowsSection({ app, about }, progress) {
	const { t } = app;
	const { rows } = progress;
	const sums = rowSums(rows);
	const { crews, days } = rowsByDay(rows);
	const name = (/** @type {string} */ crew) => crew || t("work.no_crew");
	const day = (/** @type {string} */ d) => dayWords(t.language, d);
	const says = [t("work.rows_say", { done: t.number(sums.done), n: sums.rows }), sums.left ? t("work.rows_ordered", { n: sums.left - sums.unordered, none: t.number(sums.unordered) }) : ""].filter(Boolean).join(" ");
	return section("rows", t("work.rows"),
		h("p", { class: "work-says" }, says), h("p", {}, t("work.rows_what")),
		days.length ? rowChart(app, crews.map(name), days.slice(-SHOWN), says) : h("p", { class: "state" }, t("work.no_row_done")),
		days.length ? foldedTable(t("report.as_table"), tableOf(t("work.rows_by_day"), [t("work.day"), ...crews.map((c) => `${name(c)}#`), `${t("work.together")}#`, `${t("work.rows_left_after")}#`],
			[...days].reverse().map((d) => [day(d.day), ...d.done.map((n) => t.number(n)), t.number(d.together), t.number(d.left)]))) : null,
		tableOf(t("work.rows_by_crew"), [t("work.crew"), `${t("work.rows_done")}#`, `${t("work.rows_left_ordered")}#`],
			rowsByCrew(rows).map((c) => [c.crew || t("work.rows_nobody"), t.number(c.done), t.number(c.left)])),
		foldedTable(t("work.rows_all"), tableOf(t("work.rows_all_caption"), [t("work.day"), t("work.crew"), t("work.block_col"), `${t("work.rows_done")}#`, `${t("work.rows_left")}#`],
			rows.map((r) => [r.day ? day(r.day) : r.crew ? t("work.no_day_set") : t("work.in_no_order"), name(r.crew), r.code, t.number(r.done), t.number(r.left)]))),
		files(app, about.get()));
}

/** @param {App} app @param {{season: number, operation: string}} about */
function files({ t }, { season, operation }) {
	const at = `/api/progress.csv?season=${season}&operation=${encodeURIComponent(operation)}`;
	const file = (/** @type {string} */ href, /** @type {string} */ text, /** @type {string} */ key) => h("li", {}, h("a", { href, download: "", data: { key } }, text));
	return h("ul", { class: "files no-print" }, file(at, t("work.file_rows"), "file-rows"), file(`${at}&by=day`, t("work.file_days"), "file-days"));
}

/** @param {App} app @param {string[]} crews @param {DayRows[]} days @param {string} label */
function rowChart(app, crews, days, label) {
	return h("div", { class: "burn row-chart", id: "row-chart" }, key(crews), chart(label, HEIGHT, (root, width) => draw(app, crews, days, root, width)));
}

/** Which pattern is whose. @param {string[]} crews */
function key(crews) {
	return h("ul", { class: "row-key" }, ...crews.map((name, k) => h("li", {}, sample(k), name)));
}

/** @param {number} k */
function sample(k) {
	const root = svg("svg", { viewBox: "0 0 28 16", class: "row-sample", "aria-hidden": "true" }, patterns("key", k));
	root.append(bar(1, 1, 26, 14, "key", k));
	return root;
}

/** Fills that can be told apart without colour. @param {string} place @param {number} [only] */
function patterns(place, only) {
	const of = (/** @type {number} */ k, /** @type {string} */ d) => svg("pattern", { id: `rows-${place}-${k}`, width: 8, height: 8, patternUnits: "userSpaceOnUse" }, svg("path", { d, class: "row-mark" }));
	const all = [null, of(1, "M-2 2l4-4M0 8l8-8M6 10l4-4"), of(2, "M0 4h8M4 0v8"), of(3, "M2 2h1v1h-1zM6 6h1v1h-1z"), null];
	return svg("defs", {}, ...all.filter((p, k) => p && (only === undefined || only === k)).map((p) => /** @type {SVGElement} */ (p)));
}

/** @param {number} x @param {number} y @param {number} width @param {number} height @param {string} place @param {number} k */
function bar(x, y, width, height, place, k) {
	const kind = Math.min(k, PATTERNS - 1);
	const rect = svg("rect", { x: x.toFixed(1), y: y.toFixed(1), width: width.toFixed(1), height: height.toFixed(1), class: `row-bar row-bar-${kind}` });
	if (kind > 0 && kind < PATTERNS - 1) rect.setAttribute("fill", `url(#rows-${place}-${kind})`);
	return rect;
}

/** @param {App} app @param {string[]} crews @param {DayRows[]} all @param {SVGElement} root @param {number} width */
function draw({ t }, crews, all, root, width) {
	const frame = { left: 44, right: width - 8, top: 22, bottom: HEIGHT - 30 };
	const room = frame.right - frame.left;
	const days = all.slice(-Math.max(1, Math.floor(room / BAND.least)));
	const band = Math.min(BAND.most, room / days.length);
	const steps = niceSteps(Math.max(...days.map((d) => d.together)), 4).filter(Number.isInteger);
	const top = steps[steps.length - 1];
	const y = (/** @type {number} */ n) => frame.bottom - (n / top) * (frame.bottom - frame.top);
	root.append(patterns("chart"));
	leftAxis(root, steps, y, frame, (n) => t.number(n));
	const every = Math.max(1, Math.ceil(52 / band));
	days.forEach((d, k) => {
		const x = frame.left + k * band;
		let under = 0;
		d.done.forEach((n, c) => {
			if (!n) return;
			const rect = bar(x + 3, y(under + n), band - 6, y(under) - y(under + n), "chart", c);
			rect.append(svg("title", {}, t("work.rows_bar", { crew: crews[c], n, day: dayWords(t.language, d.day) })));
			root.append(rect);
			under += n;
		});
		root.append(words(x + band / 2, y(under) - 5, t.number(under), { "text-anchor": "middle", class: "value" }));
		if (k % every === 0) root.append(line(x + band / 2, frame.bottom, x + band / 2, frame.bottom + 5, "axis"), words(x + band / 2, frame.bottom + 19, dayWords(t.language, d.day), { "text-anchor": "middle" }));
	});
}
