// The second part of the page: versions that were kept, one of them as it was, two
// of them side by side, and what a machine applied.

import { filePath } from "../lib/zones.js";
import { button, h, show } from "../map/dom.js";
import { dayText } from "../map/history.js";
import { reading } from "../pruning/reading.js";
import { section, tableOf } from "../report/section.js";
import { appliedSection } from "./applied.js";
import { comparedParts } from "./compare.js";
import { fileLinks } from "./files.js";
import { amount } from "./measures.js";
import { cautionsSection, checkSection, ratesSection } from "./ratesview.js";
import { cutFacts, mapSection, sentence, stableSection, sureSection } from "./view.js";

/**
 * @typedef {import("../lib/zones.js").ZonesList} ZonesList
 * @typedef {import("../lib/zones.js").Kept} Kept
 */

/**
 * @param {import("./main.js").ZonesPage} page
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountKept(page, place) {
	const { app, about, ask } = page;
	const { t } = app;
	const { block, season } = about.get();
	const listed = h("div", {});
	const body = h("div", { class: "plan-body" });
	show(place, listed, body);
	/** @type {ZonesList | null} */
	let list = null;
	const versions = reading(app, listed, {
		ask: (signal) => ask.list(block, season, signal),
		draw: (answer) => {
			list = answer;
			if (!about.get().open && answer.versions[0]) queueMicrotask(() => about.set({ open: answer.versions[0].id }));
			return [heading(app, answer), answer.versions.length ? versionTable(page, answer) : h("div", { class: "state" }, h("p", {}, t("zones.none_kept", { season: String(season) })), button(t("zones.to_cut"), () => about.set({ part: "cut" }), { data: { key: "to-cut" } }))];
		},
		none: () => h("p", { class: "trouble", role: "alert" }, t("report.no_block", { block })),
		loading: "zones.loading_kept", mark: "zones",
	});
	const one = reading(app, body, {
		ask: async (signal) => {
			const { open, compared } = about.get();
			const [now, other, figures] = await Promise.all([ask.kept(block, season, open ?? "", signal), compared ? ask.kept(block, season, compared, signal) : null, compared ? ask.compare(block, season, open ?? "", compared, signal) : null]);
			return { now, other, figures };
		},
		draw: ({ now, other, figures }) => (other && figures ? comparedParts(app, now, other, figures) : keptParts(page, now)),
		none: () => h("p", { class: "trouble", role: "alert" }, t("zones.no_version")),
		loading: "zones.loading_kept", mark: "version",
	});
	const look = () => {
		if (about.get().open) void one.read(true);
		else show(body);
		if (list) show(listed, heading(app, list), list.versions.length ? versionTable(page, list) : null);
	};
	const off = about.on((now, old) => {
		if (now.part === "kept" && now.block === old.block && now.season === old.season && (now.open !== old.open || now.compared !== old.compared)) look();
	});
	void versions.read(true);
	if (about.get().open) void one.read(true);
	return {
		reload: () => void versions.read(false),
		stop() {
			off();
			versions.stop();
			one.stop();
		},
	};
}

/** @param {import("../map/app.js").App} app @param {ZonesList} list */
function heading(app, list) {
	return h("section", { class: "part", "aria-labelledby": "zones-title" }, h("h1", { id: "zones-title" }, app.t("zones.kept_title", { code: list.code, season: String(list.season) })));
}

/** @param {import("./main.js").ZonesPage} page @param {ZonesList} list */
function versionTable({ app, about }, list) {
	const { t } = app;
	const { open, compared } = about.get();
	const heads = [t("zones.made"), t("pruning.who"), t("zones.zone_count"), t("zones.from"), t("zones.spread"), `${t("zones.total")}#`, t("zones.note"), t("zones.look"), t("zones.beside")];
	const rows = list.versions.map((v, k) => {
		const day = dayText(app, v.made);
		return [k === 0 ? h("span", {}, day, h("span", { class: "tag" }, t("versions.now"))) : day, v.by, String(v.zones), v.columns.join(", "), v.material || t("value.none"), v.material ? amount(app, v.total, v.measure) : t("value.none"), h("span", { class: "note-text" }, v.note),
			v.id === open ? t("zones.looked_at") : button(t("zones.open"), () => about.set({ open: v.id, compared: null }), { class: "small", "aria-label": t("zones.open_long", { day, who: v.by }), data: { key: `open-${v.id}` } }),
			v.id === open ? t("value.none") : v.id === compared ? t("zones.looked_at") : button(t("versions.compare"), () => about.set({ compared: v.id }), { class: "small", "aria-label": t("versions.compare_long", { day, who: v.by }), data: { key: `with-${v.id}` } })];
	});
	return section("versions", t("zones.versions"), tableOf(t("zones.versions"), heads, rows));
}

/** One version as it was kept. @param {import("./main.js").ZonesPage} page @param {Kept} kept @returns {HTMLElement[]} */
function keptParts(page, kept) {
	const { app, about } = page;
	const { t } = app;
	const { block, season } = about.get();
	const resume = () => {
		page.begin.order = kept.order;
		about.set({ part: "cut", open: null, compared: null });
	};
	return [
		h("section", { class: "part", id: "version", "aria-labelledby": "version-title" }, h("h2", { id: "version-title", tabindex: "-1" }, t("zones.version", { day: dayText(app, kept.made), who: kept.by })),
			h("p", { class: "says", id: "says" }, sentence(app, kept.view)), kept.note ? h("p", { class: "note-text" }, kept.note) : null, cutFacts(app, kept.view),
			h("p", { class: "acts no-print" }, button(t("zones.resume"), resume, { data: { key: "resume" } }))),
		mapSection(app, kept.view), ...(kept.view.rates ? [ratesSection(app, kept.view.rates)] : []), sureSection(app, kept.view), stableSection(app, kept.view),
		...(kept.view.rates ? [checkSection(app, kept.view.rates), fileLinks(app, (form) => filePath(block, season, kept.id, form)), appliedSection(page, kept)] : []),
		cautionsSection(app, kept.view.rates?.cautions ?? []),
	];
}
