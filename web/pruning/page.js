// The page as a whole: one part of it at a time, and the cautions at its foot.

import { h, show } from "../map/dom.js";
import { openForPrint } from "../report/page.js";
import { mountAfter } from "./after.js";
import { mountPlanPart } from "./planpart.js";
import { mountPractice } from "./practice.js";
import { mountRuns } from "./runs.js";

/**
 * @typedef {object} Part
 * @property {() => void} reload something changed on the server
 * @property {() => void} stop
 */

/** @type {Record<import("../lib/pruninghash.js").PruningPart, (pruning: import("./main.js").Pruning, place: HTMLElement) => Part>} */
const PARTS = { plan: mountPlanPart, runs: mountRuns, practice: mountPractice, after: mountAfter };

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 */
export function mountPage(pruning, place) {
	const { about } = pruning;
	/** @type {Part | null} */
	let part = null;
	const draw = () => {
		part?.stop();
		const body = h("div", { class: "plan-body" });
		show(place, body, cautions(pruning.app));
		part = PARTS[about.get().part](pruning, body);
	};
	about.on((now, old) => {
		if (now.block !== old.block || now.season !== old.season || now.part !== old.part) draw();
	});
	openForPrint(place);
	draw();
	return { reload: () => part?.reload() };
}

/** @param {import("../map/app.js").App} app */
function cautions(app) {
	const { t } = app;
	return h("section", { class: "part cautions", "aria-labelledby": "cautions-title" }, h("h2", { id: "cautions-title" }, t("pruning.cautions")),
		h("ul", { class: "sentences" }, ...["figures", "law", "work"].map((key) => h("li", {}, t(`pruning.caution_${key}`)))));
}
