// What the block is, and how far its figures are: worked out, under way, failed.

import { underWay } from "../lib/findings.js";
import { why } from "../map/app.js";
import { button, h } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { factList } from "./section.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").BlockFindings} BlockFindings
 * @typedef {import("../lib/model.js").Block} Block
 */

/**
 * @param {App} app
 * @param {BlockFindings} found
 * @param {Block | undefined} block
 */
export function stateSection(app, found, block) {
	const { t } = app;
	return h("section", { class: "part", id: "state", "aria-labelledby": "report-title" },
		h("h1", { id: "report-title" }, t("report.heading", { code: found.code, season: String(found.season) }), found.name ? h("span", { class: "block-name" }, ` ${found.name}`) : null),
		facts(app, found, block), stateLine(app, found));
}

/** @param {App} app @param {BlockFindings} found @param {Block | undefined} block */
function facts(app, found, block) {
	const { t, units } = app;
	return factList([
		[t("block.variety"), found.variety],
		[t("block.planted"), found.planted ? (found.leaf > 0 ? t("block.leaf", { leaf: String(found.planted), n: found.leaf }) : String(found.planted)) : ""],
		[t("block.system"), block?.system],
		[t("block.spacing"), block && block.row_spacing_m > 0 && t("block.spacing_value", { row: units.text("spacing", block.row_spacing_m), vine: units.text("spacing", block.vine_spacing_m || null) })],
		[t("block.area"), block && block.area_m2 > 0 && units.text("area", block.area_m2)],
		[t("block.vines"), block && `${t.number(block.vines)} · ${t("block.rows", { n: block.rows })}`],
		[t("table.gaps"), block && t.number(block.totals.gaps)],
	]);
}

/** @param {App} app @param {BlockFindings} found */
function stateLine(app, found) {
	const { t } = app;
	const act = async (/** @type {"again" | "cancel"} */ what) => {
		try {
			await app.api.findingsDo(found.season, [found.block], what);
			toast(app, t(`report.asked_${what}`));
		} catch (error) {
			toast(app, t("report.not_asked", { why: why(error) }), { trouble: true });
		}
		dispatchEvent(new Event("report-changed"));
	};
	const busy = underWay(found.state);
	const meter = h("progress", { max: "1", value: String(found.progress), "aria-label": t("report.progress") });
	return h("div", { class: "state-line", data: { state: found.state } },
		h("p", { class: found.state === "failed" ? "trouble" : null, role: "status" }, t(`report.state_${found.state}`, { detail: found.detail ?? "" })),
		found.state === "running" ? meter : null,
		busy ? button(t("report.cancel"), () => void act("cancel"), { data: { key: "cancel" } }) : button(t("report.again"), () => void act("again"), { data: { key: "again" } }),
		busy && found.vigour ? h("p", { class: "hint" }, t("report.older")) : null);
}
