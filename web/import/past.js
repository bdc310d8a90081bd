// What was imported before, and taking one of it back: first what that would do, or
// what was built on it; then, said once more, it is done.

import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";

/**
 * @typedef {import("./main.js").Import} Import
 * @typedef {import("./api.js").Taken} Taken
 * @typedef {import("./api.js").UndoReport} UndoReport
 */

const SHOWN = 10;

/** @param {Import} page @param {HTMLElement} place */
export function mountPast(page, place) {
	const { t, api, announce } = page;
	const body = h("div", { id: "past" });
	place.append(h("h2", {}, t("import.past")), body);
	/** @type {{list: Taken[], trouble: string, all: boolean, open: string, report: UndoReport | null, busy: boolean, wrong: string}} */
	const own = { list: [], trouble: "", all: false, open: "", report: null, busy: false, wrong: "" };

	const load = async () => {
		try {
			own.list = await api.done();
			own.trouble = "";
		} catch (error) {
			own.trouble = why(error);
		}
		draw();
	};
	/** @param {Taken} i @param {boolean} really */
	const undo = async (i, really) => {
		Object.assign(own, { open: i.id, report: really ? own.report : null, busy: true, wrong: "" });
		draw();
		try {
			const report = await api.undo(i.id, really);
			own.report = report;
			if (really && !report.refused) {
				own.open = "";
				own.list = own.list.map((x) => (x.id === i.id ? report.import : x));
				announce(t("import.said_undone", { files: names(t, i) }));
			} else announce(t(report.refused ? "import.said_undo_refused" : "import.said_undo_asked"));
		} catch (error) {
			own.wrong = why(error);
		}
		own.busy = false;
		draw();
	};
	const close = () => {
		Object.assign(own, { open: "", report: null, wrong: "" });
		draw();
	};
	/** @param {Taken} i */
	const item = (i) => h("li", { data: { import: i.id } },
		h("p", {}, h("strong", {}, names(t, i)), ` · ${when(i.made)}${i.by ? ` · ${i.by}` : ""}`),
		h("p", {}, brought(t, i) || t("import.brought_nothing")),
		i.undone ? h("p", { class: "state" }, t(i.undone.by ? "import.undone_by" : "import.undone", { day: when(i.undone.at), by: i.undone.by ?? "" }))
			: own.open === i.id ? answer(i) : button(t("import.undo"), () => void undo(i, false), { "aria-label": t("import.undo_of", { files: names(t, i) }), data: { key: `undo-${i.id}` } }));
	/** @param {Taken} i */
	const answer = (i) => {
		const r = own.report;
		if (own.wrong) return h("div", {}, h("p", { class: "trouble", role: "alert" }, t("import.failed", { why: own.wrong })), button(t("import.undo_close"), close));
		if (!r) return h("p", { class: "state" }, t("import.undo_looking"));
		if (r.refused) return h("div", { class: "import-asked" }, h("p", { class: "trouble" }, t("import.undo_refused")), h("ul", {}, ...r.built.map((b) => h("li", {}, `${b.what}: ${b.why}${b.at ? ` (${[when(b.at), b.by].filter(Boolean).join(", ")})` : ""}`)), r.more_built ? h("li", {}, t("import.more_of", { n: r.more_built })) : null), button(t("import.undo_close"), close, { data: { key: `undo-${i.id}` } }));
		const yes = button(t("import.undo_do"), () => void undo(i, true), { data: { key: `undo-${i.id}` }, class: "danger" });
		yes.disabled = own.busy;
		return h("div", { class: "import-asked" }, h("p", {}, t("import.undo_would")), h("ul", {}, ...would(t, r).map((x) => h("li", {}, x))), h("div", { class: "import-acts" }, yes, button(t("import.undo_keep"), close)));
	};
	const draw = () => {
		place.hidden = !own.list.length && !own.trouble;
		const list = own.all ? own.list : own.list.slice(0, SHOWN);
		document.documentElement.dataset.past = own.busy ? "asking" : own.open ? "asked" : "ready";
		show(body, own.trouble ? h("p", { class: "trouble" }, t("import.failed", { why: own.trouble })) : null,
			h("ul", { class: "import-past" }, ...list.map(item)),
			list.length < own.list.length ? button(t("import.past_all", { n: own.list.length }), () => {
				own.all = true;
				draw();
			}) : null);
	};
	void load();
	let taken = false;
	return () => {
		const now = page.state.busy === "taken";
		if (now && !taken) void load();
		taken = now;
	};
}

/** A moment, in the reader's own time. @param {string} time */
const when = (time) => new Intl.DateTimeFormat("en", { dateStyle: "medium", timeStyle: "short" }).format(new Date(time));

/** @param {import("../lib/text.js").Texts} t @param {Taken} i */
function names(t, i) {
	const files = i.files ?? [];
	return files.length > 3 ? t("import.files_more", { first: files.slice(0, 2).join(", "), n: files.length - 2 }) : files.join(", ");
}

/** What an import brought, in a line. @param {import("../lib/text.js").Texts} t @param {Taken} i */
export function brought(t, i) {
	const parts = [];
	for (const kind of /** @type {const} */ (["blocks", "rows", "vines"])) {
		if (i[kind].made) parts.push(t(`import.new_${kind}`, { n: i[kind].made }));
		if (i[kind].changed) parts.push(t(`import.changed_${kind}`, { n: i[kind].changed }));
	}
	for (const r of i.records ?? []) if (r.made) parts.push(t("import.brought_records", { what: r.what.replaceAll("_", " "), n: r.made }));
	if (i.plan_vines) parts.push(t("import.brought_plan", { n: i.plan_vines }));
	if (i.points) parts.push(t("import.points", { n: i.points }));
	return parts.join(", ");
}

/** What taking back would do, line by line. @param {import("../lib/text.js").Texts} t @param {UndoReport} r */
export function would(t, r) {
	const lines = [];
	for (const kind of /** @type {const} */ (["blocks", "rows", "vines"])) {
		if (r[kind].gone) lines.push(t(`import.go_${kind}`, { n: r[kind].gone }));
		if (r[kind].back) lines.push(t(`import.return_${kind}`, { n: r[kind].back }));
	}
	if (r.records) lines.push(t("import.would_void", { n: r.records }));
	if (r.restored) lines.push(t("import.would_restore", { n: r.restored }));
	if (r.plans) lines.push(t("import.would_plan", { n: r.plans }));
	if (r.surveys) lines.push(t("import.would_survey", { n: r.surveys }));
	return lines.concat(r.notes);
}
