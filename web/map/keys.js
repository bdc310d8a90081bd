// Keys that work everywhere on the page.

/** @param {import("./app.js").App} app */
export function watchKeys(app) {
	addEventListener("keydown", (e) => {
		if (e.key !== "Escape" || document.querySelector("dialog[open]")) return;
		const { vine, patch } = app.view.get();
		const { way } = app.choosing.get();
		if (way !== "look") app.choosing.set({ way: "look", anchor: null });
		else if (vine !== null) {
			app.view.set({ vine: null });
			// What had the focus is gone: back to where vines are looked for.
			if (document.activeElement === document.body) {
				const place = [...document.querySelectorAll("#map-canvas, .plan-board, #table .scroller")].find((p) => p.checkVisibility());
				/** @type {HTMLElement | undefined} */ (place)?.focus();
			}
		} else if (patch !== null) app.view.set({ patch: null });
		else if (app.selection.count) app.selection.clear();
	});
}
