// Reads what a part of the page shows, and says in words how far that is:
// loading, nothing planned yet, failed with a way to try again.

import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";

/**
 * A place that is filled with an answer of the server.
 * @template A
 * @param {import("../map/app.js").App} app
 * @param {HTMLElement} place
 * @param {{ask: (signal: AbortSignal) => Promise<A>, draw: (answer: A) => (HTMLElement | null)[], none?: () => HTMLElement, loading?: string, mark?: string}} parts none: what is shown where the server has nothing of the kind; mark: the page's own mark that tests wait for
 */
export function reading(app, place, { ask, draw, none, loading = "pruning.loading", mark = "pruning" }) {
	const { dataset } = document.documentElement;
	/** @type {AbortController | null} */
	let running = null;
	let shown = "";
	const read = async (/** @type {boolean} */ fresh) => {
		running?.abort();
		const mine = (running = new AbortController());
		if (fresh) {
			shown = ""; // also where another reading overtakes this one: what it brings is not on the page
			dataset[mark] = "loading";
			show(place, h("p", { class: "state", role: "status" }, app.t(loading)));
		}
		try {
			const answer = await ask(mine.signal);
			if (mine.signal.aborted) return;
			const now = JSON.stringify(answer);
			if (fresh || now !== shown) show(place, ...draw(answer));
			shown = now;
			dataset[mark] = "ready";
		} catch (error) {
			if (mine.signal.aborted) return;
			shown = "";
			if (none && error instanceof ApiError && error.status === 404) {
				dataset[mark] = "none";
				return show(place, none());
			}
			dataset[mark] = "failed";
			show(place, failure(app, error, () => void read(true)));
		}
	};
	return {
		read,
		stop: () => running?.abort(),
	};
}

/** What went wrong, with a way to try again. @param {import("../map/app.js").App} app @param {unknown} error @param {() => void} again */
export function failure(app, error, again) {
	const refused = error instanceof ApiError && !error.passing;
	return h("div", { class: "trouble", role: "alert" }, h("p", {}, app.t(refused ? "pruning.refused" : "pruning.failed", { why: why(error) })), button(app.t("app.try_again"), again, { data: { key: "again" } }));
}

/** Says that there is no plan yet, or no such block. @param {import("../map/app.js").App} app @param {import("./main.js").AboutSignal} about */
export function noPlan(app, about) {
	const { block, season } = about.get();
	const known = app.blocks.get().list.some((b) => b.code === block || String(b.id) === block);
	if (!known) return h("p", { class: "trouble", role: "alert" }, app.t("report.no_block", { block }));
	return h("div", { class: "state" }, h("p", {}, app.t("pruning.no_plan", { season: String(season) })), button(app.t("pruning.to_plan"), () => about.set({ part: "plan" }), { data: { key: "to-plan" } }));
}
