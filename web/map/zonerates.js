// What the map says of rates: beside the classes of the legend, and at a vine.

import { vineInHand } from "./acts.js";
import { className } from "./app.js";
import { h } from "./dom.js";
import { zonesPath } from "./foundwords.js";

/** @typedef {import("./app.js").App} App */

/** The rate of a zone in a block's version, "" where none is known. @param {App} app @param {number} block @param {number} zone */
function rateIn(app, block, zone) {
	const version = app.zones.get(block, app.view.get().season);
	const rate = version?.rates[zone - 1];
	return version && rate !== undefined ? `${new Intl.NumberFormat(app.t.language, { maximumSignificantDigits: 4 }).format(rate)}\u00a0${version.unit}` : "";
}

/** The block whose rates the legend shows: the one looked at, or the only one in view. @param {App} app @param {{stands: {block: number}[]} | null} view */
export function ratedBlock(app, view) {
	const { block, theme } = app.view.get();
	if (theme !== "zones") return null;
	return block ?? (view?.stands.length === 1 ? view.stands[0].block : null);
}

/** The rate of a class of the legend. @param {App} app @param {number | null} block @param {number} code */
export function legendRate(app, block, code) {
	return block !== null && code > 0 ? rateIn(app, block, code) : "";
}

/** Of whom the rates in the legend are. @param {App} app @param {number | null} block */
export function legendMaterial(app, block) {
	if (app.view.get().theme !== "zones") return null;
	const version = block === null ? null : app.zones.get(block, app.view.get().season);
	const code = app.blocks.get().list.find((b) => b.id === block)?.code ?? "";
	if (version?.material) return h("p", { class: "legend-note" }, app.t("zones.legend_rates", { code, material: version.material }));
	return h("p", { class: "legend-note" }, app.t(block === null ? "zones.legend_choose" : "zones.legend_none", { code }));
}

/** The zone of the vine that is looked at, and what it gets. @param {App} app @param {import("../lib/model.js").Vine} vine */
export function zoneLine(app, vine) {
	const hand = vineInHand(app);
	const zone = hand?.stand.zone[hand.index] ?? 0;
	const cls = app.legends.zones?.classes.find((c) => c.code === zone);
	if (!hand || !zone || !cls) return null;
	const version = app.zones.get(vine.block.id, app.view.get().season);
	const rate = rateIn(app, vine.block.id, zone);
	const says = rate ? app.t("zones.vine_rate", { zone: className(app, "zones", cls), material: version?.material ?? "", rate }) : className(app, "zones", cls);
	return h("p", { class: "vine-line vine-zone" }, says, " ", h("a", { href: zonesPath(vine.block, app.view.get().season) }, app.t("block.zones")));
}
