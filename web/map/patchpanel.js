// One patch: its figures, and a way to its vines. A patch that was tested and an
// area that is only likely weak are worded apart.

import { blockOf, why } from "./app.js";
import { button, h, icon, show } from "./dom.js";
import { reportPath } from "./foundwords.js";
import { likelyFacts, patchFacts, shareText, testedText } from "./patchfacts.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/findings.js").BlockFindings} BlockFindings
 */

/** The patch looked at, taken apart. @param {App} app */
export function patchInHand(app) {
	const { patch } = app.view.get();
	if (patch === null) return null;
	const dot = patch.indexOf(".");
	return { block: Number(patch.slice(0, dot)), id: patch.slice(dot + 1) };
}

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountPatchPanel(app, place) {
	let trouble = "";
	let asked = "";
	let arrived = "";
	const draw = () => {
		const { vine, season } = app.view.get();
		const hand = patchInHand(app);
		place.hidden = hand === null || vine !== null;
		if (place.hidden || !hand) return show(place);
		const found = app.findings.peek(hand.block, season);
		const wanted = `${hand.block}/${season}/${app.findings.summary(hand.block, season)?.found ?? ""}`;
		if (!found && asked !== wanted) {
			asked = wanted;
			void load(hand.block, season);
		}
		const body = found ? bodyOf(app, found, hand.id) : [h("p", { class: trouble ? "trouble" : "state" }, trouble || app.t("patch.loading"))];
		show(place, head(app, found, hand), h("div", { class: "vine-body" }, ...body));
		const { tested, likely } = pick(found, hand.id);
		const at = (tested ?? likely)?.center;
		if (!at || arrived === hand.id) return;
		arrived = hand.id;
		requestAnimationFrame(() => app.camera.bringIntoView(at[0], at[1]));
		app.announce(place.querySelector("h2")?.textContent ?? "");
	};
	const load = async (/** @type {number} */ block, /** @type {number} */ season) => {
		trouble = "";
		try {
			await app.findings.load(block, season);
		} catch (error) {
			trouble = app.t("patch.failed", { why: why(error) });
		}
		draw();
	};
	app.view.on((now, old) => {
		if (now.patch !== old.patch) arrived = "";
		if (now.patch !== old.patch || now.vine !== old.vine || now.season !== old.season) draw();
	});
	app.findings.on(draw);
	app.blocks.on(draw);
	draw();
}

/** @param {BlockFindings | undefined} found @param {string} id */
function pick(found, id) {
	return {
		tested: found?.patches?.list.find((p) => String(p.id) === id),
		likely: found?.likely?.list.find((p) => String(p.id) === id),
	};
}

/** @param {App} app @param {BlockFindings | undefined} found @param {{block: number, id: string}} hand */
function head(app, found, hand) {
	const { t } = app;
	const { tested, likely } = pick(found, hand.id);
	const code = blockOf(app, hand.block)?.code ?? "";
	const kind = tested ? tested.kind : likely ? "likely" : null;
	const title = kind ? t(`patch.title_${kind}`, { code, n: (tested ?? likely)?.vines ?? 0 }) : t("patch.title", { code });
	return h("div", { class: "vine-head" }, h("h2", { tabindex: "-1", data: { key: "patch-title" } }, title),
		button(t("vine.close"), () => app.view.set({ patch: null }), { icon: icon("M5 6.4L6.4 5 12 10.6 17.6 5 19 6.4 13.4 12 19 17.6 17.6 19 12 13.4 6.4 19 5 17.6 10.6 12z"), data: { key: "patch-close" }, id: "patch-close" }));
}

/** @param {App} app @param {BlockFindings} found @param {string} id */
function bodyOf(app, found, id) {
	const { t } = app;
	const { tested, likely } = pick(found, id);
	const area = tested ?? likely;
	if (!area) return [h("p", { class: "state" }, t("patch.gone"))];
	const facts = tested ? patchFacts(app, tested, found.patches?.unit ?? "") : likely ? likelyFacts(app, likely) : [];
	return [
		h("p", {}, tested
			? t(`patch.how_${tested.kind}`, { label: found.patches?.label ?? "", rate: shareText(app, found.patches?.rate ?? 0) })
			: t("patch.how_likely", { limit: testedText(app, "kg/m", found.likely?.limit_kg_m), level: shareText(app, found.likely?.level ?? 0) })),
		h("dl", { class: "facts" }, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])),
		h("div", { class: "acts" },
			button(t("block.fit"), () => app.camera.fit(area.bounds), { data: { key: "patch-fit" } }),
			h("a", { class: "button", href: reportPath(found, found.season) }, t("block.report"))),
		h("p", { class: "hint" }, t("patch.caution")),
	];
}
