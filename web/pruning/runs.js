// Instruction runs: each row cut into stretches of one instruction, and where to
// hang which mark. On paper it is the sheet for the row ends.

import { runsPath } from "../lib/pruning.js";
import { readNumber } from "../lib/units.js";
import { button, h, show, svg } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { noPlan, reading } from "./reading.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/pruning.js").Runs} Runs
 * @typedef {import("../lib/pruning.js").RunsWish} RunsWish
 */

const GOALS = /** @type {const} */ (["balance", "mean", "greatest"]);

/** What each goal's number is, and what it begins with. @type {Record<string, {key: "change" | "limit", first: number, low: number, high: number}>} */
const NUMBERS = { balance: { key: "change", first: 6, low: 0, high: 1000 }, mean: { key: "limit", first: 1, low: 0, high: 40 }, greatest: { key: "limit", first: 2, low: 0, high: 40 } };

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountRuns({ app, about }, place) {
	const { block, season } = about.get();
	/** @type {RunsWish} */
	let wish = { goal: "balance", change: NUMBERS.balance.first, limit: NUMBERS.mean.first };
	const body = h("div", { class: "plan-body" });
	const parts = reading(app, body, { ask: (signal) => app.api.runs(block, season, wish, signal), draw: (runs) => view(app, runs, wish), loading: "runs.loading" , none: () => noPlan(app, about) });
	const form = settings(app, wish, (now) => {
		wish = now;
		void parts.read(true);
	});
	show(place, h("section", { class: "part", "aria-labelledby": "runs-title" }, h("h1", { id: "runs-title" }, app.t("runs.heading", { code: block, season: String(season) })), h("p", { class: "no-print" }, app.t("runs.what")), form), body);
	void parts.read(true);
	return { reload: () => void parts.read(false), stop: parts.stop };
}

/** What the rows are cut by. @param {App} app @param {RunsWish} wish @param {(wish: RunsWish) => void} ask */
function settings(app, wish, ask) {
	const { t } = app;
	const goal = h("select", { id: "runs-goal" }, ...GOALS.map((g) => h("option", { value: g }, t(`runs.goal_${g}`))));
	goal.value = wish.goal;
	const value = h("input", { id: "runs-value", class: "short", inputmode: "decimal", "aria-describedby": "runs-fault runs-hint" });
	const label = h("label", { for: "runs-value" });
	const hint = h("p", { class: "hint", id: "runs-hint" });
	const fault = h("p", { class: "fault", id: "runs-fault", role: "alert" });
	const draw = () => {
		const n = NUMBERS[goal.value];
		label.textContent = t(`runs.${n.key}`);
		value.value = String(n.first);
		hint.textContent = t(`runs.hint_${goal.value}`);
		fault.textContent = "";
	};
	goal.addEventListener("change", draw);
	draw();
	return h("form", { class: "weigh-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		const { key, low, high } = NUMBERS[goal.value];
		const n = readNumber(value.value);
		const wrong = n === null || n < low || n > high;
		fault.textContent = wrong ? t("record.wrong_range", { from: String(low), to: String(high) }) : "";
		value.setAttribute("aria-invalid", String(wrong));
		if (wrong) return value.focus();
		ask({ ...wish, goal: /** @type {any} */ (goal.value), [key]: n });
	} } }, h("label", { for: "runs-goal" }, t("runs.goal")), goal, label, value, h("button", { type: "submit", class: "main" }, t("runs.make")), hint, fault);
}

/** @param {App} app @param {Runs} runs @param {RunsWish} wish */
function view(app, runs, wish) {
	const { t } = app;
	const rows = runs.rows ?? [];
	if (!rows.length) return [h("p", { class: "state" }, t("runs.none"))];
	const marks = new Map((runs.marks ?? []).map((m) => [m.word, m]));
	const lines = rows.flatMap((row) => (row.pieces ?? []).map((p, k) => ({ row, p, k })));
	return [
		section("marks", t("runs.key"), h("p", {}, t("runs.says", { n: runs.runs, rows: rows.length, misfit: t.number(runs.misfit, 2) })),
			tableOf(t("runs.key_caption"), [t("runs.mark"), t("pruning.leave"), `${t("runs.pieces")}#`, `${t("patch.vines")}#`], [...marks.values()].map((m) => [swatch(m), m.text, t.number(m.runs), t.number(m.vines)]))),
		section("rows", t("runs.rows"), h("div", { class: "acts no-print" },
			h("a", { class: "button", href: runsPath(runs.block, runs.season, wish, ".csv"), download: "" }, t("runs.csv")), button(t("report.print"), () => print())),
			runsTable(app, lines, marks), h("p", { class: "hint" }, t("runs.alone_hint"))),
	];
}

/** @param {App} app @param {{row: {label: string}, p: import("../lib/pruning.js").Piece, k: number}[]} lines @param {Map<string, import("../lib/pruning.js").Mark>} marks */
function runsTable(app, lines, marks) {
	const { t } = app;
	const caption = t("runs.caption");
	const head = [t("table.row"), t("runs.from_to"), t("runs.mark"), t("pruning.leave"), t("patch.vines")];
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption }, h("table", { class: "runs-table" }, h("caption", {}, caption),
		h("thead", {}, h("tr", {}, ...head.map((text, k) => h("th", { scope: "col", class: k === 4 ? "n" : null }, text)))),
		h("tbody", {}, ...lines.map(({ row, p, k }) => {
			const m = marks.get(p.mark);
			return h("tr", { class: k === 0 ? "new-row" : null }, h("th", { scope: "row" }, k === 0 ? t("block.row", { label: row.label }) : h("span", { class: "out-of-sight" }, t("block.row", { label: row.label }))),
				h("td", {}, p.from === p.to ? t("runs.one", { n: String(p.from) }) : t("runs.span", { from: String(p.from), to: String(p.to) })),
				h("td", {}, p.alone ? t("runs.alone") : m ? swatch(m) : p.mark), h("td", { class: "instruction" }, p.text), h("td", { class: "n" }, t.number(p.vines)));
		}))));
}

/** A mark: its colour and its word, so that neither has to be seen alone. Two words for a colour are two colours. @param {import("../lib/pruning.js").Mark} m */
function swatch({ word, colour }) {
	const box = svg("svg", { viewBox: "0 0 22 14", class: "swatch", "aria-hidden": "true" }, svg("rect", { x: 1, y: 1, width: 20, height: 12, class: "bar-edge", fill: colour }));
	const second = SECOND[word.split(" and ")[1] ?? ""];
	if (second) box.append(svg("path", { d: "M6 1h4l-5 12H1.5zM15 1h4l-5 12h-4z", fill: second }));
	return h("span", { class: "mark-word" }, box, word);
}

/** The second colour of tape with two. @type {Record<string, string>} */
const SECOND = { red: "#d62828", black: "#111111" };
