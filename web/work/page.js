// Shows the part of the page that is chosen, and begins it anew when season or
// operation change.

import { h, show } from "../map/dom.js";
import { openForPrint } from "../report/page.js";
import { mountChecks } from "./checks.js";
import { mountCrews } from "./crews.js";
import { mountNew } from "./neworders.js";
import { mountOrders } from "./orders.js";
import { mountProgress } from "./progress.js";
import { mountSheet } from "./typein.js";

/** @typedef {{reload: () => void, stop: () => void}} Part */

/** @type {Record<import("./hash.js").WorkPart, (work: import("./main.js").Work, place: HTMLElement) => Part>} */
const MOUNTS = { progress: mountProgress, orders: mountOrders, new: mountNew, crews: mountCrews, checks: mountChecks, sheet: mountSheet };

/**
 * @param {import("./main.js").Work} work
 * @param {HTMLElement} place
 */
export function mountPage(work, place) {
	const { about } = work;
	/** @type {Part | null} */
	let part = null;
	const draw = () => {
		part?.stop();
		document.documentElement.dataset.work = "loading";
		const body = h("div", { class: "work-body" });
		show(place, body);
		part = MOUNTS[about.get().part](work, body);
	};
	about.on(draw);
	openForPrint(place);
	draw();
	return { reload: () => part?.reload() };
}
