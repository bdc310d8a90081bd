// One vine: where it stands, what every season says of it, all that was ever
// recorded, and a form to record more.

import { ApiError } from "../lib/api.js";
import { lookAt, record, vineInHand } from "./acts.js";
import { className, why } from "./app.js";
import { BASES } from "../lib/model.js";
import { button, h, icon, show } from "./dom.js";
import { history } from "./history.js";
import { mountRecordForm } from "./recordform.js";
import { seasonTable } from "./seasontable.js";
import { mountVineGap } from "./vinegap.js";
import { mountVinePlan } from "./vineplan.js";
import { zoneLine } from "./zonerates.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/model.js").Vine} Vine
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountVinePanel(app, place) {
	/** @type {Vine | null} */
	let vine = null;
	/** @type {AbortController | null} */
	let running = null;
	let trouble = "";
	/** Another vine is on its way; it arrives by whichever reading comes through. */
	let coming = false;
	/** The vine's block: when that changes, the vine is read again. */
	let block = 0;
	const form = mountRecordForm(app, { vine: () => vine });
	const plan = mountVinePlan(app, { vine: () => vine });
	const gap = mountVineGap(app, { vine: () => vine });

	const read = async (/** @type {boolean} */ fresh) => {
		const id = app.view.get().vine;
		running?.abort();
		if (id === null) {
			vine = null;
			return;
		}
		const mine = (running = new AbortController());
		coming ||= fresh;
		if (fresh) draw();
		try {
			const got = await app.api.vine(id, mine.signal);
			if (mine.signal.aborted) return;
			vine = got;
			block = got.block.id;
			trouble = "";
			if (coming) arrived(app, got);
			coming = false;
			void plan.read();
			void gap.read();
		} catch (error) {
			if (mine.signal.aborted) return;
			trouble = error instanceof ApiError && error.status === 404 ? app.t("vine.gone") : app.t("vine.failed", { why: why(error) });
		}
		draw();
	};

	const draw = () => {
		const id = app.view.get().vine;
		place.hidden = id === null;
		document.documentElement.dataset.vine = id === null ? "" : vine?.id === id ? "shown" : "loading";
		if (id === null) return show(place);
		const current = vine?.id === id ? vine : null;
		show(place, () => [head(app, current), trouble ? h("p", { class: "trouble" }, trouble, button(app.t("app.try_again"), () => void read(true))) : null,
			current ? body(app, current, form.element, plan.element, gap.element) : trouble ? null : h("p", { class: "state" }, app.t("vine.loading"))]);
	};

	app.view.on((now, old) => {
		if (now.vine !== old.vine) {
			trouble = "";
			form.reset();
			plan.reset();
			gap.reset();
			void read(true);
		} else if (now.season !== old.season) {
			draw();
			void plan.read();
			void gap.read();
		} else if (now.theme !== old.theme) void gap.read();
		if (now.vine === null && old.vine !== null) draw();
	});
	app.blocks.on((now, old) => {
		const revision = (/** @type {import("../lib/model.js").Block[]} */ list) => list.find((b) => b.id === block)?.revision;
		if (vine && now.season === old.season && revision(now.list) !== revision(old.list)) void read(false);
	});
	app.stands.on(({ stand, fresh }) => {
		if (!fresh || !vine || stand.block !== block) return;
		draw();
		void gap.read();
	});
	app.zones.on(() => vine && draw());
	let waiting = "";
	app.outbox.on(({ entries }) => {
		const now = entries.map((e) => e.event.id + (e.refused ?? "")).join();
		if (now === waiting) return;
		waiting = now;
		if (vine) draw();
	});
	draw();
	void read(true);
}

/** The map shifts so that the vine stays in sight beside the panel. @param {App} app @param {Vine} vine */
function arrived(app, vine) {
	const { block } = app.view.get();
	if (block !== null && block !== vine.block.id) app.view.set({ block: vine.block.id, row: null });
	requestAnimationFrame(() => app.camera.bringIntoView(vine.lon, vine.lat));
	app.announce(app.t("vine.title", { address: vine.address }));
}

/** @param {App} app @param {Vine | null} vine */
function head(app, vine) {
	const { t } = app;
	const hand = vineInHand(app);
	const step = (/** @type {-1 | 1} */ by) => {
		const id = by < 0 ? vine?.previous : vine?.next;
		if (id) lookAt(app, id);
		else if (hand && !vine) lookAt(app, hand.stand.id[hand.index + by] ?? null);
	};
	return h("div", { class: "vine-head" },
		h("h2", { tabindex: "-1", data: { key: "title" } }, vine ? t("vine.title", { address: vine.address }) : t("vine.loading")),
		button(t("vine.previous"), () => step(-1), { icon: icon("M15 4l-8 8 8 8z"), data: { key: "previous" }, "aria-disabled": vine && !vine.previous ? "true" : null }),
		button(t("vine.next"), () => step(1), { icon: icon("M9 4l8 8-8 8z"), data: { key: "next" }, "aria-disabled": vine && !vine.next ? "true" : null }),
		button(t("vine.close"), () => lookAt(app, null), { icon: icon("M5 6.4L6.4 5 12 10.6 17.6 5 19 6.4 13.4 12 19 17.6 17.6 19 12 13.4 6.4 19 5 17.6 10.6 12z"), data: { key: "close" }, id: "vine-close" }));
}

