// Map, plan or table: one of them fills the middle. Where the map cannot be
// drawn, the plan takes its place and the page says why.

import { button, h, show } from "./dom.js";
import { canDraw, mountMap } from "./mappane.js";
import { mountPlan } from "./planpane.js";
import { mountTable } from "./tablepane.js";
import { VINE_ZOOM } from "./vinelayer.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./nearby.js").Nearby} Nearby
 */

/**
 * @param {App} app
 * @param {{map: HTMLElement, plan: HTMLElement, table: HTMLElement, state: HTMLElement}} at
 * @param {() => void} onView what is in view changed
 */
export function mountPanes(app, at, onView) {
	/** @type {ReturnType<typeof mountMap> | null} */
	let map = null;
	let gaveUp = "";
	const giveUp = (/** @type {string} */ text) => {
		if (gaveUp) return;
		gaveUp = text;
		document.documentElement.dataset.map = "none";
		/** @type {HTMLInputElement | null} */ (document.getElementById("pane-map"))?.setAttribute("disabled", "");
		if (app.view.get().pane === "map") app.view.set({ pane: "plan" });
		show(at.state, h("p", { class: "trouble" }, text));
		app.announce(text);
	};
	const words = stateWords(app, at.state, () => map?.nearby?.retry());
	const arrange = () => {
		const { pane } = app.view.get();
		if (pane === "map" && gaveUp) return app.view.set({ pane: "plan" });
		at.map.hidden = pane !== "map";
		at.state.hidden = pane !== "map" && !gaveUp;
		if (pane === "map" && !map && !gaveUp) {
			map = mountMap(app, at.map, {
				onState: (n) => { if (!gaveUp) words.nearby(n); onView(); },
				onWaiting: (waiting) => { if (!gaveUp) words.waiting(waiting); },
				onTrouble: (text) => { if (!gaveUp) words.tiles(text); },
				giveUp,
			});
			map.onReady = onView;
		}
		map?.map.resize();
		onView();
	};
	if (!canDraw()) giveUp(app.t("map.no_graphics"));
	app.view.on((now, old) => {
		if (now.pane !== old.pane) arrange();
	});
	arrange();
	mountPlan(app, at.plan);
	mountTable(app, at.table);
	return {
		refreshTiles: (/** @type {[number, number, number, number]} */ bounds) => map?.refreshTiles(bounds),
		retry() {
			words.tiles("");
			map?.nearby?.retry();
		},
		/** Where single vines are drawn: the stands, and the corners of what is seen of them. */
		inView() {
			if (app.view.get().pane !== "map" || !map?.nearby || map.map.getZoom() < VINE_ZOOM) return null;
			return { stands: map.nearby.stands(), corners: map.nearby.corners() };
		},
	};
}

/**
 * Loading, none here, failed with a way to try again: in words.
 * @param {App} app
 * @param {HTMLElement} place
 * @param {() => void} retry
 */
function stateWords(app, place, retry) {
	const { t } = app;
	/** @type {Nearby} */
	let nearby = { state: "quiet", vines: 0, failed: 0, trouble: "" };
	let tiles = "";
	let waiting = false;
	let said = "";
	const draw = () => {
		document.documentElement.dataset.nearby = nearby.state;
		const again = () => button(t("app.try_again"), () => {
			tiles = "";
			retry();
			draw();
		});
		if (nearby.state === "failed") show(place, h("p", { class: "trouble" }, t("map.failed", { n: nearby.failed, why: nearby.trouble })), again());
		else if (tiles) show(place, h("p", { class: "trouble" }, t("map.tiles_failed", { why: tiles })), again());
		else if (nearby.state === "loading") show(place, h("p", {}, t("map.loading")));
		else if (waiting) show(place, h("p", {}, t("map.loading_map")));
		else if (nearby.state === "none") show(place, h("p", {}, t("map.none")), button(t("map.back_to_estate"), () => app.estate.bounds && app.camera.fit(app.estate.bounds)));
		else show(place);
		const text = place.textContent ?? "";
		if (nearby.state === "ready" && said === "loading") app.announce(t("map.loaded", { n: nearby.vines }));
		else if (nearby.state === "failed" && said !== "failed") app.announce(text);
		said = nearby.state;
	};
	return {
		/** @param {Nearby} now */
		nearby(now) {
			nearby = now;
			draw();
		},
		/** @param {string} text */
		tiles(text) {
			if (text === tiles) return;
			tiles = text;
			draw();
		},
		/** @param {boolean} now */
		waiting(now) {
			if (now === waiting) return;
			waiting = now;
			draw();
		},
	};
}
