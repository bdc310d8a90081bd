// What a vine is to be left with this winter: one line in large letters, the
// reasons when they are asked for, and a way to decide otherwise.

import { why } from "./app.js";
import { armWord, faceWord } from "./armwords.js";
import { button, h, show } from "./dom.js";
import { drawingOf } from "./drawing.js";
import { pruningPath } from "./foundwords.js";
import { overrideForm } from "./overrideform.js";
import { renewalForm } from "./renewalform.js";
import { woodForm } from "./woodform.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Vine} Vine
 * @typedef {import("../lib/pruning.js").VinePlan} VinePlan
 */

/**
 * @param {App} app
 * @param {{vine: () => Vine | null}} of
 */
export function mountVinePlan(app, { vine }) {
	const { t } = app;
	const element = h("div", { class: "vine-plan" });
	/** @type {AbortController | null} */
	let running = null;
	/** @type {VinePlan | null} */
	let got = null;
	let trouble = "";
	let open = false;
	/** The form that is open; kept as it is, so that news do not take away what was typed. @type {HTMLElement | null} */
	let form = null;

	/** Says on the page how far it is. @param {"loading" | "ready" | "failed"} word */
	const state = (word) => void (element.dataset.state = word);
	const read = async () => {
		const one = vine();
		running?.abort();
		if (!one) return;
		state("loading");
		const mine = (running = new AbortController());
		const { season } = app.view.get();
		if (got && (got.vine !== one.id || got.season !== season)) got = null;
		draw();
		try {
			const answer = await app.api.vinePlan(one.id, season, mine.signal);
			if (mine.signal.aborted) return;
			[got, trouble] = [answer, ""];
			state("ready");
		} catch (error) {
			if (mine.signal.aborted) return;
			trouble = t("vineplan.failed", { why: why(error) });
			state("failed");
		}
		draw();
	};
	const draw = () => {
		const one = vine();
		if (!one) return show(element);
		const season = one.seasons.find((s) => s.season === app.view.get().season);
		show(element, ...lines(app, season, got), got?.override ? h("p", { class: "vine-line" }, t("override.by_whom", { who: got.override.by || t("pruning.nobody"), reason: got.override.reason })) : null,
			whyPart(), form);
	};
	const decide = (/** @type {Vine} */ one) => overrideForm(app, "vine-load", t("override.title_vine", { address: one.address }), {
		blocks: [{ block: one.block.id, vines: [one.id] }], before: got?.override ?? null,
		close,
	});
	const renew = (/** @type {Vine} */ one) => renewalForm(app, one.id, one.address, got?.renewal_plans ?? [], close);
	const wood = (/** @type {Vine} */ one) => woodForm(app, { id: one.id, address: one.address, arms: (got?.arms ?? []).map((a) => a.name), canes: plannedCanes(one) }, () => close(false));
	const plannedCanes = (/** @type {Vine} */ one) => one.seasons.find((s) => s.season === app.view.get().season)?.plan?.canes ?? 1;
	/** @param {boolean} done */
	function close(done) {
		form = null;
		if (done) void read();
		else draw();
	}
	const start = (/** @type {(one: Vine) => HTMLElement} */ make, /** @type {string} */ first) => {
		const one = vine();
		if (!one) return;
		form = make(one);
		draw();
		document.getElementById(first)?.focus();
	};
	const whyPart = () => {
		const body = open ? reasons() : [];
		const details = h("details", { class: "why", data: { key: "why-part" } }, h("summary", { data: { key: "why" } }, t("vineplan.why")), h("div", { class: "why-body" }, ...body));
		details.open = open;
		details.addEventListener("toggle", () => {
			if (details.open === open) return;
			open = details.open;
			if (open && !got) void read();
			else draw();
		});
		return details;
	};
	const reasons = () => {
		if (trouble) return [h("p", { class: "trouble" }, trouble, button(t("app.try_again"), () => void read()))];
		if (!got) return [h("p", { class: "state" }, t("vineplan.loading"))];
		const one = /** @type {Vine} */ (vine());
		return [...whyParts(app, got), h("div", { class: "acts" },
			button(t("override.open"), () => start(decide, "vine-load-nodes"), { data: { key: "decide" } }),
			button(t("wood.open"), () => start(wood, "wood0-name"), { data: { key: "wood" } }),
			button(t("renewal.open"), () => start(renew, "renewal0-arm"), { data: { key: "renew" } }),
			h("a", { class: "button", href: pruningPath(one.block, got.season) }, t("vineplan.to_page")))];
	};
	return {
		element, read,
		/** Another vine. */
		reset() {
			got = null;
			trouble = "";
			form = null;
		},
	};
}

