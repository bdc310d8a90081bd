// List, holes and plants held together, vine by vine, and the surveys and images that
// are kept of the block.

import { h } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { vinePath } from "../report/links.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 */

/** Where the three counts disagree; nothing before a place was put on the list. @param {App} app @param {Replants} answer */
export function settledSection(app, answer) {
	const { t } = app;
	const { settled: s } = answer;
	if (!s.survey && !s.holes && !s.planted) return null;
	const yes = (/** @type {boolean} */ on) => (on ? t("settled.yes") : t("value.none"));
	return section("settled", t("settled.title"),
		h("p", { id: "settled-says" }, t("settled.says", { survey: s.survey, holes: s.holes, planted: s.planted, agreed: s.agreed }), ` ${s.mismatches.length ? t("settled.open", { n: s.mismatches.length }) : t("settled.all")}`),
		s.mismatches.length ? tableOf(t("settled.caption"), [t("table.vine"), t("settled.survey"), t("settled.hole"), t("settled.planted"), t("settled.what")],
			s.mismatches.map((m) => [h("a", { class: "to-map", href: vinePath(answer.season, answer.block, { id: m.id, ...placeOf(answer, m.id) }).replace("theme=vigour", "theme=replants") }, m.address), yes(m.survey), yes(m.hole), yes(m.planted), m.text])) : null,
		h("p", { class: "hint" }, t("settled.hint")));
}

/** Where a place lies, for the map. @param {Replants} answer @param {number} id */
function placeOf({ candidates, places }, id) {
	const at = places.find((p) => p.id === id) ?? candidates.find((c) => c.id === id);
	return { lon: at?.lon, lat: at?.lat };
}

/** @param {App} app @param {Replants} answer */
export function evidenceSection(app, { evidence }) {
	const { t } = app;
	if (!evidence.length) return null;
	const n = (/** @type {number} */ count) => (count ? t.number(count) : t("value.none"));
	const moved = (/** @type {import("../lib/replants.js").Evidence} */ e) => (e.east_m || e.north_m ? t("evidence.moved", { east: t.fixed(e.east_m, 2), north: t.fixed(e.north_m, 2) }) : t("value.none"));
	return section("evidence", t("evidence.title"),
		tableOf(t("evidence.caption"), [t("evidence.name"), t("evidence.kind"), t("evidence.day"), `${t("evidence.points")}#`, `${t("evidence.sure")}#`, `${t("evidence.noticed")}#`, `${t("evidence.doubtful")}#`, `${t("evidence.aside")}#`, t("evidence.taken_off")],
			evidence.map((e) => [e.name, t(e.kind === "survey" ? "evidence.survey" : "evidence.detections"), e.day, n(e.points), n(e.sure), n(e.noticed), n(e.doubtful), n(e.aside), moved(e)])),
		h("p", { class: "hint" }, t("evidence.hint")));
}
