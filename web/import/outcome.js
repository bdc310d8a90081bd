// What an import would do, or did: counts, what is wrong, what was mended or left
// out, and each thing that changes.

import { button, h, show } from "../map/dom.js";
import { scroller } from "./found.js";
import { questions } from "./options.js";
import { keepsPoints, pointsPart } from "./points.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Report} Report
 * @typedef {import("./api.js").Count} Count
 */

/** Whether an import stores anything. @param {Report} r */
export function changes(r) {
	return [r.blocks, r.rows, r.vines].some((c) => c.made + c.changed > 0) || (r.records ?? []).some((x) => x.made > 0) || r.plan_made || keepsPoints(r.points);
}

/** @param {Import} page @param {HTMLElement} place */
export function mountOutcome(page, place) {
	const { t } = page;
	place.id = "outcome";
	place.tabIndex = -1;
	const go = button(t("import.take"), () => page.take(), { id: "take", class: "import-take" });
	const body = h("div", { class: "import-outcome" });
	const heading = h("h2", {});
	place.append(heading, body, go);
	return () => {
		const { report: r, busy } = page.state;
		place.hidden = !r;
		if (!r) return;
		heading.textContent = t(busy === "taken" ? "import.did" : "import.would");
		const ready = busy === "" && !r.refused && changes(r);
		go.hidden = busy === "taken" || !ready;
		show(body, h("p", { class: r.refused ? "import-word trouble" : "import-word" }, word(page, r)), ...problems(page, r), r.refused ? null : counts(page, r), pointsPart(page, r.points), notices(page, r), items(page, r), busy === "taken" ? h("p", {}, h("a", { class: "button", href: "/" }, t("import.to_map"))) : null);
	};
}

/** @param {Import} page @param {Report} r */
function word({ t, state }, r) {
	if (r.refused) return t("import.refused");
	if (!changes(r)) return t((r.files ?? []).some((f) => f.read > 0) ? "import.no_change" : "import.nothing");
	return t(state.busy === "taken" ? "import.taken" : "import.ready");
}

/** What is wrong; what is asked stands above. @param {Import} page @param {Report} r */
function problems({ t }, r) {
	const all = r.problems ?? [];
	const open = new Set(questions(all).map((p) => p.ask?.option));
	const list = all.filter((p) => !p.ask || !open.has(p.ask.option));
	return [
		open.size ? h("p", {}, t("import.left_open")) : null,
		list.length ? h("h3", {}, t("import.wrong")) : null,
		list.length ? h("ul", { class: "import-problems" }, ...list.map((p) => h("li", {}, p.text)), r.more_problems ? h("li", {}, t("import.more_of", { n: r.more_problems })) : null) : null,
	];
}

/** @param {Import} page @param {Report} r */
function counts({ t }, r) {
	const line = (/** @type {string} */ name, /** @type {Count} */ c) => h("tr", {}, h("th", { scope: "row" }, name), ...[c.read, c.made, c.changed, c.unchanged, c.left_out].map((n) => h("td", { class: "number" }, t.number(n))));
	const rows = [["blocks", r.blocks], ["rows", r.rows], ["vines", r.vines]].filter(([, c]) => /** @type {Count} */ (c).read + /** @type {Count} */ (c).changed > 0)
		.map(([name, c]) => line(t(`import.kind_${name}`), /** @type {Count} */ (c)));
	const records = (r.records ?? []).map((x) => h("li", {}, t("import.record", { what: x.what, made: x.made, unchanged: x.unchanged, season: String(r.season ?? "") })));
	if (r.plan_vines) records.push(h("li", {}, t("import.plan", { nodes: r.plan_nodes, n: r.plan_vines })));
	return h("div", {},
		rows.length ? scroller(t("import.counts"), h("table", { id: "counts" }, h("caption", {}, t("import.counts")),
			h("thead", {}, h("tr", {}, h("th", { scope: "col" }, t("import.about_what")), ...["read", "made", "changed", "unchanged", "left_out"].map((k) => h("th", { scope: "col" }, t(`import.count_${k}`))))),
			h("tbody", {}, ...rows))) : null,
		records.length ? h("ul", { class: "import-records" }, ...records) : null);
}

/** @param {Import} page @param {Report} r */
function notices({ t }, r) {
	const list = r.notices ?? [];
	if (!list.length) return null;
	const text = (/** @type {import("./api.js").Notice} */ n) => {
		const where = [n.file, n.features?.length ? t("import.features", { list: places(n.features, n.count), n: n.count }) : n.lines?.length ? t("import.at_lines", { list: places(n.lines, n.count), n: n.count }) : "", n.field].filter(Boolean).join(", ");
		return where ? `${where}: ${n.text}` : n.text;
	};
	return h("div", {}, h("h3", {}, t("import.notices")), h("ul", { class: "import-notices" }, ...list.map((n) => h("li", {}, text(n)))));
}

/** @param {number[]} list @param {number} count */
const places = (list, count) => list.join(", ") + (count > list.length ? " …" : "");

/** @param {Import} page @param {Report} r */
function items({ t }, r) {
	const list = r.items ?? [];
	if (!list.length || r.refused) return null;
	const where = (/** @type {import("./api.js").Item} */ i) => [i.file, i.line ? t("import.line", { line: i.line }) : i.feature === undefined ? "" : t("import.feature", { feature: i.feature })].filter(Boolean).join(", ");
	return h("details", { class: "import-more" }, h("summary", {}, t("import.items", { n: list.length + (r.more_items ?? 0) })),
		scroller(t("import.items_label"), h("table", {},
			h("thead", {}, h("tr", {}, ...["import.item", "import.became", "import.where", "import.why"].map((k) => h("th", { scope: "col" }, t(k))))),
			h("tbody", {}, ...list.map((i) => h("tr", {}, h("th", { scope: "row" }, i.what), h("td", {}, i.became), h("td", {}, where(i)), h("td", {}, i.why ?? "")))))),
		r.more_items ? h("p", {}, t("import.more_of", { n: r.more_items })) : null);
}
