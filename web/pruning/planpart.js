// The first part of the page: what counts for the block, what comes of it while
// somebody changes it, and the versions that were kept.

import { ApiError } from "../lib/api.js";
import { createDraft } from "../lib/draft.js";
import { Previewer } from "../lib/previewer.js";
import { fieldOf } from "../lib/standards.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { dayText } from "../map/history.js";
import { mountCompare } from "./compare.js";
import { mountForm } from "./form.js";
import { makeForm } from "./make.js";
import { overrideList } from "./overridelist.js";
import { failure } from "./reading.js";
import { sumView } from "./sumview.js";
import { versionsSection } from "./versions.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/pruning.js").Plan} Plan
 * @typedef {import("../lib/draft.js").Draft} Draft
 */

/**
 * @param {import("./main.js").Pruning} pruning
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountPlanPart(pruning, place) {
	const { app, about } = pruning;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	let ended = new AbortController();
	/** @type {Previewer<any, any> | null} */
	let previewer = null;
	let reread = () => {};
	const open = async () => {
		ended.abort();
		ended = new AbortController();
		const { signal } = ended;
		dataset.pruning = "loading";
		show(place, h("p", { class: "state", role: "status" }, app.t("pruning.loading")));
		try {
			const [settled, estate, plan] = await Promise.all([app.api.standards(block, signal), app.api.standards(null, signal), app.api.plan(block, season, signal)]);
			if (signal.aborted) return;
			build(createDraft(settled, estate.standards, plan), plan);
		} catch (error) {
			if (signal.aborted) return;
			dataset.pruning = "failed";
			const unknown = error instanceof ApiError && error.status === 404;
			show(place, unknown ? h("p", { class: "trouble", role: "alert" }, app.t("report.no_block", { block })) : failure(app, error, () => void open()));
		}
	};

	const build = (/** @type {Draft} */ draft, /** @type {Plan} */ first) => {
		const state = h("div", {});
		const preview = h("section", { class: "part preview", id: "preview", "aria-labelledby": "preview-title" });
		const versions = h("div", {});
		const side = h("div", { class: "plan-side" });
		const form = mountForm(app, draft, side, { saved: () => void open() });
		const compare = mountCompare(pruning);
		const ask = (/** @type {boolean} */ atOnce) => previewer?.want(draft.wish(), atOnce);
		previewer = new Previewer({
			ask: (wish, signal) => app.api.previewPlan(block, season, draft.changed() ? wish.standards : null, wish.options, signal),
			onChange: (now) => {
				dataset.preview = now.state;
				drawPreview(app, preview, now, () => ask(true));
				const refused = now.state === "failed" && now.error instanceof ApiError && !now.error.passing ? now.error : null;
				if (now.state !== "asking") form.blame(refused ? fieldOf(refused.field, refused.message) : "", refused ? why(refused) : "");
			},
		});
		const drawPlan = (/** @type {Plan} */ plan) => {
			show(state, ...head(app, plan));
			show(versions, makeForm(app, draft, form, { block, season, made: () => void reread() }), overrideList(app, plan), versionsSection(app, plan, compare), compare.place);
			compare.follow(plan);
		};
		reread = async () => {
			try {
				const plan = await app.api.plan(block, season, ended.signal);
				drawPlan(plan);
				ask(true);
			} catch {
				// What is shown stays; the line says that the server is away.
			}
		};
		draft.on(() => ask(false));
		drawPlan(first);
		show(place, state, h("div", { class: "plan-split" }, h("div", { class: "plan-main" }, preview, versions), side));
		dataset.pruning = "ready";
		ask(true);
		app.announce(app.t("pruning.ready", { code: first.code, season: String(season) }));
	};
	void open();
	return {
		reload: () => void reread(),
		stop() {
			ended.abort();
			previewer?.stop();
		},
	};
}

/** What the block is, and whether there is a plan. @param {App} app @param {Plan} plan */
function head(app, plan) {
	const { t } = app;
	const version = plan.plan;
	return [h("section", { class: "part", id: "state", "aria-labelledby": "plan-title" },
		h("h1", { id: "plan-title" }, t("pruning.heading", { code: plan.code, season: String(plan.season) })),
		version
			? h("p", {}, t("pruning.planned", { day: dayText(app, version.made), who: version.by || t("pruning.nobody") }), " ", h("span", { class: plan.fresh ? null : "alert" }, t(plan.fresh ? "pruning.fresh" : "pruning.stale")))
			: h("p", { class: "state" }, t("pruning.none_yet")),
		plan.unclear ? h("p", { class: "warning" }, t("standards.unclear", { why: plan.unclear })) : null,
		...notes(app, plan.notes))];
}

/** @param {App} app @param {string[] | null | undefined} list */
function notes(app, list) {
	return list?.length ? [h("ul", { class: "sentences" }, ...list.map((text) => h("li", {}, text)))] : [];
}

/** @param {App} app @param {HTMLElement} place @param {import("../lib/previewer.js").Previewed<any, import("../lib/pruning.js").Preview>} now @param {() => void} again */
function drawPreview(app, place, { state, good, error }, again) {
	const { t } = app;
	const opened = [...place.querySelectorAll("details[open]")].map((d) => d.closest("[id]")?.id);
	const line = state === "asking" ? t("pruning.working") : state === "failed" ? "" : t("pruning.up_to_date");
	const passing = !(error instanceof ApiError) || error.passing;
	show(place, h("h2", { id: "preview-title" }, t("pruning.preview")),
		h("p", { class: "hint", id: "preview-state", role: "status" }, line),
		state === "failed" ? h("div", { class: "trouble", role: "alert" }, h("p", {}, t(passing ? "pruning.preview_failed" : "pruning.preview_refused", { why: why(error) }), good ? ` ${t("pruning.last_good")}` : ""), passing ? button(t("app.try_again"), again, { data: { key: "preview-again" } }) : null) : null,
		...(good?.notes?.length ? notes(app, good.notes) : []),
		...(good?.sum ? sumView(app, good.sum) : []));
	place.classList.toggle("dim", state === "asking" && good !== null);
	for (const id of opened) if (id) place.querySelector(`#${CSS.escape(id)} details`)?.setAttribute("open", "");
}
