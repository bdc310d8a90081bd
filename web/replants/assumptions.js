// Every assumption of the sums, with its range, its source and its year, and the
// settings that go with them. A change is previewed; it is kept only when somebody
// says so, for the block or for the whole estate.

import { at, withAt } from "../lib/standards.js";
import { readNumber } from "../lib/units.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { toast } from "../map/toast.js";
import { tableOf } from "../report/section.js";
import { saveReplants } from "./save.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").ReplantSettings} ReplantSettings
 */

/** The assumptions in the order in which they are shown. */
export const MONEY = ["price", "harvest_cost", "full_yield", "tending", "rest", "replace_vine", "plant_block", "pull_block", "discount_rate", "kg_per_hl", "compensation", "yearly_loss", "replant_survival", "block_survival", "first_crop_leaf", "full_leaf_block", "full_leaf_replant", "rest_years"];

/** Other settings: path, least, most, whole numbers only, and what the number shown is multiplied with. @type {[string, number, number, boolean, number][]} */
const OTHERS = [
	["fill_over_years", 1, 30, true, 1], ["horizon_years", 1, 100, true, 1], ["life.pull_season", 0, 2200, true, 1], ["life.leaves", 1, 200, true, 1],
	["limits.normal_yearly", 0, 1, false, 100], ["limits.too_many_yearly", 0, 1, false, 100], ["limits.too_many", 0, 1, false, 100], ["limits.leafroll", 0, 1, false, 100], ["limits.red_blotch", 0, 1, false, 100], ["limits.appellation", 0, 1, false, 100], ["limits.permitted_hl_ha", 0, 500, false, 1], ["find.suspect_from", 0.25, 1, false, 1],
];

/**
 * @param {App} app
 * @param {Replants} answer
 * @param {HTMLElement} place
 * @param {{block: string, change: () => void, saved: () => void}} acts
 */
