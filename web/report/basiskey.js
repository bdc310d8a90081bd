// The key to how bars tell measured, calibrated and estimated vines apart.

import { h, svg } from "../map/dom.js";

/** @param {import("../map/app.js").App} app */
export function basisKey(app) {
	const swatch = (/** @type {string} */ kind) => svg("svg", { viewBox: "0 0 22 14", class: "swatch", "aria-hidden": "true" },
		svg("rect", { x: 1, y: 1, width: 20, height: 12, class: `bar-edge ${kind === "estimated" ? "bar-ground" : "bar-plain"}` }),
		kind === "calibrated" ? svg("path", { d: "M2 12L10 2M8 12L16 2M14 12L20 4", class: "stripe" }) : null,
		kind === "estimated" ? svg("path", { d: "M5 5h.1M11 5h.1M17 5h.1M5 9h.1M11 9h.1M17 9h.1", class: "key-dots" }) : null);
	return h("ul", { class: "chart-key" }, ...["measured", "calibrated", "estimated"].map((kind) => h("li", {}, swatch(kind), app.t(`basis.${kind}`))));
}
