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
import { mountRenewals } from "./renewals.js";
import { sentence, sumView } from "./sumview.js";
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
	/** Of several readings the last one counts. */
	let turn = 0;
	const open = async () => {
		ended.abort();
		ended = new AbortController();
		const { signal } = ended;
		dataset.pruning = "loading";
		show(place, h("p", { class: "state", role: "status" }, app.t("pruning.loading")));
		try {
			const [settled, estate, plan] = await Promise.all([app.api.standards(block, signal), app.api.standards(null, signal), app.api.plan(block, season, signal)]);
			if (signal.aborted) return;
			build(createDraft(settled, estate.standards, plan, app.blocks.get().list.find((b) => b.id === settled.block)?.system), plan);
		} catch (error) {
			if (signal.aborted) return;
			dataset.pruning = "failed";
			const unknown = error instanceof ApiError && error.status === 404;
			show(place, unknown ? h("p", { class: "trouble", role: "alert" }, app.t("report.no_block", { block })) : failure(app, error, () => void open()));
		}
	};

	const build = (/** @type {Draft} */ draft, /** @type {Plan} */ first) => {
		const state = h("div", {});
		const bar = h("section", { class: "says-bar", id: "preview", "aria-label": app.t("pruning.in_short") });
		const details = h("section", { class: "part", id: "details", "aria-labelledby": "preview-title" });
		const due = h("div", {});
		const renewals = mountRenewals(pruning, due);
		const versions = h("div", {});
		const side = h("div", { class: "plan-side" });
		const form = mountForm(app, draft, side, { saved: () => void open() });
		const compare = mountCompare(pruning);
		const ask = (/** @type {boolean} */ atOnce) => previewer?.want(draft.wish(), atOnce);
		previewer = new Previewer({
			ask: (wish, signal) => app.api.previewPlan(block, season, draft.changed() ? wish.standards : null, wish.options, signal),
			onChange: (now) => {
				dataset.preview = now.state;
				drawPreview(app, bar, details, now, () => ask(true));
				const refused = now.state === "failed" && now.error instanceof ApiError && !now.error.passing ? now.error : null;
				if (now.state !== "asking") form.blame(refused ? fieldOf(refused.field, refused.message) : "", refused ? why(refused) : "");
			},
		});
		const make = makeForm(app, draft, form, { block, season, made: () => void reread() });
		const drawPlan = (/** @type {Plan} */ plan) => {
			show(state, ...head(app, plan));
			show(versions, overrideList(app, plan), versionsSection(app, plan, compare), compare.place);
			compare.follow(plan);
		};
		reread = async () => {
			const mine = ++turn;
			try {
				const plan = await app.api.plan(block, season, ended.signal);
				if (mine !== turn) return;
				drawPlan(plan);
				ask(true);
				void renewals.read(false);
			} catch {
				// What is shown stays; the line says that the server is away.
			}
		};
		draft.on(() => ask(false));
		drawPlan(first);
		show(place, state, bar, h("div", { class: "plan-split" }, side, h("div", { class: "plan-main" }, make, details, due, versions)));
		void renewals.read(true);
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
			: h("p", { class: "state" }, t("pruning.none_yet")))];
}

/** @param {string[] | null | undefined} list */
function notes(list) {
	return list?.length ? [h("ul", { class: "sentences" }, ...list.map((text) => h("li", {}, text)))] : [];
}

/**
 * The sentence stays in sight while somebody types; the rest stands below it.
 * @param {App} app
 * @param {HTMLElement} bar
 * @param {HTMLElement} details
 * @param {import("../lib/previewer.js").Previewed<any, import("../lib/pruning.js").Preview>} now
 * @param {() => void} again
 */
function drawPreview(app, bar, details, { state, good, error }, again) {
	const { t } = app;
	const passing = !(error instanceof ApiError) || error.passing;
	const trouble = state === "failed" ? h("p", { class: "trouble", role: "alert" }, t(passing ? "pruning.preview_failed" : "pruning.preview_refused", { why: why(error) }), good ? ` ${t("pruning.last_good")}` : "") : null;
	show(bar, good?.sum ? h("p", { class: "says", id: "says" }, sentence(app, good.sum)) : null,
		trouble ?? h("p", { class: "hint", id: "preview-state", role: "status" }, t(state === "asking" ? "pruning.working" : "pruning.up_to_date")),
		trouble && passing ? button(t("app.try_again"), again, { data: { key: "preview-again" } }) : null);
	bar.classList.toggle("dim", state === "asking" && good !== null);
	if (state !== "ready" || !good) return;
	const opened = [...details.querySelectorAll("details[open]")].map((d) => d.closest("[id]")?.id);
	show(details, h("h2", { id: "preview-title" }, t("pruning.preview")), ...notes(good.notes), ...(good.sum ? sumView(app, good.sum) : []));
	for (const id of opened) if (id) details.querySelector(`#${CSS.escape(id)} details`)?.setAttribute("open", "");
}
