// The plan in force beside another version: figures, and the vines that differ.

import { h, show } from "../map/dom.js";
import { factList, tableOf } from "../report/section.js";
import { reading } from "./reading.js";
import { vineLink } from "./vinelink.js";

/** @param {import("./main.js").Pruning} pruning */
export function mountCompare({ app, about }) {
	const { t } = app;
	const body = h("div", { class: "part" });
	const place = h("section", { class: "part", id: "compare", "aria-labelledby": "compare-title", hidden: true }, h("h2", { id: "compare-title", tabindex: "-1" }, t("compare.title")), body);
	let block = 0;
	const { block: code, season } = about.get();
	const read = reading(app, body, {
		ask: (signal) => app.api.comparePlans(code, season, about.get().compared ?? 0, signal),
		draw: (c) => view(app, c, season, block),
		loading: "compare.loading", mark: "compare",
	});
	const showNow = (/** @type {boolean} */ fresh) => {
		const { compared } = about.get();
		place.hidden = !compared;
		if (compared) void read.read(fresh);
		else show(body);
	};
	return {
		place,
		/** @param {number} id */
		to(id) {
			about.set({ compared: id });
			showNow(true);
			place.querySelector("h2")?.focus();
		},
		/** @param {import("../lib/pruning.js").Plan} plan */
		follow(plan) {
			block = plan.block;
			if (plan.plan) showNow(!body.firstChild);
		},
	};
}

/** @param {import("../map/app.js").App} app @param {import("../lib/pruning.js").Comparison} c @param {number} season @param {number} block */
function view(app, c, season, block) {
	const { t } = app;
	const list = c.list ?? [];
	const facts = factList([
		[t("compare.changed"), t("block.of", { part: c.changed, whole: c.vines, share: t.percent(c.changed, c.vines) })],
		[t("compare.nodes"), t("compare.nodes_value", { now: c.nodes_now, before: c.nodes_with })],
		[t("compare.more"), t.number(c.more)],
		[t("compare.fewer"), t.number(c.fewer)],
	]);
	if (!list.length) return [facts, h("p", {}, t("compare.same"))];
	return [facts, c.changed > list.length ? h("p", { class: "hint" }, t("compare.first", { n: list.length })) : null,
		tableOf(t("compare.caption"), [t("table.vine"), t("compare.now"), t("compare.with")], list.map((l) => [vineLink(app, season, block, l.vine, l.address), l.now, l.with]))];
}
