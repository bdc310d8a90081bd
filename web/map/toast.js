// A line that says what was just done, with a way to take it back. It stays
// until it is dismissed or the next one comes: nobody has to hurry.

import { button, h, show } from "./dom.js";

/**
 * @param {import("./app.js").App} app
 * @param {string} text
 * @param {{act?: {label: string, run: () => void}, trouble?: boolean}} [more]
 */
export function toast(app, text, { act, trouble = false } = {}) {
	const place = /** @type {HTMLElement} */ (document.getElementById("toast"));
	const close = () => show(place);
	show(
		place,
		h(
			"div",
			{ class: trouble ? "toast toast-trouble" : "toast" },
			h("span", { class: "toast-text" }, text),
			act && button(act.label, () => { close(); act.run(); }, { class: "toast-act" }),
			button(app.t("saved.dismiss"), close, { class: "toast-close" }),
		),
	);
	app.announce(text);
}
