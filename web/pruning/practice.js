// The list for a first morning: twenty vines to prune and to count, on paper.

import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { noPlan, reading } from "./reading.js";
import { vineLink } from "./vinelink.js";

/** @typedef {import("../map/app.js").App} App */

const USUAL = 20;

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountPractice({ app, about }, place) {
	const { t } = app;
	const { block, season } = about.get();
	const id = app.blocks.get().list.find((b) => b.code === block || String(b.id) === block)?.id ?? 0;
	let number = USUAL;
	let seed = 1;
	const body = h("div", { class: "plan-body" });
	const parts = reading(app, body, { ask: (signal) => app.api.practice(block, season, number, seed, signal), draw: (list) => view(app, list.vines ?? [], season, id), loading: "practice.loading" , none: () => noPlan(app, about) });
	const count = h("input", { id: "practice-number", class: "short", inputmode: "numeric", "aria-describedby": "practice-fault" });
	count.value = String(number);
	const fault = h("p", { class: "fault", id: "practice-fault", role: "alert" });
	const make = (/** @type {boolean} */ others) => {
		const n = /^\d{1,3}$/.test(count.value.trim()) ? Number(count.value) : 0;
		fault.textContent = n < 1 || n > 200 ? t("record.wrong_range", { from: "1", to: "200" }) : "";
		if (fault.textContent) return count.focus();
		number = n;
		if (others) seed++;
		void parts.read(true);
	};
	show(place, h("section", { class: "part", "aria-labelledby": "practice-title" }, h("h1", { id: "practice-title" }, t("practice.heading", { code: block, season: String(season) })), h("p", {}, t("practice.what")),
		h("form", { class: "weigh-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
			e.preventDefault();
			make(false);
		} } }, h("label", { for: "practice-number" }, t("practice.number")), count, h("button", { type: "submit", class: "main" }, t("weigh.make")),
			button(t("practice.others"), () => make(true), { data: { key: "others" } }), button(t("report.print"), () => print()), fault)), body);
	void parts.read(true);
	return { reload: () => void parts.read(false), stop: parts.stop };
}

/** @param {App} app @param {{id: number, address: string, text: string, nodes: number}[]} vines @param {number} season @param {number} block */
function view(app, vines, season, block) {
	const { t } = app;
	if (!vines.length) return [h("p", { class: "state" }, t("practice.none"))];
	const caption = t("practice.caption", { n: vines.length });
	const head = (/** @type {string} */ key, n = false) => h("th", { scope: "col", class: n ? "n" : null }, t(key));
	return [section("practice-list", caption,
		h("p", { class: "print-only" }, t("practice.on_paper")),
		h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption }, h("table", { class: "practice-table" }, h("caption", { class: "out-of-sight" }, caption),
			h("thead", {}, h("tr", {}, head("weigh.no", true), head("table.vine"), head("pruning.leave"), head("practice.target", true), head("practice.found"))),
			h("tbody", {}, ...vines.map((v, k) => h("tr", {}, h("td", { class: "n" }, k + 1), h("th", { scope: "row" }, vineLink(app, season, block, v.id, v.address)), h("td", { class: "instruction" }, v.text), h("td", { class: "n" }, t.number(v.nodes)), h("td", { class: "found-box" }, h("span", { class: "out-of-sight" }, t("practice.empty")))))))),
		h("p", { class: "hint" }, t("practice.leaning")))];
}
