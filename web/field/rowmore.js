// What is reached from a row: more, done to here, whole row, where one stands.

import { doneTo, indexOf, keepPlace, openBetween, standAt } from "./acts.js";
import { slotText } from "./homescreen.js";
import { inRow, nameOf } from "./rowscreen.js";
import { h, keypad, para, stepper, tap, title } from "./ui.js";
import { SKIPPED, endOfSection, slotOf, tally } from "./walk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./acts.js").Here} Here
 */

/** @param {App} app @param {Here} here */
export function moreScreen(app, here) {
	const { t } = app;
	const to = (/** @type {string} */ screen) => () => app.go(inRow(here, screen));
	const check = here.state.check.length;
	return [
		title(nameOf(app, here)),
		h("div", { class: "stack" },
			tap(t("more.done_to"), "to", to("to"), { key: "done-to" }),
			tap(t("more.whole"), "whole", to("whole"), { key: "whole" }),
			tap(t("more.note"), "note", to("note"), { key: "note" }),
			check ? tap(t("more.check", { n: check }), "warn", to("check"), { key: "check" }) : null,
			tap(t("more.off"), "off", to("off"), { key: "off" }),
			tap(t("more.go_to"), "keys", to("goto"), { key: "goto" }),
			tap(t("more.turn"), "turn", async () => {
				here.state.start = here.state.start === "far" ? "near" : "far";
				here.state.agreed = null;
				here.state.ask = null;
				here.state.ended = false;
				await keepPlace(app, here);
				app.go(inRow(here));
			}, { key: "turn" })),
	];
}

/** "Done to here": vines up to one that the person names. @param {App} app @param {Here} here */
export function doneToScreen(app, here) {
	const { t } = app;
	const { walk } = here;
	const from = indexOf(here);
	let to = slotOf(walk, walk.spots[from].number) ? endOfSection(walk, from) : Math.min(from + 4, walk.spots.length - 1);
	const text = h("p", { class: "strong slot" });
	const button = tap("", "done", async () => {
		if (await doneTo(app, here, from, to)) app.go(inRow(here));
	}, { key: "done-to-keep", class: "main" });
	const tell = () => {
		const vines = openBetween(here, from, to).filter((s) => s.progress !== SKIPPED);
		text.textContent = slotText(app, walk, walk.spots[to].number);
		/** @type {HTMLElement} */ (button.lastChild).textContent = t("to.keep", { number: String(walk.spots[to].number), n: vines.length });
		button.disabled = !vines.length;
	};
	const steps = stepper(app, { label: t("to.number"), value: to - from, least: 0, most: walk.spots.length - 1 - from, key: "to", show: (n) => String(walk.spots[from + n].number), on: (n) => {
		to = from + n;
		tell();
	} });
	const post = tap(t("to.next_post"), "post", () => {
		steps.put(endOfSection(walk, Math.min(to + 1, walk.spots.length - 1)) - from);
	}, { key: "to-post" });
	tell();
	return [title(t("more.done_to")), para(t("to.from", { number: String(walk.spots[from].number) })), steps, text, slotOf(walk, 1) ? post : null, h("div", { class: "dock" }, button)];
}

/** @param {App} app @param {Here} here */
export function wholeScreen(app, here) {
	const { t } = app;
	const sum = tally(here.walk);
	const open = sum.left + sum.skipped;
	return [
		title(nameOf(app, here)),
		h("p", { class: "boxed question" }, t(open ? "whole.ask" : "whole.none", { n: open })),
		h("div", { class: "dock" }, tap(t("more.whole"), "whole", async () => {
			if (await doneTo(app, here, 0, here.walk.spots.length - 1)) app.go(inRow(here));
		}, { key: "whole-keep", class: "main", disabled: !open })),
	];
}

/** Counting is off, or the person goes elsewhere in the row. @param {App} app @param {Here} here @param {boolean} off */
export function standScreen(app, here, off) {
	const { t } = app;
	const { walk } = here;
	let index = indexOf(here);
	const text = h("p", { class: "strong slot" }, slotText(app, walk, walk.spots[index].number));
	const stand = async (/** @type {number} */ i) => {
		if (await standAt(app, here, i, off)) app.go(inRow(here));
	};
	const button = tap("", "row", () => stand(index), { key: "stand-keep", class: "main" });
	const tell = () => {
		text.textContent = slotText(app, walk, walk.spots[index].number);
		/** @type {HTMLElement} */ (button.lastChild).textContent = t("stand.keep", { number: String(walk.spots[index].number) });
	};
	tell();
	const keys = keypad(app, (digits) => {
		const i = walk.index.get(Number(digits));
		button.disabled = digits !== "" && i === undefined;
		if (i !== undefined) {
			index = i;
			tell();
		}
	});
	return [
		title(t(off ? "stand.off" : "more.go_to")),
		para(t(off ? "stand.off_how" : "stand.how")),
		keys, text,
		off ? tap(t("stand.at_end"), "to", () => stand(walk.spots.length), { key: "stand-end" }) : null,
		h("div", { class: "dock" }, button),
	];
}

/** Stretches where counting was off. @param {App} app @param {Here} here @param {(vines: number[]) => Promise<boolean>} takeBackThese */
export function checkScreen(app, here, takeBackThese) {
	const { t } = app;
	const settle = async (/** @type {import("./types.js").Stretch} */ one) => {
		here.state.check = here.state.check.filter((c) => c !== one);
		await keepPlace(app, here);
		app.draw();
	};
	return [
		title(t("check.title")),
		para(t("check.how")),
		here.state.check.length ? null : para(t("check.none"), "large"),
		...here.state.check.map((one) =>
			h("section", { class: "boxed" }, h("h2", {}, t("check.stretch", { from: String(one.from), to: String(one.to) })),
				h("div", { class: "stack" },
					tap(t("check.right"), "done", () => settle(one), { key: `right-${one.from}` }),
					tap(t("check.wrong"), "undo", async () => {
						if (await takeBackThese(one.vines)) await settle(one);
					}, { key: `wrong-${one.from}` })))),
	];
}
