// Beside the map: the points of the pen in words, taken back, typed, removed.

import { readDegrees } from "../lib/pen.js";
import { button, h, show } from "../map/dom.js";

/**
 * @param {import("./main.js").Ground} page
 * @param {import("../lib/pen.js").Pen} pen
 * @param {HTMLElement} place
 * @param {{name?: string, how?: string}} [about] name: what sets it apart from other pens of the page; how: what to do with it
 */
export function mountPen(page, pen, place, { name = pen.kind, how } = {}) {
	const { t } = page;
	const area = pen.kind === "area";
	const undo = button(t("ground.undo"), () => pen.undo());
	const close = button(t("ground.close"), () => pen.close(), { class: "main" });
	const clear = button(t("ground.clear"), () => pen.clear());
	const list = h("ol", { class: "pen-points" });
	place.append(h("p", { class: "hint" }, how ?? t(area ? "ground.how_area" : "ground.how_line")),
		h("div", { class: "acts" }, area ? close : null, undo, clear), typed(page, pen, `pen-${name}`), list);
	let last = 0;
	let was = false;
	const draw = () => {
		const n = pen.points.length;
		for (const [b, off] of /** @type {[HTMLButtonElement, boolean][]} */ ([[undo, !n], [clear, !n], [close, n < 3 || pen.closed]])) b.setAttribute("aria-disabled", String(off));
		show(list, ...pen.points.map(([lon, lat], i) => h("li", {},
			h("span", {}, t("ground.point", { lat: t.fixed(lat, 6), lon: t.fixed(lon, 6) })),
			button(t("ground.remove", { n: String(i + 1) }), () => pen.remove(i), { class: "link", data: { key: `remove-${i}` } }))));
		if (n !== last || pen.closed !== was) page.announce(pen.closed ? t("ground.said_closed", { n }) : t("ground.said_points", { n }));
		[last, was] = [n, pen.closed];
	};
	pen.on(draw);
	draw();
}

/** A point by its coordinates. @param {import("./main.js").Ground} page @param {import("../lib/pen.js").Pen} pen @param {string} id */
function typed(page, pen, id) {
	const { t } = page;
	const lat = h("input", { id: `${id}-lat`, autocomplete: "off", inputmode: "text", maxlength: "24", "aria-describedby": `${id}-fault` });
	const lon = h("input", { id: `${id}-lon`, autocomplete: "off", inputmode: "text", maxlength: "24", "aria-describedby": `${id}-fault` });
	const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
	const add = (/** @type {Event} */ e) => {
		e.preventDefault();
		const [y, x] = [readDegrees(lat.value, "lat"), readDegrees(lon.value, "lon")];
		lat.setAttribute("aria-invalid", String(y === null));
		lon.setAttribute("aria-invalid", String(x === null));
		fault.textContent = y === null || x === null ? t("ground.wrong_place") : pen.closed ? t("ground.is_closed") : "";
		if (y === null || x === null || pen.closed) return;
		pen.add([x, y]);
		page.see([x, y]);
		lat.value = lon.value = "";
		lat.focus();
	};
	return h("details", { class: "pen-typed" }, h("summary", {}, t("ground.typed")),
		h("form", { on: { submit: add } },
			h("div", { class: "ground-pair" },
				h("div", { class: "ground-field" }, h("label", { for: lat.id }, t("ground.latitude")), lat),
				h("div", { class: "ground-field" }, h("label", { for: lon.id }, t("ground.longitude")), lon)),
			h("p", { class: "hint" }, t("ground.typed_hint")), fault, h("button", { type: "submit" }, t("ground.add"))));
}
