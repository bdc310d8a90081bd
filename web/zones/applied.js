// What a machine applied beside what was planned: the log is read by the server
// and not kept.

import { ApiError } from "../lib/api.js";
import { zipOf } from "../lib/zip.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { section, tableOf } from "../report/section.js";
import { rateNumber, rateText } from "./measures.js";
import { notes, zoneMark } from "./view.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/zones.js").Applied} Applied
 */

/** @param {import("./main.js").ZonesPage} page @param {import("../lib/zones.js").Kept} kept */
export function appliedSection({ app, about, ask }, kept) {
	const { t } = app;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const fault = h("p", { class: "fault", id: "applied-fault", role: "alert" });
	const file = h("input", { type: "file", id: "applied-file", accept: ".geojson,.json,.zip,.xml,.bin", multiple: true, "aria-describedby": "applied-fault", on: { change: () => void read({}) } });
	const crs = h("input", { id: "applied-crs", class: "short", maxlength: "30", autocomplete: "off", placeholder: "EPSG:32632" });
	const choices = h("div", {});
	const result = h("div", {});
	const read = async (/** @type {{value?: string}} */ wish) => {
		const chosen = [...(file.files ?? [])];
		if (!chosen.length) return;
		fault.textContent = "";
		dataset.applied = "asking";
		try {
			const log = await packed(chosen);
			const got = await ask.applied(block, season, kept.id, log, { ...wish, ...(crs.value.trim() ? { crs: crs.value.trim() } : {}) });
			dataset.applied = got.work ? "ready" : "fields";
			if (!got.work) show(choices, fieldChoice(app, got, (value) => void read({ value })));
			show(result, ...(got.work ? workParts(app, got.work) : [h("p", { role: "status" }, t("zones.applied_points", { n: got.points }))]));
		} catch (error) {
			dataset.applied = "failed";
			show(result);
			fault.textContent = t(error instanceof ApiError && error.passing ? "zones.applied_failed" : "zones.applied_refused", { why: why(error) });
		}
	};
	return section("applied", t("zones.applied"), h("p", { class: "hint no-print" }, t("zones.applied_hint")),
		h("div", { class: "keep-form no-print" }, h("label", { for: "applied-file" }, t("zones.applied_file")), file, h("label", { for: "applied-crs" }, t("zones.applied_crs")), crs, choices, fault), result);
}

/** One file goes as it is; those of a folder are packed together. @param {File[]} files @returns {Promise<Blob>} */
async function packed(files) {
	if (files.length === 1 && !/\.(xml|bin)$/i.test(files[0].name)) return files[0];
	return zipOf(await Promise.all(files.map(async (f) => ({ name: f.name, bytes: new Uint8Array(await f.arrayBuffer()) }))));
}

/** Which number of the log is the rate: nobody guesses. @param {App} app @param {Applied} got @param {(value: string) => void} act */
function fieldChoice(app, got, act) {
	const { t } = app;
	const list = h("select", { id: "applied-value", data: { key: "applied-value" }, on: { change: () => list.value && act(list.value) } }, h("option", { value: "" }, t("zones.applied_choose")),
		...got.fields.map((f) => h("option", { value: f.name }, t("zones.applied_field", { name: f.name, least: rateNumber(app, f.least), most: rateNumber(app, f.most) }))));
	return h("div", { class: "set" }, h("label", { for: list.id }, t("zones.applied_value")), list);
}

/** @param {App} app @param {NonNullable<Applied["work"]>} work */
function workParts(app, work) {
	const { t } = app;
	const heads = [t("zones.zone_head"), `${t("zones.points")}#`, `${t("zones.planned")}#`, `${t("zones.mean_applied")}#`, `${t("zones.off_by")}#`, `${t("zones.within")}#`];
	const rows = work.zones.map((z) => [zoneMark(app, z.zone), t.number(z.points), rateText(app, z.planned, work.unit), z.points ? rateText(app, z.mean, work.unit) : t("value.none"),
		z.points && z.planned ? `${new Intl.NumberFormat(t.language, { maximumFractionDigits: 1, signDisplay: "exceptZero" }).format(z.percent).replace("-", "\u2212")}\u00a0%` : t("value.none"), z.points ? t.percent(z.within, 1) : t("value.none")]);
	return [h("p", { class: "says-line" }, t("zones.applied_says", { n: work.points, share: t.percent(work.within, 1) })), tableOf(t("zones.applied_caption"), heads, rows), notes(work.notes)];
}
