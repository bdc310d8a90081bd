// What became of surveyed or detected points: how many stand for a place in each
// block, how the whole file seems shifted, and those that a person should look at.

import { h } from "../map/dom.js";
import { scroller } from "./found.js";

/** @typedef {import("./api.js").Points} Points */

const COUNTS = /** @type {const} */ (["read", "sure", "noticed", "doubtful", "aside", "without"]);

/** @param {import("./main.js").Import} page @param {import("./api.js").Report} r @returns {(HTMLElement | null)[]} */
export function pointsOf({ t }, { points, refused }) {
	if (!points) return [];
	const n = (/** @type {number} */ count) => h("td", { class: "number" }, t.number(count));
	const shift = points.shift;
	return [
		shift ? h("p", { id: "shift", class: shift.taken_off ? "" : "trouble" }, t(shift.taken_off ? "import.shift_off" : "import.shift", { east: t.fixed(shift.east_m, 2), north: t.fixed(shift.north_m, 2), blocks: shift.blocks.join(", ") })) : null,
		refused || !points.blocks?.length ? null : scroller(t("import.points_table"), h("table", { id: "points" }, h("caption", {}, t("import.points_table")),
			h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("import.points_block")), ...COUNTS.map((k) => h("th", { scope: "col" }, t(`import.points_${k}`))))),
			h("tbody", {}, ...points.blocks.map((b) => h("tr", {}, h("th", { scope: "row" }, b.code), ...COUNTS.map((k) => n(b[k]))))))),
		points.outside ? h("p", {}, t("import.points_outside", { n: points.outside })) : null,
		refused ? null : doubtful({ t }, points),
	];
}

/** @param {{t: import("../lib/text.js").Texts}} page @param {Points} points */
function doubtful({ t }, points) {
	const list = points.items ?? [];
	if (!list.length) return null;
	const where = (/** @type {import("./api.js").PointItem} */ i) => i.name || (i.line ? t("import.line", { line: i.line }) : i.feature === undefined ? "" : t("import.feature", { feature: i.feature }));
	return h("details", { class: "import-more", id: "points-doubtful" }, h("summary", {}, t("import.points_look", { n: list.length + (points.more_items ?? 0) })),
		scroller(t("import.points_items"), h("table", {},
			h("thead", {}, h("tr", {}, ...["import.points_point", "import.became", "import.points_nearest", "import.why"].map((k) => h("th", { scope: "col" }, t(k))))),
			h("tbody", {}, ...list.map((i) => h("tr", {}, h("th", { scope: "row" }, where(i)), h("td", {}, i.became), h("td", {}, [i.nearest, i.next].filter(Boolean).join(", ")), h("td", {}, i.why)))))),
		points.more_items ? h("p", {}, t("import.more_of", { n: points.more_items })) : null);
}
