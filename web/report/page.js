// The report as a whole: reads the findings, shows each part, and reads again when
// they change.

import { underWay } from "../lib/findings.js";
import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { changeSection } from "./change.js";
import { filesSection } from "./files.js";
import { histogramSection } from "./histogram.js";
import { notesSection } from "./notes.js";
import { likelySection, patchesSection } from "./patches.js";
import { seasonsSection } from "./seasons.js";
import { stateSection } from "./state.js";
import { unlikelySection } from "./unlikely.js";

/** @typedef {import("../lib/findings.js").BlockFindings} BlockFindings */

/** How often figures under way are asked about. */
const AGAIN_MS = 1_500;

/**
 * @param {import("./main.js").Report} report
 * @param {HTMLElement} place
 */
export function mountReport(report, place) {
	const { app, about } = report;
	/** @type {AbortController | null} */
	let running = null;
	let timer = 0;
	let shown = "";
	/** Somebody waits for the report, by whichever reading it comes. */
	let awaited = false;
	const { dataset } = document.documentElement;

	const read = async (/** @type {boolean} */ fresh) => {
		const { block, season, since, part } = about.get();
		clearTimeout(timer);
		running?.abort(); // also where the list to weigh is wanted now: the report must not come over it
		if (part !== "report") return;
		const mine = (running = new AbortController());
		if (fresh) {
			awaited = true;
			shown = ""; // also where another reading overtakes this one: what it brings is not on the page
			dataset.report = "loading";
			show(place, h("p", { class: "state", role: "status" }, app.t("report.loading")));
		}
		try {
			const found = await app.api.blockFindings(block, season, since, mine.signal);
			if (mine.signal.aborted) return;
			draw(found, fresh);
			if (underWay(found.state)) timer = window.setTimeout(() => void read(false), AGAIN_MS);
		} catch (error) {
			if (mine.signal.aborted) return;
			shown = "";
			dataset.report = "failed";
			const text = error instanceof ApiError && error.status === 404 ? app.t("report.no_block", { block }) : app.t("report.failed", { why: why(error) });
			show(place, h("p", { class: "trouble", role: "alert" }, text, button(app.t("app.try_again"), () => void read(true))));
		}
	};

	/** Nothing is drawn anew that is the same as before: nobody loses their place. */
	const draw = (/** @type {BlockFindings} */ found, /** @type {boolean} */ fresh) => {
		const now = JSON.stringify(found);
		dataset.report = found.state;
		if (!fresh && now === shown) return;
		shown = now;
		if (!fresh) app.findings.forget(found.block);
		const block = app.blocks.get().list.find((b) => b.id === found.block);
		const open = [...place.querySelectorAll("details[open]")].map((d) => d.closest("section")?.id);
		show(place, stateSection(app, found, block),
			notesSection(app, found.vigour),
			found.vigour ? histogramSection(app, found.vigour) : null,
			patchesSection(app, found), likelySection(app, found),
			changeSection(report, found), seasonsSection(app, found),
			unlikelySection(app, found), filesSection(app, found));
		for (const id of open) place.querySelector(`#${CSS.escape(id ?? "none")} details`)?.setAttribute("open", "");
		if (awaited) app.announce(app.t("report.ready", { code: found.code, season: String(found.season) }));
		awaited = false;
	};

	about.on(() => void read(true));
	addEventListener("report-changed", () => void read(false));
	openForPrint(place);
	void read(true);
	return { reload: () => void read(false) };
}

/** On paper nothing can be unfolded: all tables are open while printing. @param {HTMLElement} place */
export function openForPrint(place) {
	/** @type {Element[]} */
	let opened = [];
	addEventListener("beforeprint", () => {
		opened = [...place.querySelectorAll("details:not([open])")];
		for (const d of opened) d.setAttribute("open", "");
	});
	addEventListener("afterprint", () => {
		for (const d of opened) d.removeAttribute("open");
	});
}
