// The list to fill in: each weight becomes a record as soon as its field is left,
// is kept on this computer and sent from there. On paper the fields are empty boxes.

import { unlikely, kept, measureOf, QUANTITIES } from "../lib/measures.js";
import { indexOf } from "../lib/stand.js";
import { readNumber } from "../lib/units.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { vinePath } from "./links.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Weighing} Weighing
 * @typedef {import("../lib/findings.js").WeighingVine} WeighingVine
 * @typedef {import("../lib/stand.js").Stand} Stand
 */

const NONE = 65535;

/**
 * @param {App} app
 * @param {Weighing} list
 * @param {WeighingVine[]} vines in walking order
 * @param {Stand | null} stand to know what is weighed already
 * @param {() => string} unit that is written in
 */
export function entryTable(app, list, vines, stand, unit) {
	const { t } = app;
	const spacing = app.blocks.get().list.find((b) => b.id === list.block)?.vine_spacing_m ?? 0;
	const rows = vines.map((vine, k) => {
		const i = stand ? indexOf(stand, vine.id) : -1;
		const grams = stand && i >= 0 && stand.weight[i] !== NONE ? stand.weight[i] : null;
		const turn = k > 0 && vines[k - 1].row !== vine.row;
		return h("tr", { class: turn ? "new-row" : null, data: { vine: vine.id } },
			h("td", { class: "n" }, k + 1), h("th", { scope: "row" }, h("a", { href: vinePath(list.season, list.block, vine) }, vine.address)),
			h("td", { class: "n" }, vine.row), h("td", { class: "n" }, vine.number),
			h("td", { class: "entry" }, ...field(app, list, vine, spacing, unit, grams)));
	});
	const caption = t("weigh.caption", { code: list.code, season: String(list.season) });
	const head = (/** @type {string} */ text, /** @type {boolean} */ n) => h("th", { scope: "col", class: n ? "n" : null }, text);
	return h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": caption },
		h("table", { class: "weigh-table" }, h("caption", {}, caption),
			h("thead", {}, h("tr", {}, head(t("weigh.no"), true), head(t("table.vine"), false), head(t("table.row"), true), head(t("weigh.vine_no"), true), head(t("weigh.weight"), false))),
			h("tbody", {}, ...rows)));
}

/**
 * @param {App} app
 * @param {Weighing} list
 * @param {WeighingVine} vine
 * @param {number} spacing metres
 * @param {() => string} unit
 * @param {number | null} grams weighed already
 */
function field(app, list, vine, spacing, unit, grams) {
	const { t, units } = app;
	const input = h("input", { inputmode: "decimal", class: "weight", autocomplete: "off", "aria-label": t("weigh.weight_of", { address: vine.address }) });
	const said = h("span", { class: "said", id: `said-${vine.id}`, role: "status" }, grams === null ? "" : t("weigh.is", { weight: units.text("weight", grams) }));
	input.setAttribute("aria-describedby", said.id);
	let done = "";
	const blame = (/** @type {string} */ text, /** @type {Node | null} */ act = null) => {
		input.setAttribute("aria-invalid", "true");
		show(said, h("span", { class: "fault" }, text), act);
	};
	const save = async (/** @type {boolean} */ sure) => {
		const typed = input.value.trim();
		const key = `${typed} ${unit()}`;
		if (!typed || key === done) return true;
		const n = readNumber(typed);
		if (n === null) return blame(t("record.wrong_number", { example: t.number(0.45, 2) }));
		const value = kept("pruning_weight", n, unit());
		const [least, most] = QUANTITIES.pruning_weight.range;
		if (value < least || value > most) return blame(t("weigh.impossible", { most: units.text("weight", most) }));
		const odd = sure ? null : unlikely("pruning_weight", value, { vineSpacingM: spacing });
		if (odd) return blame(t("weigh.unlikely", { weight: units.text("weight", value), most: units.text("weight", odd.most) }), button(t("record.all_the_same"), () => void save(true), { class: "small" }));
		const fact = { kind: "measure", value: measureOf("pruning_weight", n, unit()) };
		done = key; // leaving the field right after Enter must not record it twice
		try {
			await app.outbox.add([app.recorder.record({ block: list.block, vines: [vine.id] }, list.season, fact)]);
		} catch (error) {
			done = "";
			return blame(t("saved.failed", { why: why(error) }));
		}
		input.setAttribute("aria-invalid", "false");
		show(said, `✓ ${t("weigh.recorded", { weight: `${typed}\u00a0${t(`unit.${unit()}`)}` })}`);
		return true;
	};
	input.addEventListener("change", () => void save(false));
	input.addEventListener("keydown", async (e) => {
		if (e.key !== "Enter") return;
		e.preventDefault();
		if (!(await save(false))) return;
		const all = [...document.querySelectorAll("input.weight")];
		/** @type {HTMLElement | undefined} */ (all[all.indexOf(input) + 1])?.focus();
	});
	return [input, said];
}
