// What to keep on each arm, in words: spur, cane, what follows at shoot thinning,
// and the other ways with their drawbacks.

import { armWord } from "./armwords.js";
import { h } from "./dom.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/pruning.js").WoodAnswer} WoodAnswer
 * @typedef {import("../lib/pruning.js").ArmChoice} ArmChoice
 */

/** @param {App} app @param {WoodAnswer} got */
export function woodAnswer(app, got) {
	const { t } = app;
	return [
		...got.arms.map((a) => armAnswer(app, a)),
		got.keep ? h("p", { class: "wood-keep" }, got.keep.text) : null,
		h("h4", {}, t("vineplan.cautions")), h("ul", { class: "why-list" }, ...got.cautions.map((c) => h("li", {}, c))),
	];
}

/** @param {App} app @param {ArmChoice} a */
function armAnswer(app, a) {
	const { t, units } = app;
	const mm = (/** @type {number} */ n) => units.text("diameter", n);
	const list = (/** @type {string} */ title, /** @type {string[]} */ items) => (items.length ? [h("h5", {}, title), h("ul", { class: "why-list" }, ...items.map((i) => h("li", {}, i)))] : []);
	const but = (/** @type {string} */ text, /** @type {string} */ drawback) => (drawback ? t("wood.but", { text, drawback }) : text);
	return h("section", { class: "wood-arm", data: { arm: a.name } }, h("h4", {}, armWord(app, a.name)),
		...a.alarms.map((text) => h("p", { class: "warning" }, text)),
		a.spur ? h("p", {}, h("strong", {}, t("wood.spur", { n: a.spur.shoot, text: a.spur.text })), " ", t(a.spur.climb_known ? "wood.climb" : "wood.climb_unknown", { mm: mm(a.spur.climb_mm) }), " ", a.spur.drawback ? t("wood.mind", { drawback: a.spur.drawback }) : "")
			: a.rule.length ? null : h("p", { class: "warning" }, t("wood.no_spur")),
		a.cane ? h("p", {}, h("strong", {}, t("wood.cane", { n: a.cane.shoot })), " ", t("wood.cane_why", { verdict: t(`wood.verdict_${a.cane.verdict.replaceAll(" ", "_")}`), why: a.cane.why })) : a.rule.length ? null : h("p", {}, t("wood.no_cane")),
		a.rebuild ? h("p", {}, t("wood.rebuild", { n: a.rebuild.shoot, text: a.rebuild.text })) : null,
		...list(t("vineplan.follow"), a.follow_ups),
		...list(t("wood.otherwise"), a.alternatives.map((o) => but(o.text, o.drawback))),
		...list(t("wood.unusable"), a.unusable.map((u) => t("wood.shoot_text", { n: u.shoot, text: u.reason }))),
		...list(t("wood.notes"), a.notes.filter((n) => !a.spur || !(n.includes(a.spur.text) || (a.spur.drawback && n.includes(a.spur.drawback))))), ...list(t("vineplan.rule"), a.rule));
}
