// The work done day by day against all there is, with the finish as a range and
// the deadline. Lines are told apart by dashes and names, not by colour.

import { h, svg } from "../map/dom.js";
import { chart, leftAxis, line, niceSteps, words } from "../report/chart.js";
import { foldedTable, tableOf } from "../report/section.js";
import { daySteps } from "./burnup.js";
import { dayWords, daysBetween } from "./days.js";

const HEIGHT = 300;
/** Room for a date below the axis. */
const DATE_WIDE = 64;

/**
 * @param {import("../map/app.js").App} app
 * @param {import("./burnup.js").BurnUp} burn
 * @param {import("./api.js").Progress["days"]} days
 */
export function burnChart(app, burn, days) {
	const { t } = app;
	const day = (/** @type {string} */ d) => dayWords(t.language, d);
	const { ahead, deadline, done, vines } = burn;
	const label = [t("work.chart_says", { done: t.number(done), n: vines }), ahead ? t("work.chart_ahead", { early: day(ahead.early), late: day(ahead.late) }) : "", deadline ? t("work.chart_deadline", { day: day(deadline) }) : ""].filter(Boolean).join(" ");
	const rows = days.map((d) => [day(d.day), t.number(d.done), t.number(d.total), t.number(vines - d.total)]);
	if (ahead) for (const [text, d] of /** @type {[string, string][]} */ ([[t("work.early"), ahead.early], [t("work.likely"), ahead.likely], [t("work.late"), ahead.late]])) rows.push([`${day(d)} (${text})`, "–", t.number(vines), "0"]);
	if (deadline) rows.push([`${day(deadline)} (${t("work.deadline")})`, "–", "–", "–"]);
	return h("div", { class: "burn", id: "burn" },
		chart(label, HEIGHT, (root, width) => draw(app, burn, root, width)),
		foldedTable(t("report.as_table"), tableOf(t("work.chart_caption"), [t("work.day"), `${t("work.done_that_day")}#`, `${t("work.done_in_all")}#`, `${t("work.left")}#`], rows)));
}

/** @param {import("../map/app.js").App} app @param {import("./burnup.js").BurnUp} burn @param {SVGElement} root @param {number} width */
function draw({ t }, burn, root, width) {
	const { first, last, vines, line: points, ahead, deadline } = burn;
	const frame = { left: 58, right: width - 16, top: 30, bottom: HEIGHT - 34 };
	const steps = niceSteps(vines, 4);
	const top = Math.max(steps[steps.length - 1], vines);
	const span = daysBetween(first, last);
	const x = (/** @type {string} */ d) => frame.left + (daysBetween(first, d) / span) * (frame.right - frame.left);
	const y = (/** @type {number} */ n) => frame.bottom - (n / top) * (frame.bottom - frame.top);
	leftAxis(root, steps, y, frame, (n) => t.number(n));
	for (const d of daySteps(first, last, Math.floor((frame.right - frame.left) / DATE_WIDE))) {
		if (x(d) > frame.right - DATE_WIDE / 2) continue;
		root.append(line(x(d), frame.bottom, x(d), frame.bottom + 5, "axis"), words(x(d), frame.bottom + 20, dayWords(t.language, d), { "text-anchor": x(d) < frame.left + 20 ? "start" : "middle" }));
	}
	root.append(line(frame.left, y(vines), frame.right, y(vines), "limit"), words(frame.left + 6, y(vines) + 16, t("work.all_vines", { n: vines }), { class: "limit-name" }));
	if (ahead) {
		const from = `${x(ahead.from).toFixed(1)},${y(ahead.total).toFixed(1)}`;
		const at = (/** @type {string} */ d) => `${x(d).toFixed(1)},${y(vines).toFixed(1)}`;
		root.append(svg("polygon", { class: "burn-range", points: `${from} ${at(ahead.early)} ${at(ahead.late)}` }, svg("title", {}, t("work.chart_ahead", { early: dayWords(t.language, ahead.early), late: dayWords(t.language, ahead.late) }))),
			svg("polyline", { class: "burn-ahead", points: `${from} ${at(ahead.likely)}` }));
		const right = x(ahead.from) > frame.left + 120;
		root.append(words(right ? x(ahead.from) - 4 : x(ahead.late) - 4, right ? y(ahead.total) - 10 : y(vines) + 40, t("work.foreseen"), { "text-anchor": "end" }));
	}
	if (points.length) {
		const end = points[points.length - 1];
		root.append(svg("polyline", { class: "burn-done", points: points.map((p) => `${x(p.day).toFixed(1)},${y(p.total).toFixed(1)}`).join(" ") }));
		if (ahead && ahead.from > end.day) root.append(svg("polyline", { class: "burn-still", points: `${x(end.day).toFixed(1)},${y(end.total).toFixed(1)} ${x(ahead.from).toFixed(1)},${y(end.total).toFixed(1)}` }));
		root.append(svg("circle", { class: "is", cx: x(end.day).toFixed(1), cy: y(end.total).toFixed(1), r: 5 }, svg("title", {}, t("work.done_by", { n: end.total, day: dayWords(t.language, end.day) }))),
			words(x(end.day) + (x(end.day) > frame.right - 90 ? -9 : 9), y(end.total) + 20, t("work.done_n", { n: end.total }), { class: "value", "text-anchor": x(end.day) > frame.right - 90 ? "end" : "start" }));
	}
	if (deadline) {
		const right = x(deadline) > (frame.left + frame.right) / 2;
		root.append(line(x(deadline), frame.top - 12, x(deadline), frame.bottom, "burn-deadline"), words(x(deadline) + (right ? -6 : 6), frame.top - 16, t("work.deadline_short", { day: dayWords(t.language, deadline) }), { "text-anchor": right ? "end" : "start", class: "value" }));
	}
}
