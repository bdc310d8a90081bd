// Makes a version of the plan: somebody says so, by name.

import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { h } from "../map/dom.js";
import { toast } from "../map/toast.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/draft.js").Draft} draft
 * @param {import("./form.js").StandardsForm} form
 * @param {{block: string, season: number, made: () => void}} parts
 */
export function makeForm(app, draft, form, { block, season, made }) {
	const { t } = app;
	const by = h("input", { id: "make-by", autocomplete: "name", maxlength: "80", "aria-describedby": "make-fault", data: { key: "make-by" } });
	by.value = app.by.get();
	const fault = h("p", { class: "fault", id: "make-fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", data: { key: "make" } }, t("make.go"));
	const note = h("p", { class: "hint" });
	const draw = () => (note.textContent = t(draft.changed() ? "make.keeps" : "make.hint"));
	draft.on(draw);
	draw();
	const act = async () => {
		go.setAttribute("aria-disabled", "true");
		try {
			// What was changed is kept for the block first, key by key, so that the rest goes on following the estate.
			if (draft.changed()) await app.api.saveStandards(draft.settled.block || block, app.by.get(), draft.forBlock());
			const plan = await app.api.makePlan(block, season, app.by.get(), null, draft.wish().options);
			toast(app, t("make.done", { nodes: plan.sum?.nodes_in_all ?? 0 }));
			made();
		} catch (error) {
			fault.textContent = t(error instanceof ApiError && error.passing ? "make.failed" : "make.refused", { why: why(error) });
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	const element = h("form", { class: "weigh-form", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		fault.textContent = "";
		if (go.getAttribute("aria-disabled") || !form.sound()) return;
		if (!by.value.trim()) {
			fault.textContent = t("make.who_missing");
			by.focus();
			return;
		}
		app.by.set(by.value.trim());
		void act();
	} } }, h("label", { for: "make-by" }, t("pruning.who")), by, go, fault);
	return h("section", { class: "part no-print", id: "make", "aria-labelledby": "make-title" }, h("h2", { id: "make-title" }, t("make.title")), note, element);
}
