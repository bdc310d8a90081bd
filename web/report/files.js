// The figures as files, and on paper.

import { button, h } from "../map/dom.js";
import { layerTable } from "./layers.js";
import { section } from "./section.js";

/**
 * @param {import("../map/app.js").App} app
 * @param {import("../lib/findings.js").BlockFindings} found
 */
export function filesSection(app, found) {
	const { t } = app;
	const season = `season=${found.season}`;
	const since = found.change ? `&since=${found.change.since}` : "";
	const block = `&block=${found.block}`;
	const file = (/** @type {string} */ href, /** @type {string} */ key) => h("li", {}, h("a", { href, download: "" }, t(`report.file_${key}`)));
	return section("files", t("report.files"),
		h("ul", { class: "files" },
			file(`/api/blocks/${found.block}/findings.csv?${season}${since}`, "vines"),
			found.patches || found.likely ? file(`/api/patches.csv?${season}${block}`, "patches") : null,
			found.patches || found.likely ? file(`/api/patches.geojson?${season}${block}`, "outlines") : null,
			found.change ? file(`/api/change.csv?${season}${since}`, "change") : null),
		...layerTable(app, found),
		h("p", { class: "no-print" }, button(t("report.print"), () => print())),
		h("p", { class: "hint" }, t("report.caution")));
}
