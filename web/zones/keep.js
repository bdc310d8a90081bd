// Keeps the zones and rates as a version: somebody says so, by name.

import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { h } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { section } from "../report/section.js";

/**
 * @param {import("./main.js").ZonesPage} page
 * @param {{sound: () => boolean, order: () => import("../lib/zones.js").Order, kept: (id: string) => void}} parts
 */
export function keepForm({ app, about, ask }, { sound, order, kept }) {
	const { t } = app;
	const fault = h("p", { class: "fault", id: "keep-fault", role: "alert" });
	const by = h("input", { id: "keep-by", autocomplete: "name", maxlength: "80", "aria-describedby": "keep-fault", data: { key: "keep-by" } });
	by.value = app.by.get();
	const note = h("textarea", { id: "keep-note", maxlength: "1000", rows: "2", data: { key: "keep-note" } });
	const go = h("button", { type: "submit", class: "main", data: { key: "keep" } }, t("zones.keep"));
	const act = async () => {
		go.setAttribute("aria-disabled", "true");
		try {
			const { block, season } = about.get();
			const made = await ask.keep(block, season, app.by.get(), note.value, order());
			toast(app, t("zones.kept", { n: made.zones }));
			kept(made.id);
		} catch (error) {
			fault.textContent = t(error instanceof ApiError && error.passing ? "zones.keep_failed" : "zones.keep_refused", { why: why(error) });
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	return section("keep", t("zones.keep_title"), h("p", { class: "hint" }, t("zones.keep_hint")),
		h("form", { class: "keep-form", novalidate: true, on: { submit: (/** @type {Event} */ e) => {
			e.preventDefault();
			fault.textContent = "";
			if (go.getAttribute("aria-disabled")) return;
			if (!by.value.trim()) {
				fault.textContent = t("make.who_missing");
				by.focus();
				return;
			}
			if (!sound()) {
				fault.textContent = t("zones.not_sound");
				return;
			}
			app.by.set(by.value.trim());
			void act();
		} } }, h("label", { for: "keep-by" }, t("pruning.who")), by, h("label", { for: "keep-note" }, t("zones.note")), note, h("div", { class: "acts" }, go), fault));
}
