// Finds vines by address, tag or old label, and blocks by code, name or variety.

import { lookAt } from "./acts.js";
import { why } from "./app.js";
import { button, h, show } from "./dom.js";

/** @typedef {import("./app.js").App} App */

/**
 * @param {App} app
 * @param {HTMLElement} place
 * @param {(text: string) => void} onFilter the block list follows what is typed
 */
export function mountSearch(app, place, onFilter) {
	const { t } = app;
	/** What was asked last: an older answer, or one to a text that has changed, is not shown. */
	let turn = 0;
	const field = h("input", { type: "search", id: "find", autocomplete: "off", spellcheck: "false", "aria-describedby": "find-hint" });
	const results = h("div", { class: "found", "aria-live": "polite" });
	const example = () => {
		const first = app.blocks.get().list[0];
		return `${first?.code ?? "H3"}/1/1`;
	};
	const hint = h("p", { id: "find-hint", class: "hint" }, t("find.hint", { example: example() }));
	app.blocks.on(() => (hint.textContent = t("find.hint", { example: example() })));
	const form = h("form", { class: "find", role: "search" }, h("label", { for: "find" }, t("find.label")),
		h("div", { class: "find-line" }, field, h("button", { type: "submit" }, t("find.go"))), hint);
	field.addEventListener("input", () => {
		turn++;
		onFilter(field.value);
		show(results);
	});
	form.addEventListener("submit", (e) => {
		e.preventDefault();
		const mine = ++turn;
		void find(app, field.value.trim(), results, () => mine === turn);
	});
	place.append(form, results);
}

/**
 * @param {App} app
 * @param {string} text
 * @param {HTMLElement} results
 * @param {() => boolean} wanted still
 */
async function find(app, text, results, wanted) {
	if (!text) return;
	const { t } = app;
	const block = app.blocks.get().list.find((b) => b.code.toLowerCase() === text.toLowerCase());
	if (block) {
		app.view.set({ block: block.id, row: null });
		if (block.bounds) app.camera.fit(block.bounds);
		return;
	}
	let vines;
	try {
		vines = (await app.api.find(text)).vines;
	} catch (error) {
		if (wanted()) show(results, h("p", { class: "trouble" }, why(error)));
		return;
	}
	if (!wanted()) return;
	const go = (/** @type {import("../lib/model.js").FoundVine} */ v) => {
		app.camera.goTo(v.lon, v.lat);
		lookAt(app, v.id);
	};
	if (!vines.length) show(results, h("p", {}, t("find.none", { text })));
	else if (vines.length === 1) {
		show(results);
		go(vines[0]);
	} else show(results, h("p", {}, t("find.several", { n: vines.length })), h("ul", { class: "plain" }, ...vines.map((v) => h("li", {}, button(v.tag ? `${v.address} (${v.tag})` : v.address, () => go(v), { class: "link" })))));
}
