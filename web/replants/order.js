// The nursery order for the places that are to be replaced and not ordered yet, for
// the block or for all, with what goes with it and what is in hand.

import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { factList, section, tableOf } from "../report/section.js";
import { mountStock } from "./stock.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Order} Order
 */

/** @param {import("./main.js").ReplantsPage} page @param {() => void} reload @returns {import("./page.js").Part} */
export function mountOrder({ app, about }, reload) {
	const { t } = app;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const wish = { plantOn: "", potted: false, whole: false };
	const result = h("div", { class: "plan-body", id: "order-result" });
	const fault = h("p", { class: "fault", id: "order-fault", role: "alert" });
	const previewer = new Previewer({
		ask: async (/** @type {typeof wish} */ w, signal) => ({ whole: w.whole, order: w.whole ? (await app.api.estateReplants(season, w.plantOn, w.potted, signal)).order : (await app.api.previewReplants(block, { season, ...(w.plantOn ? { plant_on: w.plantOn } : {}), potted: w.potted }, signal)).order }),
		onChange: (now) => {
			dataset.order = now.state;
			fault.textContent = now.state === "failed" ? t("order.refused", { why: why(now.error) }) : "";
			if (now.state === "ready" && now.good) show(result, ...orderView(app, now.good.order, now.good.whole));
		},
	});
	const ask = () => previewer.want({ ...wish }, true);
	const day = h("input", { id: "plant-on", class: "short", placeholder: "2028-03-01", inputmode: "numeric", "aria-describedby": "order-fault", data: { key: "plant-on" }, on: { change: () => {
		const text = day.value.trim();
		const wrong = text !== "" && !/^\d{4}-\d{2}-\d{2}$/.test(text);
		fault.textContent = wrong ? t("steps.day_wrong") : "";
		day.setAttribute("aria-invalid", String(wrong));
		if (wrong) return;
		wish.plantOn = text;
		ask();
	} } });
	const check = (/** @type {"potted" | "whole"} */ key) => {
		const box = h("input", { type: "checkbox", id: `order-${key}`, data: { key: `order-${key}` }, on: { change: () => { wish[key] = box.checked; ask(); } } });
		return h("label", { class: "check", for: `order-${key}` }, box, t(`order.${key}`));
	};
	const form = h("form", { class: "weigh-form no-print", novalidate: true, on: { submit: (/** @type {Event} */ e) => { e.preventDefault(); } } },
		h("label", { for: "plant-on" }, t("order.plant_on")), day, check("potted"), check("whole"), fault);
	const stock = mountStock(app, { block, saved: reload });
	return {
		draw(answer) {
			if (previewer.now.state === "none" && !wish.plantOn) {
				show(result, ...orderView(app, answer.order, false));
				dataset.order = "ready";
			} else ask();
			return [section("order", t("order.title"), h("p", {}, t("order.hint")), form), result, stock.draw(answer), h("p", { class: "no-print" }, button(t("report.print"), () => print(), { data: { key: "print" } }))];
		},
		stop: () => previewer.stop(),
	};
}

/** @param {App} app @param {Order | null} order @param {boolean} whole @returns {HTMLElement[]} */
function orderView(app, order, whole) {
	const { t } = app;
	if (!order) return [section("lines", t("order.lines"), h("p", { class: "state" }, t(whole ? "order.none_estate" : "order.none")))];
	const word = (/** @type {string} */ text) => text || t("value.none");
	const warn = order.late || order.soon;
	return [
		section("lines", t("order.lines"), warn ? h("p", { class: "warning" }, h("strong", {}, t(order.late ? "order.late" : "order.soon", { day: order.order_by }))) : null,
			tableOf(t(whole ? "order.caption_estate" : "order.caption"), [t("block.variety"), t("order.clone"), t("order.rootstock"), `${t("order.places")}#`, `${t("order.plants")}#`, `${t("order.in_hand")}#`, `${t("order.to_order")}#`, t("order.blocks")],
				order.lines.map((l) => [l.cultivar, word(l.clone), word(l.rootstock), t.number(l.positions), t.number(l.plants), t.number(l.in_hand), t.number(l.order), (l.blocks ?? []).join(", ")])),
			factList([[t("order.order_by"), order.order_by], [t("order.holes"), t.number(order.holes)], [t("order.stakes"), t.number(order.stakes)], [t("order.guards"), t.number(order.guards)], [t("order.drippers"), t.number(order.drippers)]]),
			order.notes?.length ? h("ul", { class: "sentences" }, ...order.notes.map((text) => h("li", {}, text))) : null),
	];
}
