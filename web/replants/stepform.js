// Takes what is chosen one step on, by name and day; all of them or none. While it is
// being sent the form stands still, whatever is drawn anew around it.

import { commonSteps, wordKey } from "../lib/replants.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {{chosen: () => import("../lib/replants.js").ListedPlace[], block: () => string, sends: () => void, done: (ids: number[]) => void}} parts
 *   sends: the places of `sending` are on their way to the server, or came back refused
 */
export function mountStepForm(app, { chosen, block, sends, done }) {
	const { t } = app;
	const element = h("div", { id: "steps", class: "no-print" });
	const kept = { to: "", day: "", batch: "", grade: "", note: "" };
	/** @type {Set<number>} */
	let sending = new Set();
	const draw = () => {
		if (sending.size) return;
		const list = chosen();
		if (!list.length) return show(element, h("p", { class: "hint" }, t("steps.choose")));
		const can = commonSteps(list);
		if (!can.length) return show(element, h("p", { class: "warning", id: "steps-mixed" }, t("steps.mixed", { n: list.length })));
		show(element, form(list, can));
	};
	const form = (/** @type {import("../lib/replants.js").ListedPlace[]} */ list, /** @type {string[]} */ can) => {
		const fault = h("p", { class: "fault", id: "steps-fault", role: "alert" });
		const to = h("select", { id: "steps-to", data: { key: "steps-to" }, on: { change: () => { kept.to = to.value; batchLine.hidden = !takesBatch(to.value); } } }, ...can.map((s) => h("option", { value: s }, t(`step.${wordKey(s)}`))));
		to.value = can.includes(kept.to) ? kept.to : can[0];
		const field = (/** @type {"day" | "batch" | "grade" | "note"} */ key, /** @type {Record<string, any>} */ more) => {
			const input = h("input", { id: `steps-${key}`, maxlength: "120", "aria-describedby": "steps-fault", data: { key: `steps-${key}` }, ...more, on: { input: () => (kept[key] = input.value.trim()) } });
			input.value = kept[key];
			return input;
		};
		const day = field("day", { placeholder: "2027-03-01", class: "short", inputmode: "numeric" });
		const batchLine = h("span", { class: "with-label" }, h("label", { for: "steps-batch" }, t("steps.batch")), field("batch", { autocomplete: "off" }), h("label", { for: "steps-grade" }, t("steps.grade")), field("grade", { autocomplete: "off", class: "short" }));
		batchLine.hidden = !takesBatch(to.value);
		const by = h("input", { id: "steps-by", autocomplete: "name", maxlength: "80", "aria-describedby": "steps-fault", data: { key: "steps-by" } });
		by.value = app.by.get();
		const go = h("button", { type: "submit", class: "main", data: { key: "steps-go" } }, t("steps.go", { n: list.length }));
		const refuse = (/** @type {string} */ text, /** @type {HTMLElement} */ control) => {
			fault.textContent = text;
			control.focus();
		};
		const act = async () => {
			const ids = list.map((v) => v.id);
			go.setAttribute("aria-disabled", "true");
			sending = new Set(ids);
			sends();
			try {
				await app.api.replantSteps(block(), { by: app.by.get(), vines: ids, to: to.value, ...(kept.day ? { day: kept.day } : {}), ...(takesBatch(to.value) ? { batch: kept.batch, grade: kept.grade } : {}), note: kept.note });
				toast(app, t("steps.done", { n: list.length, step: t(`step.${wordKey(to.value)}`) }));
				Object.assign(kept, { to: "", note: "" });
				sending = new Set();
				done(ids);
			} catch (error) {
				sending = new Set();
				sends();
				fault.textContent = t("steps.refused", { why: why(error) });
				go.removeAttribute("aria-disabled");
			}
		};
		return h("form", { class: "weigh-form step-form", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
			e.preventDefault();
			fault.textContent = "";
			if (go.getAttribute("aria-disabled")) return;
			if (kept.day && !/^\d{4}-\d{2}-\d{2}$/.test(kept.day)) return refuse(t("steps.day_wrong"), day);
			if (!by.value.trim()) return refuse(t("review.who"), by);
			app.by.set(by.value.trim());
			void act();
		} } }, h("label", { for: "steps-to" }, t("steps.to")), to, h("label", { for: "steps-day" }, t("steps.day")), day, batchLine,
			h("label", { for: "steps-note" }, t("steps.note")), field("note", { autocomplete: "off" }), h("label", { for: "steps-by" }, t("pruning.who")), by, go, fault);
	};
	return { element, draw, sending: () => sending };
}

/** A delivery belongs to what is ordered and what is planted. @param {string} stage */
function takesBatch(stage) {
	return stage === "ordered" || stage === "planted";
}
