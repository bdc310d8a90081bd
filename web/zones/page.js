// The page as a whole: one part of it at a time.

import { h, show } from "../map/dom.js";
import { openForPrint } from "../report/page.js";
import { mountCut } from "./cut.js";
import { mountKept } from "./kept.js";

/** @typedef {{reload: () => void, stop: () => void}} Part */

/** @type {Record<import("../lib/zonehash.js").ZonesPart, (page: import("./main.js").ZonesPage, place: HTMLElement) => Part>} */
const PARTS = { cut: mountCut, kept: mountKept };

/** @param {import("./main.js").ZonesPage} page @param {HTMLElement} place */
export function mountPage(page, place) {
	/** @type {Part | null} */
	let part = null;
	const draw = () => {
		part?.stop();
		const body = h("div", { class: "plan-body" });
		show(place, body);
		part = PARTS[page.about.get().part](page, body);
	};
	page.about.on((now, old) => {
		if (now.block !== old.block || now.season !== old.season || now.part !== old.part) draw();
	});
	openForPrint(place);
	draw();
	return { reload: () => part?.reload() };
}
