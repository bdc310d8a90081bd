// What is known of a gap: what is taken to stand there, how far its replacement has
// come, and why. Asked for only where there is something to tell.

import { wordKey } from "../lib/replants.js";
import { dueText, saidList } from "../replants/sources.js";
import { vineInHand } from "./acts.js";
import { blockOf, why } from "./app.js";
import { button, h, show } from "./dom.js";
import { replantsPath } from "./foundwords.js";

/**
 * @param {import("./app.js").App} app
 * @param {{vine: () => import("../lib/model.js").Vine | null}} of
 */
export function mountVineGap(app, { vine }) {
	const { t } = app;
	const element = h("div", { class: "vine-gap" });
	/** @type {AbortController | null} */
	let running = null;
	/** @type {import("../lib/replants.js").VineReplant | null} */
	let got = null;
	let trouble = "";

	/** Where the theme asks for it, or the map shows a gap or a step. */
	const wanted = () => {
		const hand = vineInHand(app);
		return app.view.get().theme === "replants" || (hand !== null && hand.stand.replant[hand.index] > 0);
	};
	const read = async () => {
		const one = vine();
		running?.abort();
		if (!one || !wanted()) {
			got = null;
			return draw();
		}
		const mine = (running = new AbortController());
		const { season } = app.view.get();
		if (got && (got.vine !== one.id || got.season !== season)) got = null;
		draw();
		try {
			const answer = await app.api.vineReplant(one.id, season, mine.signal);
			if (mine.signal.aborted) return;
			[got, trouble] = [answer, ""];
		} catch (error) {
			if (mine.signal.aborted) return;
			trouble = t("vinegap.failed", { why: why(error) });
		}
		draw();
	};
	const draw = () => {
		const one = vine();
		if (!one || !wanted()) return show(element);
		show(element, h("h3", {}, t("vinegap.title")), trouble ? h("p", { class: "trouble" }, trouble, button(t("app.try_again"), () => void read())) : null, ...(got ? facts(got, one.block.id) : trouble ? [] : [h("p", { class: "state" }, t("vinegap.loading"))]));
	};
	const facts = (/** @type {import("../lib/replants.js").VineReplant} */ g, /** @type {number} */ block) => {
		const state = t(`gaps.state_${wordKey(g.stands)}`);
		const { place } = g;
		const known = blockOf(app, block);
		return [
			h("p", { class: "vine-line", id: "vine-stands" }, g.look_again ? t("vinegap.look", { state, due: dueText(app, g.look_again, g.today, g.season) }) : t("vinegap.stands", { state })),
			saidList(app, g.said),
			place ? h("p", { class: "vine-line", id: "vine-step" }, [t("vinegap.step", { step: t(`step.${wordKey(place.stage)}`), day: place.since }), place.batch && t("vinegap.batch", { batch: place.batch }), place.grade && t("places.grade", { grade: place.grade }), place.by, place.note].filter(Boolean).join(" · ")) : null,
			g.why ? h("p", { class: "vine-line", id: "vine-reason" }, g.why) : null,
			h("details", { class: "why", data: { key: "gap-why" } }, h("summary", {}, t("vinegap.why")), h("ul", { class: "sentences" }, ...g.reasons.map((text) => h("li", {}, text)))),
			known ? h("p", {}, h("a", { class: "button", href: replantsPath(known, g.season, "&show=places") }, t("block.replants"))) : null,
		];
	};
	return {
		element, read,
		/** Another vine. */
		reset() {
			got = null;
			trouble = "";
		},
	};
}
