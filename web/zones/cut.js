// The first part of the page: what a block is cut from and what each zone gets,
// with what comes of it while somebody changes it.

import { ApiError } from "../lib/api.js";
import { Previewer } from "../lib/previewer.js";
import { createSignal } from "../lib/signal.js";
import { cutOnly, firstOrder, resumed, withValue, wished } from "../lib/zones.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { failure } from "../pruning/reading.js";
import { cutFields } from "./cutform.js";
import { blame } from "./field.js";
import { filesSection } from "./files.js";
import { indicesSection } from "./indices.js";
import { keepForm } from "./keep.js";
import { materialOf, mountRateForm } from "./rateform.js";
import { cautionsSection, checkSection, ratesSection } from "./ratesview.js";
import { remedyLine } from "./remedy.js";
import { cutFacts, mapSection, notes, sentence, stableSection, sureSection } from "./view.js";

/**
 * @typedef {import("../lib/zones.js").Order} Order
 * @typedef {import("../lib/zones.js").View} View
 * @typedef {import("../lib/previewer.js").Previewed<Order, View>} Previewed
 */

/**
 * @param {import("./main.js").ZonesPage} page
 * @param {HTMLElement} place
 * @returns {import("./page.js").Part}
 */
export function mountCut(page, place) {
	const { app, about, ask } = page;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const ended = new AbortController();
	let stop = () => {};
	let again = () => {};
	const open = async () => {
		dataset.zones = "loading";
		show(place, h("p", { class: "state", role: "status" }, app.t("zones.loading")));
		try {
			const [list, materials] = await Promise.all([ask.list(block, season, ended.signal), ask.materials(ended.signal)]);
			if (ended.signal.aborted) return;
			const built = build(page, place, list, materials);
			[stop, again] = [built.stop, built.again];
		} catch (error) {
			if (ended.signal.aborted) return;
			dataset.zones = "failed";
			const unknown = error instanceof ApiError && error.status === 404;
			show(place, unknown ? h("p", { class: "trouble", role: "alert" }, app.t("report.no_block", { block })) : failure(app, error, () => void open()));
		}
	};
	void open();
	return {
		reload: () => again(),
		stop() {
			ended.abort();
			stop();
		},
	};
}

/**
 * @param {import("./main.js").ZonesPage} page
 * @param {HTMLElement} place
 * @param {import("../lib/zones.js").ZonesList} list
 * @param {import("../lib/zones.js").Materials} materials
 */