/** The plan in large letters. @param {App} app @param {import("../lib/model.js").VineSeason | undefined} season @param {VinePlan | null} got */
function lines(app, season, got) {
	const { t } = app;
	const kept = got?.planned?.text ?? (season?.plan ? totals(app, season.plan) : "");
	if (!kept && !got?.line) return [h("p", { class: "vine-line" }, t("vineplan.none"))];
	const title = kept ? t("vine.plan", { season: String(season?.season ?? got?.season) }) : `${t("vineplan.none")} ${t("vineplan.now")}`;
	return [h("p", { class: "plan-line" }, h("span", { class: "plan-title" }, title), h("strong", { class: "plan-large" }, kept || got?.line)),
		season?.plan?.reason ? h("p", { class: "vine-line" }, season.plan.reason) : null,
		kept && got?.line && got.planned && got.line !== kept ? h("p", { class: "vine-line" }, t("vineplan.differs", { line: got.line })) : null];
}

/** @param {App} app @param {NonNullable<import("../lib/model.js").VineSeason["plan"]>} plan */
function totals(app, { nodes, canes, spurs }) {
	const { t } = app;
	return [nodes !== undefined && t("vine.nodes", { n: nodes }), canes !== undefined && t("vine.canes", { n: canes }), spurs !== undefined && t("vine.spurs", { n: spurs })].filter(Boolean).join(", ");
}

/** @param {App} app @param {VinePlan} plan */
function whyParts(app, plan) {
	const { t } = app;
	const drawing = drawingOf(plan.drawing);
	const list = (/** @type {string} */ title, /** @type {import("./dom.js").Child[]} */ items, kind = "ul") => (items.length ? [h("h4", {}, title), h(/** @type {"ul"} */ (kind), { class: "why-list" }, ...items)] : []);
	const text = (/** @type {string[] | null | undefined} */ lines) => (lines ?? []).map((line) => h("li", {}, line));
	return [
		...list(t("vineplan.steps"), (plan.steps ?? []).map((s) => h("li", { data: { step: s.key } }, s.text, h("span", { class: "source" }, t("vineplan.source", { source: s.source })))), "ol"),
		...list(t("vineplan.follow"), (plan.follow_ups ?? []).map((f) => h("li", {}, `${f.text} `, h("span", { class: "source" }, t.has(`when.${f.when}`) ? t(`when.${f.when}`) : f.when)))),
		drawing ? h("figure", { class: "drawing" }, h("figcaption", {}, t("vineplan.drawing")), drawing) : null,
		...list(t("vineplan.arms"), (plan.arms ?? []).map((a) => arm(app, a))),
		...list(t("vineplan.renewals"), (plan.renewals ?? []).map((r) => h("li", {}, `${r.season}: ${r.text}`))),
		...list(t("vineplan.rule"), text(plan.rule)),
		...list(t("vineplan.cautions"), text(plan.cautions)),
	];
}

/** How the sap runs to an arm, and how far its head has climbed. @param {App} app @param {NonNullable<VinePlan["arms"]>[number]} a */
function arm(app, a) {
	const { t, units } = app;
	const parts = [t("vineplan.path", { path: t.has(`path.${a.path}`) ? t(`path.${a.path}`) : a.path }), t("vineplan.climb", { mm: units.text("diameter", a.climb_mm) })];
	for (const c of a.cuts ?? []) parts.push(c.diameter_mm && c.season ? t("vineplan.cut", { diameter: units.text("diameter", c.diameter_mm), face: faceWord(app, c.face), season: String(c.season) }) : t("vineplan.cut_plain", { face: faceWord(app, c.face) }));
	const text = [a.text, ...(a.expect ?? [])].filter(Boolean).join(" ");
	return h("li", { data: { arm: a.name } }, h("strong", {}, armWord(app, a.name)), `: ${parts.join("; ")}. ${text}`);
}
