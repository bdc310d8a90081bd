// What stands: gaps by kind with the sources that say so, the block held against
// its limits, its age, what was lost by year and cause, and how deliveries lasted.

import { dueOn } from "../lib/gapanswers.js";
import { STATES, aliveAfter, wordKey } from "../lib/replants.js";
import { h } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { lossesSection } from "./losses.js";
import { mountSample } from "./sample.js";
import { evidenceSection } from "./settled.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 */

/** @param {import("./main.js").ReplantsPage} page @returns {import("./page.js").Part} */
export function mountGaps(page) {
	const { app } = page;
	const sample = mountSample(page);
	return {
		draw: (answer) => [kinds(app, answer), evidenceSection(app, answer), limits(app, answer), sample.draw(answer), lossesSection(app, answer.losses), survival(app, answer)],
		stop: sample.stop,
	};
}

/** A share of 1 in per cent, with one decimal. @param {App} app @param {number} n */
export function shareText(app, n) {
	return `${app.t.fixed(100 * n, 1)}\u00a0%`;
}

/** @param {App} app @param {Replants} answer */
function kinds(app, answer) {
	const { t } = app;
	const { counts, gap_rate: rate } = answer;
	const known = answer.by_source.filter((s) => s.of > 0);
	const heads = [t("gaps.kind"), `${t("gaps.taken")}#`, ...known.map((s) => `${t(`gaps.source_${wordKey(s.source)}`)}#`)];
	const none = (/** @type {number | undefined} */ n) => (n ? t.number(n) : t("value.none"));
	const rows = STATES.filter((s) => counts[s] || known.some((k) => k.counts[s])).map((s) => [t(`gaps.state_${wordKey(s)}`), none(counts[s]), ...known.map((k) => none(k.counts[s]))]);
	return section("kinds", t("gaps.kinds"),
		h("p", { class: "says", id: "says" }, rate.positions ? t("gaps.says", { n: rate.gaps, of: rate.positions, share: shareText(app, rate.share) }) : t("gaps.no_places")),
		h("p", {}, t("gaps.open", { n: (counts.suspected ?? 0) + (counts.doubtful ?? 0) }), ...lookAgain(app, answer)),
		known.length ? tableOf(t("gaps.kinds_caption"), heads, rows) : h("p", { class: "state" }, t("gaps.nobody")),
		h("p", { class: "hint" }, t("gaps.kinds_hint")));
}

/** How many are due to be looked at again, and when the next is. @param {App} app @param {Replants} answer */
function lookAgain({ t, estate }, answer) {
	const days = answer.review.flatMap((r) => r.items).map((i) => i.look_again).filter(Boolean).sort();
	const due = answer.season < estate.season ? [] : days.filter((d) => dueOn(d, answer.today) !== "later");
	const next = days[due.length];
	return [due.length ? h("strong", {}, ` ${t("gaps.look_due", { n: due.length, day: due[0] })}`) : "", next ? ` ${t("gaps.look_next", { day: next })}` : ""];
}

/** @param {App} app @param {Replants} answer */
function limits(app, answer) {
	const { t } = app;
	const { outlook } = answer;
	const rows = answer.limits.map((l) => [t(`limit.${l.key}`), t("gaps.share_of", { n: l.count, of: l.of, share: shareText(app, l.share) }), shareText(app, l.limit), l.beyond ? t("gaps.beyond", { n: -l.to_go }) : t("gaps.to_go", { n: l.to_go }), h("span", {}, l.text, h("span", { class: "source" }, ` ${t("gaps.source_of", { source: l.source })}`))]);
	return section("limits", t("gaps.limits"),
		rows.length ? h("div", { class: "wrapping" }, tableOf(t("gaps.limits_caption"), [t("gaps.limit"), `${t("gaps.now")}#`, `${t("gaps.at")}#`, t("gaps.left"), t("gaps.says_head")], rows)) : h("p", { class: "state" }, t("gaps.no_limits")),
		outlook.notes?.length ? h("ul", { class: "sentences", id: "outlook" }, ...outlook.notes.map((text) => h("li", {}, text))) : null,
		h("p", { class: "hint" }, t("gaps.limits_hint")));
}

/** @param {App} app @param {Replants} answer */
function survival(app, answer) {
	const { t } = app;
	const list = answer.survival ?? [];
	if (!list.length) return section("survival", t("survival.title"), h("p", { class: "state" }, t("survival.none")), ...layers(app, answer));
	const after = (/** @type {import("../lib/replants.js").BatchSurvival} */ b, /** @type {number} */ n) => {
		const a = aliveAfter(b.curve, n);
		return a.low === null || a.high === null ? t("survival.all") : t("survival.share", { share: shareText(app, a.share), low: app.t.fixed(100 * a.low, 0), high: app.t.fixed(100 * a.high, 0) });
	};
	return section("survival", t("survival.title"),
		tableOf(t("survival.caption"), [t("survival.batch"), `${t("survival.plants")}#`, `${t("survival.lost")}#`, `${t("survival.after", { n: 1 })}#`, `${t("survival.after", { n: 3 })}#`],
			list.map((b) => [b.batch, t.number(b.curve.plants), t.number(b.curve.lost), after(b, 1), after(b, 3)])),
		...layers(app, answer), h("p", { class: "hint" }, t("survival.hint")));
}

/** What is to be told of layered vines. @param {App} app @param {Replants} answer */
function layers({ t }, answer) {
	return answer.layers.length ? [h("h3", {}, t("survival.layers")), h("ul", { class: "sentences", id: "layers" }, ...answer.layers.map((text) => h("li", {}, text)))] : [];
}
