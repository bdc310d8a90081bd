// The head of the page: where it belongs, which block and season it is about,
// and its parts.

import { PARTS } from "../lib/pruninghash.js";
import { h, show } from "../map/dom.js";
import { replantsPath, reportPath, zonesPath } from "../map/foundwords.js";
import { whoLine } from "../map/whoami.js";

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 */
export function mountHead({ app, about }, place) {
	const { t } = app;
	const who = whoLine(app);
	const draw = () => {
		const { block, season, part } = about.get();
		const { list } = app.blocks.get();
		const known = list.find((b) => b.code === block || String(b.id) === block);
		document.title = `${t("pruning.title", { code: known?.code ?? block, season: String(season) })} · ${app.estate.name}`;
		const blocks = h("select", { id: "block", data: { key: "block" }, on: { change: () => about.set({ block: blocks.value, compared: null }) } },
			...list.map((b) => h("option", { value: b.code }, [b.code, b.name].filter(Boolean).join(" · "))));
		blocks.value = known?.code ?? "";
		const seasons = h("select", { id: "season", data: { key: "season" }, on: { change: () => about.set({ season: Number(seasons.value), compared: null }) } },
			...app.estate.seasons.map((s) => h("option", { value: s }, s)));
		seasons.value = String(season);
		show(place,
			h("a", { class: "button", href: known ? `/#season=${season}&theme=load&block=${known.id}` : "/" }, t("report.to_map")),
			known ? h("a", { class: "button", href: reportPath(known, season), data: { key: "report" } }, t("block.report")) : null,
			known ? h("a", { class: "button", href: replantsPath(known, season), data: { key: "replants" } }, t("block.replants")) : null,
			known ? h("a", { class: "button", href: zonesPath(known, season), data: { key: "zones" } }, t("block.zones")) : null,
			h("p", { class: "report-estate" }, app.estate.name), who,
			h("div", { class: "report-choices" },
				h("label", { for: "block" }, t("plan.choose_block")), blocks,
				h("label", { for: "season" }, t("head.season")), seasons),
			h("div", { class: "report-parts", role: "group", "aria-label": t("pruning.parts") }, ...PARTS.map((to) =>
				h("button", { type: "button", "aria-pressed": String(part === to), data: { key: `part-${to}` }, on: { click: () => about.set({ part: to }) } }, t(`pruning.part_${to}`)))));
	};
	about.on(draw);
	app.blocks.on(draw);
	draw();
}
