// The review list, row by row: what a person should look at, each with the answers
// that one press gives. An answer is a record like any other, by whoever says so.

import { ANSWERS, lookAgain } from "../lib/gapanswers.js";
import { record } from "../map/acts.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { wordKey } from "../lib/replants.js";
import { vinePath } from "../report/links.js";
import { reviewPhones } from "./reviewphones.js";
import { dueText, saidList } from "./sources.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").ReviewItem} ReviewItem
 */

/** The list may be long: the way to what stands below it. */
function toPhones() {
	document.getElementById("phones")?.scrollIntoView();
	document.getElementById("weigh-crew")?.focus({ preventScroll: true });
}

/** What nobody is sure of: no gap yet, and no living vine. */
const OPEN = ["suspected", "doubtful"];

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
	/** @type {Replants | null} */
	let last = null;
	const list = h("div", { class: "review-list" });
	const which = h("select", { id: "review-which", data: { key: "review-which" }, on: { change: () => last && part.draw(last) } }, h("option", { value: "all" }, t("review.which_all")), h("option", { value: "open" }, t("review.which_open")));
	/** The places that the list shows, for the phones. @type {number[]} */
	let shown = [];
	/** @type {ReturnType<typeof reviewPhones> | null} */
	let phones = null;
	let live = true;
	app.outbox.on(() => {
		// What was sent is in the record: the list is worked out anew.
		if (live && answered.size && !app.outbox.waiting.length) reload();
	});
	/** @type {import("./page.js").Part} */
	const part = {
		draw(answer) {
			const all = answer.review.flatMap((r) => r.items);
			const rows = answer.review.map((r) => ({ row: r.row, items: r.items.filter((i) => which.value === "all" || OPEN.includes(i.state)) })).filter((r) => r.items.length);
			const items = rows.flatMap((r) => r.items);
			last = answer;
			shown = items.map((i) => i.id);
			if (phones) phones.reload();
			else phones = reviewPhones(app, answer.block, season, () => shown);
			phones.count();
			// What has been sent is in the list as the server sees it now.
			const waiting = new Set(app.outbox.waiting.flatMap((e) => e.vines ?? []));
			for (const id of [...answered.keys()]) if (!waiting.has(id)) answered.delete(id);
			dataset.answered = String(answered.size);
			if (!all.length) return [section("review", t("review.title"), h("p", { class: "state" }, t("review.none"))), phones.section];
			show(list, h("p", { class: "says", id: "says", role: "status" }, t("review.says", { n: items.length, rows: rows.length })),
				...rows.map((row) => h("section", { class: "review-row", "aria-label": t("block.row", { label: row.row }) }, h("h3", {}, t("review.row", { label: row.row, n: row.items.length })),
					h("ul", { class: "review-items" }, ...row.items.map((item) => {
						const line = h("li", { data: { vine: item.id } });
						show(line, ...itemLine(app, answer, item, answered, act, line));
						return line;
					})))));
			return [section("review", t("review.title"), h("p", {}, t("review.hint")),
				h("div", { class: "weigh-form no-print" }, h("label", { for: "review-which" }, t("review.which")), which, h("label", { for: "review-by" }, t("pruning.who")), by, button(t("review.to_phones"), () => toPhones(), { data: { key: "to-phones" } }), fault),
				list, h("p", { class: "hint" }, t("review.caution"))), phones.section];
		},
		stop() {
			live = false;
			phones?.stop();
		},
	};
	return part;
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
	const again = lookAgain();
	const one = (/** @type {string} */ state, /** @type {string} */ text, /** @type {Record<string, any>} */ value) =>
		button(text, () => void act(answer, item, state, value, line), { class: state === item.state || (state === "missing" && item.state === "suspected") ? "small main" : "small", "aria-label": t("review.press", { address: item.address, state: text }), data: { key: `say-${item.id}-${wordKey(state)}` } });
	return [
		h("div", { class: "review-what" },
			h("a", { class: "to-map", href: vinePath(about(answer), answer.block, item).replace("theme=vigour", "theme=replants") }, item.address),
			h("span", { class: "review-state" }, item.look_again ? t("review.look_on", { state: name(item.state), due: dueText(app, item.look_again, answer.today, answer.season) }) : name(item.state)),
			item.run > 1 ? h("span", { class: "hint" }, t("review.run", { n: item.run })) : null),
		item.contradictions.length ? h("p", { class: "alert" }, item.contradictions.join("; ")) : null,
		h("details", { class: "beside" }, h("summary", { "aria-label": t("review.why_of", { address: item.address }) }, t("review.why")), h("ul", { class: "sentences" }, ...item.reasons.map((r) => h("li", {}, r)))),
		saidList(app, item.said),
		said ? h("p", { class: "answered", role: "status" }, t("review.answered", { state: said === "again" ? t("review.again") : name(said) }))
			: h("div", { class: "acts no-print", role: "group", "aria-label": t("review.answers", { address: item.address }) }, ...ANSWERS.map(([state, value]) => one(state, name(state), value)), one("again", t("review.again"), again)),
	];
}

/** @param {Replants} answer */
const about = (answer) => answer.season;
