// Reads what a part of the page shows, and says in words how far that is:
// loading, failed with a way to try again.

import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";

/**
 * A place that is filled with an answer of the server. Nothing is drawn anew that
 * is the same as before.
 * @template A
 * @param {import("../map/app.js").App} app
 * @param {HTMLElement} place
 * @param {{ask: (signal: AbortSignal) => Promise<A>, draw: (answer: A) => (HTMLElement | null)[], loading: string, typing?: () => boolean}} parts typing: somebody writes in a form there, which news must not take away
 */
export function reading(app, place, { ask, draw, loading, typing = () => false }) {
	const { dataset } = document.documentElement;
	/** @type {AbortController | null} */
	let running = null;
	let shown = "";
	const read = async (/** @type {boolean} */ fresh, news = false) => {
		running?.abort();
		const mine = (running = new AbortController());
		if (fresh) {
			shown = ""; // also where another reading overtakes this one: what it brings is not on the page
			dataset.work = "loading";
			show(place, h("p", { class: "state", role: "status" }, loading));
		}
		try {
			const answer = await ask(mine.signal);
			if (mine.signal.aborted) return;
			const now = JSON.stringify(answer);
			if (news && typing()) return;
			if (fresh || now !== shown) show(place, ...draw(answer));
			shown = now;
			dataset.work = "ready";
		} catch (error) {
			if (mine.signal.aborted) return;
			shown = "";
			dataset.work = "failed";
			show(place, failure(app, error, () => void read(true)));
		}
	};
	return {
		read,
		/** Something is new at the server. */
		news: () => void (typing() || read(false, true)),
		stop: () => running?.abort(),
	};
}

/** What went wrong, with a way to try again. @param {import("../map/app.js").App} app @param {unknown} error @param {() => void} again */
export function failure(app, error, again) {
	return h("div", { class: "trouble", role: "alert" }, h("p", {}, troubleText(app, error)), button(app.t("app.try_again"), again, { data: { key: "again" } }));
}

/** @param {import("../map/app.js").App} app @param {unknown} error */
export function troubleText(app, error) {
	return app.t(error instanceof ApiError && !error.passing ? "work.refused" : "work.failed", { why: why(error) });
}