export function mountAssumptions(app, answer, place, { block, change, saved }) {
	const { t } = app;
	const first = answer.settings;
	let now = first;
	const wrong = new Set();
	const foot = h("div", { class: "form-foot" });
	const blamed = h("p", { class: "fault", id: "assumptions-fault", role: "alert" });
	const changed = () => JSON.stringify(now) !== JSON.stringify(first);
	const set = (/** @type {string} */ path, /** @type {any} */ value) => {
		now = withAt(now, path, value);
		drawFoot();
		change();
	};
	/** A field for a number; what cannot be meant is told at once and changes nothing. @param {string} path @param {string} label @param {{least: number, most: number, whole?: boolean, by?: number, then?: () => void}} parts */
	const numberField = (path, label, { least, most, whole = false, by = 1, then }) => {
		const id = `set-${path.replaceAll(".", "-")}`;
		const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
		const input = h("input", { id, class: "short", inputmode: whole ? "numeric" : "decimal", autocomplete: "off", "aria-label": label, "aria-describedby": fault.id, on: { input: () => {
			const n = readNumber(input.value);
			const bad = n === null || (whole && !Number.isInteger(n)) || n / by < least - 1e-9 || n / by > most + 1e-9;
			fault.textContent = bad ? t(most < 1e12 ? "record.wrong_range" : "assume.wrong_low", { from: String(least * by), to: String(most * by) }) : "";
			input.setAttribute("aria-invalid", String(bad));
			if (bad) wrong.add(path);
			else wrong.delete(path);
			if (bad || n === null) return;
			then?.();
			set(path, Number((n / by).toPrecision(12)));
		} } });
		input.value = String(Number((Number(at(now, path) ?? 0) * by).toPrecision(6)));
		return h("div", {}, input, fault);
	};
	const money = () => {
		const rows = MONEY.map((key) => {
			const of = (/** @type {string} */ what) => t("assume.of", { what, name: t(`money.${key}`) });
			const source = h("input", { class: "source-field", maxlength: "200", "aria-label": of(t("assume.source")), data: { key: `source-${key}` }, on: { input: () => set(`money.${key}.source`, source.value.trim()) } });
			source.value = now.money[key].source;
			// Another value is not that source's any more.
			const own = () => {
				if (source.value !== first.money[key].source || source.value === t("assume.own")) return;
				source.value = t("assume.own");
				now = withAt(now, `money.${key}.source`, source.value);
			};
			const field = (/** @type {string} */ part) => numberField(`money.${key}.${part}`, of(t(`assume.${part}`)), { least: 0, most: 1e12, then: part === "value" ? own : undefined });
			return h("tr", {}, h("th", { scope: "row" }, t(`money.${key}`), h("span", { class: "unit" }, ` ${now.money[key].unit}`)), h("td", {}, field("value")), h("td", {}, field("low")), h("td", {}, field("high")), h("td", {}, source),
				h("td", {}, numberField(`money.${key}.year`, of(t("assume.year")), { least: 0, most: 2200, whole: true })));
		});
		return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": t("assume.caption") }, h("table", { class: "lines assumptions" }, h("caption", {}, t("assume.caption")),
			h("thead", {}, h("tr", {}, ...[t("sensitive.assumption"), t("assume.value"), t("assume.low"), t("assume.high"), t("assume.source"), t("assume.year")].map((text) => h("th", { scope: "col" }, text)))), h("tbody", {}, ...rows)));
	};
	const others = () => OTHERS.map(([path, least, most, whole, by]) => {
		const key = path.replaceAll(".", "_");
		const figure = answer.figures.find((f) => `${f.part}.${f.key}` === path);
		return h("div", { class: "set" }, h("label", { for: `set-${path.replaceAll(".", "-")}` }, t(`assume.set_${key}`)), numberField(path, t(`assume.set_${key}`), { least, most, whole, by }), figure ? h("p", { class: "hint" }, figure.source) : null);
	});
	const keepUp = () => {
		const box = h("input", { type: "checkbox", id: "set-keep_up", on: { change: () => set("keep_up", box.checked) } });
		box.checked = now.keep_up;
		return h("div", { class: "set" }, h("label", { class: "check", for: "set-keep_up" }, box, t("assume.set_keep_up")));
	};
	const currency = () => {
		const input = h("input", { id: "set-currency", class: "short", maxlength: "8", on: { input: () => input.value.trim() && set("money.currency", input.value.trim()) } });
		input.value = now.money.currency;
		return h("div", { class: "set" }, h("label", { for: "set-currency" }, t("assume.currency")), input);
	};
	const keep = async (/** @type {"block" | "estate"} */ whose) => {
		if (wrong.size) return document.getElementById(`set-${[...wrong][0].replaceAll(".", "-")}`)?.focus();
		try {
			await saveReplants(app, whose === "block" ? block : null, now);
			toast(app, t("standards.saved"));
			saved();
		} catch (error) {
			toast(app, t("standards.not_saved", { why: why(error) }), { trouble: true });
		}
	};
	const drawFoot = () => {
		const by = h("input", { id: "assume-by", autocomplete: "name", maxlength: "80", data: { key: "assume-by" }, on: { input: () => app.by.set(by.value.trim()) } });
		by.value = app.by.get();
		show(foot, blamed, ...(changed() ? [h("p", { class: "alert" }, t("standards.changed")), h("div", { class: "set" }, h("label", { for: "assume-by" }, t("pruning.who")), by),
			h("div", { class: "acts" }, button(t("standards.save_block"), () => void keep("block"), { class: "main", data: { key: "save-block" } }), button(t("standards.save_estate"), () => void keep("estate"), { data: { key: "save-estate" } }), button(t("standards.undo"), undo, { data: { key: "undo" } }))] : []));
	};
	const fields = h("div", { class: "group-body" });
	const drawFields = () => show(fields, money(), h("div", { class: "settings-grid" }, ...others(), currency(), keepUp()));
	function undo() {
		now = first;
		wrong.clear();
		drawFields();
		drawFoot();
		change();
	}
	drawFields();
	drawFoot();
	show(place, h("section", { class: "part no-print", id: "assumptions", "aria-labelledby": "assumptions-title" }, h("h2", { id: "assumptions-title" }, t("assume.title")), h("p", {}, t("assume.hint")), fields, foot));
	return {
		/** @returns {ReplantSettings} */
		wish: () => now,
		/** @param {string} text */
		blame: (text) => (blamed.textContent = text),
	};
}

/** The assumptions that sums rest on as a plain table, for paper. @param {App} app @param {Replants} answer */
export function assumptionsOnPaper(app, answer) {
	const { t } = app;
	const { money } = answer.settings;
	const number = (/** @type {number} */ n) => t.number(n, 3);
	const rest = OTHERS.map(([path, , , , by]) => [t(`assume.set_${path.replaceAll(".", "_")}`), number(Number(at(answer.settings, path) ?? 0) * by), answer.figures.find((f) => `${f.part}.${f.key}` === path)?.source ?? ""]);
	return h("div", { class: "print-only", id: "assumed" },
		tableOf(t("assume.caption"), [t("sensitive.assumption"), `${t("assume.value")}#`, `${t("assume.low")}#`, `${t("assume.high")}#`, t("assume.source"), `${t("assume.year")}#`],
			MONEY.map((key) => [`${t(`money.${key}`)}, ${money[key].unit}`, number(money[key].value), number(money[key].low), number(money[key].high), money[key].source, money[key].year ? String(money[key].year) : t("value.none")])),
		tableOf(t("assume.settings"), [t("sensitive.assumption"), `${t("assume.value")}#`, t("assume.source")], rest));
}
