// Language, name, crew: asked once, changed from "about this phone".

import { LANGUAGES } from "../text/field/index.js";
import { refresh } from "./bundle.js";
import { h, para, tap, title } from "./ui.js";

/** @typedef {import("./app.js").App} App */

/** @param {App} app */
export function languageScreen(app) {
	const choose = (/** @type {string} */ language) => {
		app.set({ language });
		document.documentElement.lang = language;
		if (location.hash === "#language") app.go("#about");
		else app.draw();
	};
	// Each language by its own name; the title in all of them would be longer than the list.
	return [h("h1", { class: "out-of-sight", tabindex: "-1" }, app.t("first.language")), h("div", { class: "stack" }, ...Object.entries(LANGUAGES).map(([code, l]) => tap(l.name, null, () => choose(code), { key: `language-${code}`, lang: code, class: "tall" })))];
}

/** @param {App} app */
export function nameScreen(app) {
	const input = h("input", { id: "name", type: "text", autocomplete: "name", maxlength: "60", value: app.settings.name, enterkeyhint: "done" });
	const fault = h("p", { class: "fault", role: "alert" });
	const form = h("form", { class: "stack", on: { submit: (/** @type {Event} */ e) => {
		e.preventDefault();
		const name = input.value.trim();
		if (!name) {
			fault.textContent = app.t("first.name_wanted");
			input.focus();
			return;
		}
		app.set({ name });
		if (location.hash === "#name") app.go("#about");
		else app.draw();
	} } },
		h("label", { for: "name" }, app.t("first.name_label")), input, fault,
		h("button", { type: "submit", class: "tap main", data: { key: "name-keep" } }, app.t("first.name_keep")));
	return [title(app.t("first.name")), form];
}

/** @param {App} app */
export function crewScreen(app) {
	const choose = (/** @type {string} */ crew) => {
		app.set({ crew });
		void refresh(app);
		app.go("#");
		app.draw();
	};
	const crews = app.kept?.bundle.crews ?? [];
	return [
		title(app.t("first.crew")),
		para(crews.length ? "" : app.t("first.no_crews")),
		h("div", { class: "stack" }, ...crews.map((c) => tap(c, "person", () => choose(c), { key: `crew-${c}` })), tap(app.t("first.all_crews"), "list", () => choose(""), { key: "crew-all" })),
	];
}
