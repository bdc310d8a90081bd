// Leaving, filling or pulling the block: the sums of each way, every assumption in
// sight and to be set, and what each of them does to the sums. Advice, no verdict.

import { ApiError } from "../lib/api.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { assumptionsOnPaper, mountAssumptions } from "./assumptions.js";
import { sensitivityTable, wayTables } from "./waytables.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 */

/** @param {import("./main.js").ReplantsPage} page @param {() => void} reload @returns {import("./page.js").Part} */
export function mountCompare({ app, about }, reload) {
	const { t } = app;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const bar = h("section", { class: "says-bar", id: "preview", "aria-label": t("compare.in_short") });
	const sums = h("div", { class: "plan-main" });
	const side = h("div", {});
	/** @type {ReturnType<typeof mountAssumptions> | null} */
	let form = null;
	const previewer = new Previewer({
		ask: (/** @type {object} */ settings, signal) => app.api.previewReplants(block, { season, settings }, signal),
		onChange: (now) => {
			dataset.preview = now.state;
			const refused = now.state === "failed" && now.error instanceof ApiError && !now.error.passing ? why(now.error) : "";
			if (now.state !== "asking") form?.blame(refused);
			const trouble = now.state === "failed" ? h("p", { class: "trouble", role: "alert" }, t(refused ? "pruning.preview_refused" : "pruning.preview_failed", { why: why(now.error) }), now.good ? ` ${t("pruning.last_good")}` : "") : null;
			drawBar(now.good, trouble ?? h("p", { class: "hint", id: "preview-state", role: "status" }, t(now.state === "asking" ? "pruning.working" : "pruning.up_to_date")),
				now.state === "failed" && !refused ? button(t("app.try_again"), () => form && previewer.want(form.wish(), true), { data: { key: "preview-again" } }) : null);
			if (now.state === "ready" && now.good) drawSums(now.good);
		},
	});
	const drawBar = (/** @type {Replants | null} */ answer, /** @type {(HTMLElement | null)[]} */ ...state) =>
		show(bar, answer?.comparison ? h("p", { class: "says", id: "says" }, answer.comparison.advice.find((a) => a.startsWith("By these sums")) ?? answer.comparison.advice[0]) : null, ...state);
	const drawSums = (/** @type {Replants} */ answer) => {
		const open = [...sums.querySelectorAll("details[open]")].map((d) => d.closest("[id]")?.id);
		show(sums, ...comparison(app, answer));
		for (const id of open) if (id) sums.querySelector(`#${CSS.escape(id)} details`)?.setAttribute("open", "");
	};
	return {
		draw(answer) {
			if (!form) {
				form = mountAssumptions(app, answer, side, { block, change: () => form && previewer.want(form.wish()), saved: () => { form = null; reload(); } });
				drawSums(answer);
				drawBar(answer, h("p", { class: "hint", id: "preview-state", role: "status" }, t("pruning.up_to_date")));
				dataset.preview = "ready";
			} else previewer.want(form.wish(), true); // what somebody has typed stays
			return [bar, sums, side];
		},
		stop: () => previewer.stop(),
	};
}

/** @param {App} app @param {Replants} answer */
function comparison(app, answer) {
	const { t, units } = app;
	const { comparison: c, case: of } = answer;
	const about = h("p", { id: "case" }, t("compare.case", { area: units.text("area", of.area_ha * 10_000), n: of.positions, gaps: of.gaps, remaining: t("compare.seasons", { n: of.remaining }), years: of.horizon }));
	const note = answer.why ? h("p", { class: "warning" }, answer.why) : null;
	if (!c) return [section("advice", t("compare.advice"), about, note, h("p", { class: "state" }, t("compare.none")))];
	return [
		section("advice", t("compare.advice"), about, note, h("ul", { class: "sentences" }, ...c.advice.map((text) => h("li", {}, text))), h("p", { class: "hint" }, t("compare.not_a_verdict"))),
		...wayTables(app, answer), sensitivityTable(app, answer), assumptionsOnPaper(app, answer),
	];
}
