// Two people in one row at the same time: put before the leader, nothing dropped.

import { h } from "../map/dom.js";
import { timeText } from "../map/legend.js";
import { section } from "../report/section.js";
import { mapPath } from "./hash.js";

/** Vines named before the rest is only counted. */
const NAMED = 12;

/** @param {import("./main.js").Work} work @param {import("./api.js").Clash[]} clashes */
export function clashSection(work, clashes) {
	const { t } = work.app;
	if (!clashes.length) return section("clashes", t("work.clashes"), h("p", { class: "state" }, t("work.no_clashes")));
	return section("clashes", t("work.clashes"), h("p", {}, t("work.clashes_what")), h("ul", { class: "work-list" }, ...clashes.map((c) => clash(work, c))));
}

/** @param {import("./main.js").Work} work @param {import("./api.js").Clash} c */
function clash({ app, about }, c) {
	const { t } = app;
	const { season } = about.get();
	const block = app.blocks.get().list.find((b) => b.code === c.code);
	const vines = h("p", {}, c.vines.length ? t("work.clash_vines", { n: c.vines.length }) : t("work.clash_no_vine"), " ");
	if (block && c.vines.length)
		app.stands.load(block.id, season).then((stand) => {
			const row = stand.rows.find((r) => r.id === Number(c.row));
			for (let i = row?.first ?? 0; row && i < row.first + row.count; i++)
				if (c.vines.slice(0, NAMED).includes(stand.number[i])) vines.append(h("a", { class: "work-vine", href: mapPath(season, block.id, { vine: stand.id[i] }) }, `${c.code}/${c.label}/${stand.number[i]}`), " ");
			if (c.vines.length > NAMED) vines.append(t("work.and_more", { n: c.vines.length - NAMED }));
		}, () => {});
	return h("li", { class: "work-card" },
		h("p", {}, t("work.clash", { row: `${c.code}/${c.label}`, first: c.first, second: c.second }), c.when ? ` (${timeText(app, Date.parse(c.when))})` : ""), vines,
		block ? h("p", {}, h("a", { class: "button", href: mapPath(season, block.id, { row: Number(c.row) }) }, t("work.row_on_map"))) : null);
}
