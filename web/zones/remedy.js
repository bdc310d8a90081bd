// Where zones were lost: which setting keeps them, and a way to take it.

import { button, h } from "../map/dom.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/zones.js").Remedy | null} remedy
 * @param {(cut: Omit<import("../lib/zones.js").Remedy, "text">) => void} take
 */
export function remedyLine(app, remedy, take) {
	if (!remedy) return null;
	const { text, ...cut } = remedy;
	return h("div", { class: "warning part", id: "remedy", role: "status" }, h("p", {}, h("strong", {}, app.t("zones.lost")), ` ${text}.`),
		h("p", { class: "acts" }, button(app.t("zones.take_remedy"), () => take(cut), { data: { key: "remedy" } })));
}
