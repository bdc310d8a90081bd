// A way to a vine on the map, where its plan is explained.

import { h } from "../map/dom.js";
import { vinePath } from "../report/links.js";

/** @param {import("../map/app.js").App} app @param {number} season @param {number} block @param {number} id @param {string} address */
export function vineLink(app, season, block, id, address) {
	return h("a", { class: "to-map", href: vinePath(season, block, { id }).replace("theme=vigour", "theme=load"), title: app.t("pruning.to_vine", { address }) }, address);
}
