// The head of the page: where it belongs, which season and operation it is
// about, and its parts.

import { h, show } from "../map/dom.js";
import { whoLine } from "../map/whoami.js";
import { PARTS } from "./hash.js";

/**
 * @param {import("./main.js").Work} work
 * @param {HTMLElement} place
 */
export function mountHead({ app, about, operations }, place) {
	const { t } = app;
	const who = whoLine(app);
	const draw = () => {
		const { season, operation, part } = about.get();
		document.title = `${t("work.title", { operation: nameOf(app, operation), season: String(season) })} · ${app.estate.name}`;
		const jobs = h("select", { id: "operation", data: { key: "operation" }, on: { change: () => about.set({ operation: jobs.value, order: "" }) } },
			...operations.map((o) => h("option", { value: o.name }, nameOf(app, o.name, o.label))));
		jobs.value = operation;
		const seasons = h("select", { id: "season", data: { key: "season" }, on: { change: () => about.set({ season: Number(seasons.value), order: "" }) } },
			...app.estate.seasons.map((s) => h("option", { value: s }, s)));
		seasons.value = String(season);
		const step = (/** @type {import("./hash.js").WorkPart} */ to) =>
			h("button", { type: "button", "aria-pressed": String(part === to), data: { key: `part-${to}` }, on: { click: () => about.set({ part: to }) } }, t(`work.part_${to}`));
		show(place,
			h("a", { class: "button", href: `/#season=${season}&theme=progress` }, t("report.to_map")),
			h("p", { class: "report-estate" }, app.estate.name), who,
			h("div", { class: "report-choices" },
				h("label", { for: "operation" }, t("work.operation")), jobs,
				h("label", { for: "season" }, t("head.season")), seasons),
			h("nav", { class: "report-parts", "aria-label": t("work.parts") }, ...PARTS.map(step)));
	};
	about.on(draw);
	draw();
}

/** An operation in the page's language where it has the word. @param {import("../map/app.js").App} app @param {string} name @param {string} [label] */
export function nameOf({ t }, name, label = name) {
	const key = `operation.${name}`;
	return t.has(key) ? t(key) : label || name;
}
