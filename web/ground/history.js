// Who changed what of the ground of the block, and the newest change taken back.

import { onceAtATime } from "../lib/once.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";

/** @type {Record<string, string>} */
const WORDS = { "block drawn": "ground.did_block", "rows made": "ground.did_rows", "numbered anew": "ground.did_numbers", "block split": "ground.did_split", "blocks joined": "ground.did_join", "taken back": "ground.did_back" };

/** @param {import("./main.js").Ground} page @param {HTMLElement} place */
export function mountHistory(page, place) {
	const { t, api } = page;
	const fault = h("p", { class: "fault", role: "alert" });
	const back = onceAtATime(async (/** @type {number} */ block, /** @type {string} */ id) => {
		page.mark("keeping");
		fault.textContent = "";
		try {
			const gone = (await api.takeBack(block, id, page.by())).what === "block drawn";
			await page.changed(gone ? 0 : block, t("ground.taken_back"), gone ? "block" : null);
		} catch (error) {
			if (!page.blameBy(error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		}
	});
	const list = h("ol", { class: "ground-changes" });
	const undo = h("div", { class: "acts" });
	place.append(h("h2", {}, t("ground.changes")), list, fault, undo);
	return () => {
		const state = page.state;
		place.hidden = !state?.changes.length;
		if (!state?.changes.length) return;
		const when = new Intl.DateTimeFormat(t.language, { dateStyle: "medium", timeStyle: "short" });
		show(list, ...state.changes.map((c) => h("li", {}, h("strong", {}, t(c.of ? "ground.did_come" : (WORDS[c.what] ?? "ground.did_back"), { rows: t.number(c.rows), vines: t.number(c.vines), other: c.other_code ?? "" })), ` · ${t("ground.did_by", { by: c.by, when: when.format(new Date(c.made)) })}`)));
		show(undo, state.undo ? button(t("ground.take_back"), () => void back(state.block, state.undo), { data: { key: "take-back" } }) : h("p", { class: "hint" }, t("ground.no_back", { why: state.undo_why })));
	};
}