function build(page, place, list, materials) {
	const { app, about, ask } = page;
	const { t } = app;
	const { block, season } = about.get();
	const { dataset } = document.documentElement;
	const first = firstOrder(list);
	const order = createSignal({ now: page.begin.order ? resumed(page.begin.order, first) : first });
	page.begin.order = null;
	const draft = { get: () => order.get().now, set: (/** @type {string} */ path, /** @type {any} */ value) => order.set({ now: withValue(order.get().now, path, value) }) };
	/** @type {import("./field.js").Fields} */
	const fields = new Map();
	const parts = Object.fromEntries(["bar", "remedy", "map", "rates", "indices", "sure", "years", "check", "files", "keep", "cautions"].map((name) => [name, h("div", { data: { part: name } })]));
	parts.bar.className = "says-bar";
	parts.bar.id = "preview";
	const form = h("div", { class: "groups" });
	const rateForm = mountRateForm(app, draft, fields, materials, { keepOwn: () => void keepOwn() });
	const drawForm = () => show(form, ...cutFields(app, draft, fields, list));

	const cutting = new Previewer({
		ask: (/** @type {Order} */ wish, signal) => ask.make(block, season, cutOnly(wish), signal),
		onChange: (/** @type {Previewed} */ now) => {
			dataset.cut = now.state;
			drawBar();
			if (now.state === "failed") blameFor(now.error);
			if (now.state !== "ready" || !now.good) return;
			blame(fields, "", "");
			rateForm.zones(now.good.zones.length);
			drawZones(now.good);
			rate(true);
		},
	});
	const rating = new Previewer({
		ask: (/** @type {Order} */ wish, signal) => ask.make(block, season, wish, signal),
		onChange: (/** @type {Previewed} */ now) => {
			dataset.rates = now.state;
			drawBar();
			if (now.state === "failed") blameFor(now.error);
			if (now.state !== "ready" || !now.good) return;
			blame(fields, "", "");
			drawRates(now.good);
		},
	});
	const blameFor = (/** @type {unknown} */ error) => {
		if (error instanceof ApiError && !error.passing) blame(fields, error.field ?? "", why(error));
	};
	/** What is missing before rates can be worked out; empty: nothing. */
	const missing = () => {
		const { rates } = draft.get();
		if (!rates?.material) return "zones.choose_material";
		if (!rates.aim) return "zones.choose_aim";
		return "";
	};
	const rate = (/** @type {boolean} */ atOnce) => {
		const zones = cutting.now.good;
		if (!zones || cutting.now.state !== "ready") return;
		if (missing()) {
			rating.stop();
			rating.now = { state: "none", good: null, of: null, error: null };
			dataset.rates = "none";
			drawBar();
			return drawRates(zones);
		}
		rating.want(wished(draft.get(), zones.zones.length), atOnce);
	};

	const drawBar = () => {
		const zones = cutting.now.good;
		const good = (missing() ? null : rating.now.good) ?? zones;
		const failed = cutting.now.state === "failed" ? cutting.now.error : rating.now.state === "failed" ? rating.now.error : null;
		const busy = cutting.now.state === "asking" || rating.now.state === "asking";
		const passing = failed !== null && (!(failed instanceof ApiError) || failed.passing);
		parts.bar.classList.toggle("dim", busy);
		show(parts.bar, good ? h("p", { class: "says", id: "says" }, sentence(app, good)) : null,
			failed ? h("p", { class: "trouble", role: "alert" }, t(passing ? "zones.preview_failed" : "zones.preview_refused", { why: why(failed) }), good ? ` ${t("pruning.last_good")}` : "")
				: h("p", { class: "hint", id: "preview-state", role: "status" }, t(busy ? "zones.working" : missing() || "zones.up_to_date")),
			passing ? button(t("app.try_again"), () => cutting.want(draft.get(), true), { data: { key: "preview-again" } }) : null);
	};
	const drawZones = (/** @type {View} */ view) => {
		show(parts.remedy, remedyLine(app, view.remedy, (cut) => {
			draft.set("zones", { ...draft.get().zones, ...cut });
			drawForm();
		}));
		show(parts.indices, indicesSection(app, view.advice, draft.get().zones.zones, (n) => {
			draft.set("zones.zones", n);
			drawForm();
		}));
		show(parts.sure, sureSection(app, view));
		show(parts.years, stableSection(app, view));
	};
	const drawRates = (/** @type {View} */ view) => {
		show(parts.map, mapSection(app, view), h("div", { class: "part" }, cutFacts(app, view)));
		show(parts.rates, view.rates ? ratesSection(app, view.rates) : null);
		show(parts.check, view.rates ? checkSection(app, view.rates) : null);
		show(parts.files, view.rates ? filesSection(app, (form) => ask.file(block, season, wished(draft.get(), view.zones.length), form)) : null);
		show(parts.cautions, cautionsSection(app, view.rates?.cautions ?? []));
	};
	const keepOwn = async () => {
		const own = draft.get().rates?.own;
		if (!own) return;
		try {
			const next = await ask.saveMaterials(app.by.get(), [...materials.own.filter((m) => m.name !== own.name.trim()), own]);
			materials.own = next.own;
			rateForm.redraw();
			toast(app, t("zones.own_kept", { name: own.name }));
		} catch (error) {
			if (!(error instanceof ApiError && blame(fields, error.field ?? "", why(error)))) toast(app, t("zones.not_kept", { why: why(error) }), { trouble: true });
		}
	};
	order.on(({ now }, { now: before }) => {
		const cut = (/** @type {Order} */ o) => JSON.stringify([o.columns, o.zones]);
		if (cut(now) !== cut(before)) cutting.want(now);
		else rate(false);
	});
	const sound = () => {
		const wrong = [...fields.values()].find((f) => f.wrong);
		wrong?.control.closest("details")?.setAttribute("open", "");
		wrong?.control.focus();
		return !wrong;
	};
	drawForm();
	show(parts.keep, keepForm(page, {
		sound: () => sound() && cutting.now.state === "ready" && (missing() !== "" || rating.now.state === "ready"),
		order: () => wished(missing() ? cutOnly(draft.get()) : draft.get(), cutting.now.good?.zones.length ?? 0),
		kept: (id) => about.set({ part: "kept", open: id, compared: null }),
	}));
	show(place, heading(app, list), list.layers.length ? null : empty(app, list),
		...(list.layers.length ? [parts.bar, h("div", { class: "plan-split" },
			h("section", { class: "part standards no-print", id: "order", "aria-labelledby": "order-title" }, h("h2", { id: "order-title" }, t("zones.order")), form, rateForm.place),
			h("div", { class: "plan-main" }, parts.remedy, parts.map, parts.rates, parts.indices, parts.sure, parts.years, parts.check, parts.files, parts.keep, parts.cautions))] : []));
	dataset.zones = list.layers.length ? "ready" : "none";
	if (list.layers.length) cutting.want(draft.get(), true);
	app.announce(t("zones.ready", { code: list.code, season: String(season) }));
	return {
		again: () => list.layers.length && cutting.want(draft.get()),
		stop() {
			cutting.stop();
			rating.stop();
		},
	};
}

/** @param {import("../map/app.js").App} app @param {import("../lib/zones.js").ZonesList} list */
function heading(app, list) {
	const { t } = app;
	return h("section", { class: "part", id: "state", "aria-labelledby": "zones-title" },
		h("h1", { id: "zones-title" }, t("zones.title", { code: list.code, season: String(list.season) })),
		h("p", { class: "hint no-print" }, t("zones.intro", { n: list.versions.length })));
}

/** Nothing was measured: what to do first. @param {import("../map/app.js").App} app @param {import("../lib/zones.js").ZonesList} list */
function empty(app, list) {
	return h("div", { class: "state" }, notes([app.t("zones.no_layers"), app.t("zones.no_layers_do", { code: list.code })]));
}
