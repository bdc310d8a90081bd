// Which image lies under the rows, and what its colours mean. The box stays in
// the page while the legend around it is drawn anew.

import { isCoarser, tellsApart } from "../lib/images.js";
import { GROUNDS } from "../style/ground.js";
import { button, h, show, svg } from "./dom.js";
import { imageRemoval } from "./imageremove.js";

/** @typedef {import("./app.js").App} App */
/** @typedef {import("../lib/images.js").KeptImage} KeptImage */

/** The image chosen, where it is there. @param {App} app */
export function chosenImage(app) {
	const { image } = app.view.get();
	return image ? app.images.get().list.find((i) => i.id === image) ?? null : null;
}

/** Reads which images there are. @param {App} app */
export async function readImages(app) {
	try {
		app.images.set({ list: await app.api.images(), state: "ready" });
	} catch {
		app.images.set({ state: "failed" });
	}
}

/** Hidden where there are none. @param {App} app */
export function imageChoice(app) {
	const { t, view } = app;
	const list = h("select", { id: "map-image", data: { key: "map-image" }, on: { change: () => view.set({ image: list.value }) } });
	const bare = h("input", { type: "checkbox", id: "map-bare", data: { key: "map-bare" }, on: { change: () => view.set({ bare: bare.checked }) } });
	const alone = h("label", { class: "legend-outlines", for: "map-bare" }, bare, t("image.bare"));
	const below = h("div", { class: "legend-image-facts" });
	const removal = imageRemoval(app, () => {
		const id = view.get().image;
		app.images.set({ list: app.images.get().list.filter((i) => i.id !== id) });
		view.set({ image: "" });
		list.focus();
		void readImages(app);
	});
	const box = h("div", { class: "legend-image", hidden: true }, h("label", { for: "map-image" }, t("image.label")), list, alone, below, removal.box);
	let said = "";
	const draw = () => {
		const { list: images, state } = app.images.get();
		const wish = view.get().image ?? "";
		const image = chosenImage(app);
		box.hidden = images.length === 0 && !(state === "failed" && wish);
		list.hidden = images.length === 0;
		alone.hidden = image === null;
		removal.of(image);
		bare.checked = view.get().bare === true;
		const now = JSON.stringify([images.map((i) => i.id), wish, state, app.ground.get().name, app.blocks.get().list.map((b) => b.row_spacing_m)]);
		if (now === said) return;
		said = now;
		list.replaceChildren(h("option", { value: "" }, t("image.none")), ...images.map((i) => h("option", { value: i.id }, nameOf(app, i))));
		list.value = image ? image.id : "";
		if (image) show(below, ...facts(app, image));
		else if (wish && state === "failed") show(below, h("p", { class: "legend-note alert" }, t("image.failed"), " ", button(t("image.again"), () => void readImages(app))));
		else show(below, wish && state === "ready" ? h("p", { class: "legend-note" }, t("image.gone")) : null);
	};
	for (const part of [view, app.images, app.ground, app.blocks]) part.on(draw);
	draw();
	return box;
}

/** @param {App} app @param {KeptImage} i */
function nameOf(app, i) {
	const day = new Intl.DateTimeFormat(app.t.language, { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" }).format(new Date(`${i.day}T00:00:00Z`));
	return i.sensor ? app.t("image.name", { index: i.index, day, sensor: i.sensor }) : app.t("image.name_short", { index: i.index, day });
}

/** @param {App} app @param {KeptImage} image */
function facts(app, image) {
	const { t, units } = app;
	const write = (/** @type {number} */ n) => new Intl.NumberFormat(t.language, { maximumSignificantDigits: 4 }).format(n).replace("-", "\u2212");
	const inks = GROUNDS[app.ground.get().name];
	const classes = image.legend.classes.map((c) => {
		const [from, to] = [c.from ?? null, c.to ?? null];
		const range = from === null ? t("legend.below", { to: write(to ?? 0) }) : to === null ? t("legend.from", { from: write(from) }) : t("legend.range", { from: write(from), to: write(to) });
		return h("li", {}, svg("svg", { viewBox: "0 0 16 16", class: "image-ink", "aria-hidden": "true" }, svg("rect", { x: 0.5, y: 0.5, width: 15, height: 15, fill: c[app.ground.get().name], stroke: inks.line })), range);
	});
	const note = (/** @type {string} */ text) => h("p", { class: "legend-note" }, text);
	return [
		h("ul", { class: "image-classes", "aria-label": t("image.classes"), tabindex: "0" }, ...classes),
		note([
			t("image.pixel", { source: image.source, size: units.text("spacing", image.pixel_m), least: write(image.least), most: write(image.most) }),
			isCoarser(image) ? t("image.coarser", { size: units.text("spacing", image.drawn_m) }) : "",
			tellsApart(image, app.blocks.get().list.map((b) => b.row_spacing_m)) === "areas" ? t("image.areas") : "",
			t("image.shared", { index: image.index }),
		].filter(Boolean).join(" ")),
	];
}
