// The side with the blocks: search, list, one block. On a narrow screen it is a
// sheet at the foot of the page that is drawn up when wanted.

import { button, h } from "./dom.js";

/**
 * @param {import("./app.js").App} app
 * @param {HTMLElement} place
 */
export function mountPlaces(app, place) {
	const { t } = app;
	const search = h("div", { class: "search" });
	const list = h("div", { class: "block-list" });
	const block = h("div", { class: "block-panel", hidden: true });
	const inner = h("div", { class: "places-inner", id: "places-inner" }, search, list, block);
	const setOpen = (/** @type {boolean} */ open) => {
		place.classList.toggle("open", open);
		toggle.setAttribute("aria-expanded", String(open));
		toggle.textContent = open ? t("blocks.close") : t("blocks.title");
	};
	const toggle = button(t("blocks.title"), () => setOpen(!place.classList.contains("open")), { class: "sheet-toggle", "aria-expanded": "false", "aria-controls": "places-inner" });
	place.append(toggle, h("h2", { class: "places-title" }, t("blocks.title")), inner);
	const arrange = () => {
		const { block: chosen } = app.view.get();
		list.hidden = chosen !== null;
		place.classList.toggle("one-block", chosen !== null);
	};
	app.view.on((now, old) => {
		arrange();
		if (now.vine !== null && now.vine !== old.vine) setOpen(false);
		else if (now.block !== null && now.block !== old.block) setOpen(true);
	});
	arrange();
	return { search, list, block };
}
