// The head of the page: estate, season, theme, and how things are shown.

import { THEMES } from "../lib/model.js";
import { keptText } from "./app.js";
import { button, h, icon } from "./dom.js";
import { pageLinks } from "./pagelinks.js";
import { whoLine } from "./whoami.js";

/** @typedef {import("./app.js").App} App */

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountHeader(app, place) {
	const more = h("div", { class: "more", id: "more" }, paneChoice(app), groundChoice(app), pageLinks(app), whoLine(app, true));
	const toggle = button(app.t("head.more"), () => {
		const open = place.classList.toggle("more-open");
		toggle.setAttribute("aria-expanded", String(open));
	}, { class: "more-toggle", icon: icon("M4 6h16v2H4zM4 11h16v2H4zM4 16h16v2H4z"), "aria-expanded": "false", "aria-controls": "more" });
	place.append(h("h1", { class: "estate" }, app.estate.name), seasonChoice(app), themeChoice(app), more, toggle);
}

/** @param {App} app */
function seasonChoice(app) {
	const { t, estate, view } = app;
	/** @param {number} season */
	const winter = (season) =>
		estate.south ? t("head.winter_south", { before: String(season - 1) }) : t("head.winter_north", { before: String(season - 1), after: String(season % 100).padStart(2, "0") });
	const which = h("span", { class: "winter" });
	const list = h("select", { id: "season", on: { change: () => view.set({ season: Number(list.value) }) } });
	for (const season of estate.seasons) list.append(h("option", { value: season }, season));
	const step = (/** @type {number} */ by) => {
		const to = estate.seasons[estate.seasons.indexOf(view.get().season) + by];
		if (to !== undefined) view.set({ season: to });
	};
	const before = button(t("head.previous_season"), () => step(-1), { icon: icon("M15 4l-8 8 8 8z"), id: "season-before" });
	const after = button(t("head.next_season"), () => step(1), { icon: icon("M9 4l8 8-8 8z"), id: "season-after" });
	const draw = () => {
		const { season } = view.get();
		list.value = String(season);
		which.textContent = winter(season);
		const at = estate.seasons.indexOf(season);
		before.setAttribute("aria-disabled", String(at <= 0));
		after.setAttribute("aria-disabled", String(at >= estate.seasons.length - 1));
	};
	view.on(draw);
	draw();
	return h("div", { class: "seasons-choice" }, which, h("div", { class: "season" }, before, h("label", { class: "out-of-sight", for: "season" }, t("head.season")), list, after));
}

/** @param {App} app */
function themeChoice(app) {
	const options = THEMES.filter((theme) => app.legends[theme]).map((theme) => [theme, app.t(`theme.${theme}`)]);
	const get = () => (app.view.get().theme === "doubt" ? "vigour" : app.view.get().theme);
	const set = (/** @type {string} */ theme) => app.view.set({ theme: /** @type {any} */ (theme), only: null });
	return h("div", { class: "theme-choice" }, radios({ legend: app.t("head.theme"), name: "theme", className: "themes", options, get, set, watch: app.view.on }), themeList(app, options, get, set));
}

/** The same choice as a list, for where there is no room to have all in sight. @param {App} app @param {string[][]} options @param {() => string} get @param {(theme: string) => void} set */
function themeList(app, options, get, set) {
	const list = h("select", { id: "theme-list", on: { change: () => set(list.value) } }, ...options.map(([value, label]) => h("option", { value }, label)));
	const draw = () => void (list.value = get());
	app.view.on(draw);
	draw();
	return h("div", { class: "theme-list" }, h("label", { class: "out-of-sight", for: "theme-list" }, app.t("head.theme")), list);
}

/** @param {App} app */
function paneChoice(app) {
	return radios({
		legend: app.t("head.show"), name: "pane", className: "panes",
		options: ["map", "plan", "table"].map((pane) => [pane, app.t(`head.${pane}`)]),
		get: () => app.view.get().pane,
		set: (pane) => app.view.set({ pane: /** @type {any} */ (pane) }),
		watch: app.view.on,
	});
}

/**
 * One choice of a few, all in sight.
 * @param {{legend: string, name: string, className: string, options: string[][], get: () => string, set: (value: string) => void, watch: (listener: () => void) => any}} parts
 */
function radios({ legend, name, className, options, get, set, watch }) {
	const inputs = options.map(([value]) => h("input", { type: "radio", name, value, id: `${name}-${value}`, on: { change: () => set(value) } }));
	const draw = () => inputs.forEach((input) => (input.checked = input.value === get()));
	watch(draw);
	draw();
	return h("fieldset", { class: `choice ${className}` }, h("legend", { class: "out-of-sight" }, legend),
		...inputs.flatMap((input, k) => [input, h("label", { for: input.id }, options[k][1])]));
}

/** @param {App} app */
function groundChoice(app) {
	const { t, ground } = app;
	const kept = keptText("courson.ground");
	const dark = matchMedia("(prefers-color-scheme: dark)");
	const list = h("select", { id: "ground" }, ...["auto", "light", "dark"].map((wish) => h("option", { value: wish }, t(`head.ground_${wish}`))));
	list.value = ground.get().wish;
	const draw = () => {
		const wish = /** @type {"auto" | "light" | "dark"} */ (list.value);
		ground.set({ wish, name: wish === "auto" ? (dark.matches ? "dark" : "light") : wish });
		document.documentElement.dataset.ground = ground.get().name;
	};
	list.addEventListener("change", () => {
		kept.set(list.value);
		draw();
	});
	dark.addEventListener("change", draw);
	draw();
	return h("div", { class: "ground-choice" }, h("label", { for: "ground" }, t("head.ground")), list);
}
