// Keys that work everywhere on the page.

/** @param {import("./app.js").App} app */
export function watchKeys(app) {
	addEventListener("keydown", (e) => {
		if (e.key !== "Escape" || document.querySelector("dialog[open]")) return;
		const { vine } = app.view.get();
		const { way } = app.choosing.get();
		if (way !== "look") app.choosing.set({ way: "look", anchor: null });
		else if (vine !== null) {
			app.view.set({ vine: null });
			const canvas = document.getElementById("map-canvas");
			if (document.activeElement === document.body) canvas?.focus();
		} else if (app.selection.count) app.selection.clear();
	});
}
