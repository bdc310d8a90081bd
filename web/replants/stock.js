// Plants in hand, and how many to order for a place: settings of the estate or the
// block, kept when somebody says so.

import { withAt } from "../lib/standards.js";
import { readNumber } from "../lib/units.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { toast } from "../map/toast.js";
import { saveReplants } from "./save.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/replants.js").Replants} Replants
 * @typedef {import("../lib/replants.js").ReplantSettings} ReplantSettings
 */

/** Path, least, most, whole, and what the number shown is multiplied with. @type {[string, number, number, boolean, number][]} */
const FIELDS = [["survival", 0.01, 1, false, 100], ["spare", 0, 10, false, 100], ["stakes_per_plant", 0, 100, false, 1], ["guards_per_plant", 0, 100, false, 1], ["drippers_per_plant", 0, 100, false, 1], ["lead_months", 0, 60, true, 1], ["potted_lead_months", 0, 60, true, 1], ["warn_days", 0, 1000, true, 1]];

/** @param {App} app @param {{block: string, saved: () => void}} parts */
export function mountStock(app, { block, saved }) {
	const { t } = app;
	const place = h("div", {});
	const foot = h("div", { class: "form-foot" });
	/** @type {Replants | null} */
	let answer = null;
	/** @type {ReplantSettings | null} */
	let now = null;
	const wrong = new Set();
	const changed = () => JSON.stringify(now) !== JSON.stringify(answer?.settings);
	const set = (/** @type {string} */ path, /** @type {any} */ value) => {
		now = withAt(/** @type {ReplantSettings} */ (now), path, value);
		drawFoot();
	};
	const keep = async (/** @type {boolean} */ estate) => {
		if (!answer || !now) return;
		if (wrong.size) return document.getElementById([...wrong][0])?.focus();
		try {
			await saveReplants(app, estate ? null : block, now);
			toast(app, t("standards.saved"));
			answer = null;
			saved();
		} catch (error) {
			toast(app, t("standards.not_saved", { why: why(error) }), { trouble: true });
		}
	};
	const drawFoot = () => {
		const by = h("input", { id: "stock-by", autocomplete: "name", maxlength: "80", data: { key: "stock-by" }, on: { input: () => app.by.set(by.value.trim()) } });
		by.value = app.by.get();
		show(foot, ...(changed() ? [h("div", { class: "set" }, h("label", { for: "stock-by" }, t("pruning.who")), by), h("div", { class: "acts" }, button(t("standards.save_estate"), () => void keep(true), { class: "main", data: { key: "save-estate" } }), button(t("standards.save_block"), () => void keep(false), { data: { key: "save-block" } }))] : []));
	};
	const numberField = (/** @type {string} */ id, /** @type {string} */ label, /** @type {number} */ value, /** @type {(n: number) => void} */ act, /** @type {[number, number, boolean]} */ [least, most, whole]) => {
		const fault = h("p", { class: "fault", id: `${id}-fault`, role: "alert" });
		const input = h("input", { id, class: "short", inputmode: whole ? "numeric" : "decimal", autocomplete: "off", "aria-label": label, "aria-describedby": fault.id, on: { input: () => {
			const n = readNumber(input.value);
			const bad = n === null || n < least || n > most || (whole && !Number.isInteger(n));
			fault.textContent = bad ? t("record.wrong_range", { from: String(least), to: String(most) }) : "";
			input.setAttribute("aria-invalid", String(bad));
			if (bad) wrong.add(id);
			else wrong.delete(id);
			if (!bad && n !== null) act(n);
		} } });
		input.value = String(Number(value.toPrecision(6)));
		return h("div", {}, input, fault);
	};
	const stockTable = (/** @type {ReplantSettings} */ s) => {
		const text = (/** @type {number} */ k, /** @type {"cultivar" | "clone" | "rootstock"} */ key) => {
			const input = h("input", { maxlength: "80", "aria-label": t("assume.of", { what: t(key === "cultivar" ? "block.variety" : `order.${key}`), name: t("stock.line", { n: k + 1 }) }), data: { key: `stock-${key}-${k}` }, on: { input: () => set(`stock.${k}.${key}`, input.value.trim()) } });
			input.value = s.stock[k][key];
			return input;
		};
		return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": t("stock.caption") }, h("table", { class: "lines stock" }, h("caption", {}, t("stock.caption")),
			h("thead", {}, h("tr", {}, ...[t("block.variety"), t("order.clone"), t("order.rootstock"), t("stock.plants"), t("stock.take_off")].map((head) => h("th", { scope: "col" }, head)))),
			h("tbody", {}, ...s.stock.map((line, k) => h("tr", {}, h("td", {}, text(k, "cultivar")), h("td", {}, text(k, "clone")), h("td", {}, text(k, "rootstock")),
				h("td", {}, numberField(`stock-plants-${k}`, t("assume.of", { what: t("stock.plants"), name: t("stock.line", { n: k + 1 }) }), line.plants, (n) => set(`stock.${k}.plants`, n), [0, 10_000_000, true])),
				h("td", {}, button(t("stock.drop"), () => { set("stock", now?.stock.filter((_, j) => j !== k)); draw(); }, { class: "small", "aria-label": t("stock.drop_line", { n: k + 1 }), data: { key: `stock-drop-${k}` } })))))));
	};
	const draw = () => {
		if (!answer || !now) return;
		const { order } = now;
		const sort = { cultivar: answer.variety, clone: answer.clone, rootstock: answer.rootstock, plants: 0 };
		const figure = (/** @type {string} */ key) => answer?.figures.find((f) => f.part === "order" && f.key === key)?.source ?? "";
		show(place,
			now.stock.length ? stockTable(now) : h("p", {}, t("stock.none")),
			h("div", { class: "acts" }, button(t("stock.add"), () => { set("stock", [...(now?.stock ?? []), sort]); draw(); }, { class: "small", data: { key: "stock-add" } })),
			h("div", { class: "settings-grid" }, ...FIELDS.map(([key, least, most, whole, by]) => h("div", { class: "set" }, h("label", { for: `order-set-${key}` }, t(`order.set_${key}`)),
				numberField(`order-set-${key}`, t(`order.set_${key}`), order[key] * by, (n) => set(`order.${key}`, Number((n / by).toPrecision(12))), [least * by, most * by, whole]), h("p", { class: "hint" }, figure(key))))));
		drawFoot();
	};
	return {
		/** @param {Replants} got */
		draw(got) {
			if (!answer || !changed()) {
				answer = got;
				now = got.settings;
				wrong.clear();
				draw();
			}
			return section("stock", t("stock.title"), h("p", { class: "hint" }, t("stock.hint")), h("div", { class: "no-print" }, place, foot));
		},
	};
}
