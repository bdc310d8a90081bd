// The page as a whole: one part of it at a time, read from one answer of the
// server, and its cautions at the foot.

import { h, show } from "../map/dom.js";
import { reading } from "../pruning/reading.js";
import { openForPrint } from "../report/page.js";
import { mountCompare } from "./compare.js";
import { mountGaps } from "./gaps.js";
import { mountOrder } from "./order.js";
import { mountPlaces } from "./places.js";
import { mountReview } from "./review.js";

/**
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {object} Part
 * @property {(answer: Replants) => (HTMLElement | null)[]} draw from a new answer of the server; what somebody chose stays
 * @property {() => void} [stop]
 */

/** @type {Record<import("../lib/replants.js").ReplantPart, (page: import("./main.js").ReplantsPage, reload: () => void) => Part>} */
const PARTS = { gaps: mountGaps, review: mountReview, compare: mountCompare, places: mountPlaces, order: mountOrder };

/**
 * @param {import("./main.js").ReplantsPage} page
 * @param {HTMLElement} place
 */
export function mountPage(page, place) {
	const { app, about } = page;
	const { t } = app;
	/** @type {{read: (fresh: boolean) => Promise<void>, stop: () => void} | null} */
	let data = null;
	/** @type {Part | null} */
	let part = null;
	const draw = () => {
		data?.stop();
		part?.stop?.();
		const { block, season, part: name } = about.get();
		const body = h("div", { class: "plan-body" });
		const cautions = h("div", { class: "plan-body cautions-place" });
		show(place, body, cautions);
		const mine = (part = PARTS[name](page, () => void data?.read(false)));
		data = reading(app, body, {
			ask: (signal) => app.api.replants(block, season, signal),
			draw: (answer) => {
				show(cautions, cautionList(app, answer));
				return [h("section", { class: "part", "aria-labelledby": "replants-title" }, h("h1", { id: "replants-title" }, t(`replants.heading_${name}`, { code: answer.code, season: String(answer.season) }))), ...mine.draw(answer)];
			},
			none: () => h("p", { class: "trouble", role: "alert" }, t("report.no_block", { block })),
			loading: "replants.loading", mark: "replants",
		});
		void data.read(true);
	};
	about.on((now, old) => {
		if (now.block !== old.block || now.season !== old.season || now.part !== old.part) draw();
	});
	openForPrint(place);
	draw();
	return { reload: () => void data?.read(false) };
}

/** @param {import("../map/app.js").App} app @param {Replants} answer */
function cautionList(app, answer) {
	return h("section", { class: "part cautions", "aria-labelledby": "cautions-title" }, h("h2", { id: "cautions-title" }, app.t("replants.cautions")),
		h("ul", { class: "sentences" }, ...answer.cautions.map((text) => h("li", {}, text))));
}
