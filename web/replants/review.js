// The review list, row by row: what a person should look at, each with the answers
// that one press gives. An answer is a record like any other, by whoever says so.

import { record } from "../map/acts.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { wordKey } from "../lib/replants.js";
import { vinePath } from "../report/links.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").ReviewItem} ReviewItem
 */

/** What can be answered: the state, and the record that says it. @type {[string, Record<string, any>][]} */
const ANSWERS = [
	["missing", { condition: "missing", confirmed: true }],
	["dead standing", { condition: "dead", confirmed: true }],
	["dead above graft", { condition: "dead", cause: "above graft", confirmed: true }],
	["living", { condition: "bearing", confirmed: true }],
];

/** How much later a doubtful vine is looked at again. */
const AGAIN_DAYS = 30;

/** @param {import("./main.js").ReplantsPage} page @param {() => void} reload @returns {import("./page.js").Part} */
export function mountReview({ app, about }, reload) {
	const { t } = app;
	const { season } = about.get();
	const { dataset } = document.documentElement;
	/** @type {Map<number, string>} what was answered here, by place, until the list without it comes */
	const answered = new Map();
	const fault = h("p", { class: "fault", id: "review-fault", role: "alert" });
	const by = h("input", { id: "review-by", autocomplete: "name", maxlength: "80", "aria-describedby": "review-fault", data: { key: "review-by" }, on: { change: () => app.by.set(by.value.trim()) } });
	by.value = app.by.get();
	const act = async (/** @type {Replants} */ answer, /** @type {ReviewItem} */ item, /** @type {string} */ state, /** @type {Record<string, any>} */ value, /** @type {HTMLElement} */ line) => {
		fault.textContent = "";
		if (!by.value.trim()) {
			fault.textContent = t("review.who");
			return by.focus();
		}
		app.by.set(by.value.trim());
		if (!(await record(app, [{ block: answer.block, row: item.row_id, vines: [item.id] }], season, { kind: "condition", value }, "review.recorded"))) return;
		answered.set(item.id, state);
		dataset.answered = String(answered.size);
		show(line, ...itemLine(app, answer, item, answered, act, line));
	};
	const stop = app.outbox.on(({ entries }) => {
		// What was sent is in the record: the list is worked out anew.
		if (answered.size && !entries.length) reload();
	});
	return {
		draw(answer) {
			const items = answer.review.flatMap((r) => r.items);
			const left = new Set(items.map((i) => i.id));
			for (const id of [...answered.keys()]) if (!left.has(id)) answered.delete(id);
			if (!items.length) return [section("review", t("review.title"), h("p", { class: "state" }, t("review.none")))];
			return [section("review", t("review.title"), h("p", { class: "says", id: "says" }, t("review.says", { n: items.length, rows: answer.review.length })), h("p", {}, t("review.hint")),
				h("div", { class: "weigh-form no-print" }, h("label", { for: "review-by" }, t("pruning.who")), by, fault),
				...answer.review.map((row) => h("section", { class: "review-row", "aria-label": t("block.row", { label: row.row }) }, h("h3", {}, t("review.row", { label: row.row, n: row.items.length })),
					h("ul", { class: "review-items" }, ...row.items.map((item) => {
						const line = h("li", { data: { vine: item.id } });
						line.append(...itemLine(app, answer, item, answered, act, line));
						return line;
					})))),
				h("p", { class: "hint" }, t("review.caution")))];
		},
		stop: () => stop?.(),
	};
}

/**
 * @param {App} app
 * @param {Replants} answer
 * @param {ReviewItem} item
 * @param {Map<number, string>} answered
 * @param {(answer: Replants, item: ReviewItem, state: string, value: Record<string, any>, line: HTMLElement) => Promise<void>} act
 * @param {HTMLElement} line
 */
function itemLine(app, answer, item, answered, act, line) {
	const { t } = app;
	const said = answered.get(item.id);
	const name = (/** @type {string} */ s) => t(`gaps.state_${wordKey(s)}`);
	const again = { condition: "doubtful", look_again: dayIn(AGAIN_DAYS) };
	const one = (/** @type {string} */ state, /** @type {string} */ text, /** @type {Record<string, any>} */ value) =>
		button(text, () => void act(answer, item, state, value, line), { class: state === item.state || (state === "missing" && item.state === "suspected") ? "small main" : "small", "aria-label": t("review.press", { address: item.address, state: text }), data: { key: `say-${item.id}-${wordKey(state)}` } });
	return [
		h("div", { class: "review-what" },
			h("a", { class: "to-map", href: vinePath(about(answer), answer.block, item).replace("theme=vigour", "theme=replants") }, item.address),
			h("span", { class: "review-state" }, item.look_again ? t("review.look_on", { state: name(item.state), day: item.look_again }) : name(item.state)),
			item.run > 1 ? h("span", { class: "hint" }, t("review.run", { n: item.run })) : null),
		item.contradictions.length ? h("p", { class: "alert" }, item.contradictions.join("; ")) : null,
		h("details", { class: "beside" }, h("summary", { "aria-label": t("review.why_of", { address: item.address }) }, t("review.why")), h("ul", { class: "sentences" }, ...item.reasons.map((r) => h("li", {}, r)))),
		said ? h("p", { class: "answered", role: "status" }, t("review.answered", { state: said === "again" ? t("review.again") : name(said) }))
			: h("div", { class: "acts no-print", role: "group", "aria-label": t("review.answers", { address: item.address }) }, ...ANSWERS.map(([state, value]) => one(state, name(state), value)), one("again", t("review.again"), again)),
	];
}

/** @param {Replants} answer */
const about = (answer) => answer.season;

/** A day from now on, at noon so that it is that day in every zone near. @param {number} days */
function dayIn(days) {
	const d = new Date();
	d.setDate(d.getDate() + days);
	d.setHours(12, 0, 0, 0);
	return d.toISOString();
}
