// The share of gaps from a sample of rows beside the full count: rows are drawn at
// random, and what was counted in them on a walk can be typed in.

import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { shareText } from "./gaps.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").RowSample} RowSample
 */

const MOST_ROWS = 1000;

/** @param {import("./main.js").ReplantsPage} page */
export function mountSample({ app, about }) {
	const { t } = app;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const wish = { rows: 10, seed: 1, counted: /** @type {Record<string, number>} */ ({}) };
	const result = h("div", { id: "sample-rate", role: "status" });
	const table = h("div", { id: "sample-rows" });
	const fault = h("p", { class: "fault", id: "sample-fault", role: "alert" });
	const previewer = new Previewer({
		ask: (/** @type {typeof wish} */ now, signal) => app.api.previewReplants(block, { season, sample: now }, signal),
		onChange: (now) => {
			dataset.sample = now.state;
			if (now.state === "failed") fault.textContent = t("sample.refused", { why: why(now.error) });
			else if (now.state === "ready" && now.good) drawRate(now.good);
		},
	});
	const ask = (/** @type {boolean} */ atOnce) => {
		fault.textContent = "";
		previewer.want({ ...wish, counted: { ...wish.counted } }, atOnce);
	};
	/** The table is made anew only for other rows: nobody loses a field while typing. */
	let drawn = "";
	const drawRate = (/** @type {Replants} */ answer) => {
		show(result, ...rates(app, answer));
		if (!answer.sample) return show(table);
		const rows = answer.sample.rows.map((r) => r.id).join();
		if (rows === drawn) return;
		drawn = rows;
		show(table, rowTable(app, answer.sample, wish, () => ask(false), fault));
	};
	const number = h("input", { id: "sample-number", class: "short", inputmode: "numeric", "aria-describedby": "sample-fault", data: { key: "sample-number" } });
	number.value = String(wish.rows);
	const draw = (/** @type {boolean} */ others) => {
		const n = /^\d{1,4}$/.test(number.value.trim()) ? Number(number.value) : 0;
		fault.textContent = n < 2 || n > MOST_ROWS ? t("record.wrong_range", { from: "2", to: String(MOST_ROWS) }) : "";
		if (fault.textContent) return number.focus();
		Object.assign(wish, { rows: n, seed: wish.seed + (others ? 1 : 0), counted: {} });
		ask(true);
	};
	const form = h("form", { class: "weigh-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		draw(false);
	} } }, h("label", { for: "sample-number" }, t("sample.rows")), number, h("button", { type: "submit" }, t("sample.draw")), button(t("sample.others"), () => draw(true), { data: { key: "sample-others" } }), fault);
	return {
		/** @param {Replants} answer */
		draw(answer) {
			if (previewer.now.state === "none") {
				drawRate(answer);
				dataset.sample = "ready";
			} else ask(true);
			return section("sample", t("sample.title"), h("p", {}, t("sample.hint")), form, result, table);
		},
		stop: () => previewer.stop(),
	};
}

/** @param {App} app @param {Replants} answer */
function rates(app, { sample, gap_rate: full }) {
	const { t } = app;
	if (!sample) return [h("p", { class: "state" }, t("sample.too_few"))];
	const line = (/** @type {string} */ name, /** @type {import("../lib/replants.js").Rate} */ r) => [name, t.number(r.gaps), t.number(r.positions), shareText(app, r.share), t("sample.interval", { low: t.fixed(100 * r.low, 1), high: t.fixed(100 * r.high, 1) }), r.rows ? shareText(app, r.after_allowance) : t("value.none")];
	return [tableOf(t("sample.caption"), [t("sample.how"), `${t("table.gaps")}#`, `${t("table.vines_count")}#`, `${t("report.share")}#`, `${t("sample.interval_head", { level: String(Math.round(100 * full.level)) })}#`, `${t("sample.allowed")}#`],
		[line(t("sample.of_rows", { n: sample.rate.rows }), sample.rate), line(t("sample.full"), full)]), h("p", { class: "hint" }, sample.text)];
}

/** @param {App} app @param {RowSample} sample @param {{counted: Record<string, number>}} wish @param {() => void} ask @param {HTMLElement} fault */
function rowTable(app, sample, wish, ask, fault) {
	const { t } = app;
	const field = (/** @type {import("../lib/replants.js").SampledRow} */ r) => {
		const input = h("input", { class: "short", inputmode: "numeric", autocomplete: "off", "aria-label": t("sample.counted_in", { row: r.row }), data: { key: `counted-${r.id}` }, on: { input: () => {
			const text = input.value.trim();
			const n = /^\d{1,6}$/.test(text) ? Number(text) : -1;
			const wrong = text !== "" && (n < 0 || n > r.positions);
			input.setAttribute("aria-invalid", String(wrong));
			fault.textContent = wrong ? t("sample.wrong", { row: r.row, most: r.positions }) : "";
			if (wrong) return;
			if (text === "") delete wish.counted[r.id];
			else wish.counted[r.id] = n;
			ask();
		} } });
		return input;
	};
	return h("details", { class: "beside" }, h("summary", {}, t("sample.show_rows")),
		tableOf(t("sample.rows_caption"), [t("table.row"), `${t("table.vines_count")}#`, `${t("sample.by_record")}#`, t("sample.counted")], sample.rows.map((r) => [r.row, t.number(r.positions), t.number(r.gaps), field(r)])));
}