/** @param {App} app @param {Vine} vine @param {HTMLElement} form @param {HTMLElement} plan @param {HTMLElement} gap */
function body(app, vine, form, plan, gap) {
	const { t } = app;
	const season = vine.seasons.find((s) => s.season === app.view.get().season);
	const old = (vine.old_labels ?? []).map((l) => l.label).join(", ");
	const lines = [
		vine.tag && t("vine.tag", { tag: vine.tag }),
		t("vine.chainage", { length: app.units.text("spacing", vine.chainage_m) }),
		old && t("vine.formerly", { labels: old }),
		season && season.leaf > 0 && t("vine.leaf", { n: season.leaf }),
	];
	return h("div", { class: "vine-body" },
		h("p", { class: "vine-line" }, lines.filter(Boolean).join(" · ")),
		plants(app, vine),
		found(app),
		zoneLine(app, vine),
		gap,
		plan,
		clashes(app, vine),
		form,
		h("h3", {}, t("vine.seasons")),
		seasonTable(app, vine),
		h("h3", {}, t("vine.history")),
		history(app, vine));
}

/** What was worked out for the vine in the season shown: where its vigour is from, its change, its patch. @param {App} app */
function found(app) {
	const { t, legends } = app;
	const hand = vineInHand(app);
	if (!hand?.stand.found) return null;
	const { stand, index } = hand;
	const basis = stand.basis[index];
	const parts = [];
	if (basis) parts.push(t("vine.basis", { class: nameOf(app, "vigour", stand.vigour[index]), basis: t(`basis.${BASES[basis]}`) }));
	if (basis > 1 && legends.doubt) parts.push(nameOf(app, "doubt", stand.doubt[index]));
	for (const [theme, code] of /** @type {const} */ ([["change", stand.change[index]], ["patches", stand.patch[index]]])) if (code && legends[theme]) parts.push(nameOf(app, theme, code));
	const { patch } = app.view.get();
	return parts.length ? h("p", { class: "vine-line vine-found" }, parts.join(" · "),
		patch !== null && stand.patch[index] > 1 ? button(t("vine.to_patch"), () => app.view.set({ vine: null }), { class: "link", data: { key: "to-patch" } }) : null) : null;
}

/** @param {App} app @param {import("../lib/model.js").Theme} theme @param {number} code */
function nameOf(app, theme, code) {
	const cls = app.legends[theme].classes.find((c) => c.code === code);
	return cls ? className(app, theme, cls) : "";
}

/** Records that a layer is cut from its mother; how it stands stays as it was seen. @param {App} app @param {Vine} vine */
async function sever(app, vine) {
	const { season } = app.view.get();
	const seen = vine.seasons.find((s) => s.season === season)?.condition;
	const condition = seen && !["unseen", "dead", "missing", "replanted", "doubtful"].includes(seen) ? seen : "young";
	await record(app, [{ block: vine.block.id, row: vine.row.id, vines: [vine.id] }], season, { kind: "condition", value: { condition, severed: true } }, "vine.severed_now");
}

/** @param {App} app @param {Vine} vine */
function plants(app, vine) {
	const list = vine.plantings ?? [];
	if (!list.length) return null;
	const text = (/** @type {NonNullable<Vine["plantings"]>[number]} */ p) => {
		const season = p.from ? String(p.from) : "?";
		const parts = [p.to ? app.t("vine.plant_until", { season, until: String(p.to) }) : app.t("vine.plant", { season })];
		const layer = p.mother && [app.t("vine.layer", { mother: p.mother_address ?? String(p.mother) }), p.severed ? app.t("vine.severed", { season: String(p.severed) }) : p.to ? "" : app.t("vine.not_severed")];
		return [...parts, ...(layer || []), p.clone, p.rootstock, p.batch, p.grade && app.t("places.grade", { grade: p.grade }), p.why].filter(Boolean).join(", ");
	};
	const present = list[list.length - 1];
	const fed = present.mother && !present.severed && !present.to && present.from < app.view.get().season;
	return h("div", { class: "vine-line", id: "vine-plants" }, h("p", {}, h("strong", {}, app.t("vine.plants")), ": ", list.map(text).join("; ")), fed ? button(app.t("vine.sever"), () => void sever(app, vine), { data: { key: "sever" } }) : null);
}

/** @param {App} app @param {Vine} vine */
function clashes(app, vine) {
	const { t } = app;
	const all = vine.seasons.flatMap((s) => (s.clashes ?? []).map((c) => ({ ...c, season: s.season })));
	if (!all.length) return null;
	const by = new Map(vine.events.map((e) => [e.id, e]));
	const text = (/** @type {string} */ id) => {
		const e = by.get(id);
		return e ? `${valueText(app, e)} (${e.by || e.device})` : id;
	};
	return h("div", { class: "clashes" }, h("h3", {}, t("vine.clashes")),
		h("ul", {}, ...all.map((c) => h("li", {}, t("vine.clash", { what: `${c.season}, ${fieldText(app, c.field)}`, values: `${text(c.kept)} / ${text(c.disputed)}` })))),
		h("p", {}, t("vine.clash_settle")));
}

/** @param {App} app @param {string} field of the fold: condition, pruned, measure:…, work:… */
function fieldText(app, field) {
	const [kind, what] = field.split(":");
	if (kind === "measure" && app.t.has(`quantity.${what}`)) return app.t(`quantity.${what}`);
	if (kind === "work" && what === "pruning") return app.t("record.kind_work");
	return app.t.has(`record.kind_${kind}`) ? app.t(`record.kind_${kind}`) : field;
}

/** @param {App} app @param {import("../lib/model.js").LoggedEvent} e */
function valueText(app, e) {
	if (e.kind === "condition") return app.t(`condition.${e.value.condition}`);
	if (e.kind === "work") return app.t(`progress.${e.value.progress}`);
	if (e.kind === "measure") return `${e.value.value ?? ""} ${e.value.unit}`;
	return e.value.nodes !== undefined ? app.t("vine.nodes", { n: e.value.nodes }) : app.t("event.pruned");
}
