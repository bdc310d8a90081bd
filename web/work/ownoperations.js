// The estate's own kinds of work beside the usual ones: what takes how long, and
// after what. They are chosen like the others on this page and on the map.

import { sending } from "../lib/once.js";
import { readNumber } from "../lib/units.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { blame, choice, faultLine, labelled, tick } from "./fields.js";
import { nameOf } from "./head.js";

/** @typedef {import("./api.js").Operation} Operation */

const MINUTES = /** @type {const} */ (["cane", "spur", "young"]);
const MOST_MINUTES = 240;
/** Whose hands, as the server counts them. */
const ANYONE = 0;
const SKILLED = 2;

/** @param {import("./main.js").Work} work */
export function ownOperations({ app, api, operations }) {
	const { t } = app;
	const own = () => operations.filter((o) => o.own);
	const list = h("div", { class: "work-list", id: "own-operations" });
	/** The page begins anew: the list stands in every part of it. @param {Operation[]} now */
	const keep = async (now) => {
		await api.saveOperations(app.by.get(), now.map(({ own: _own, cautions: _cautions, ...o }) => o));
		location.reload();
	};
	const fault = faultLine("operation-fault");
	const remove = async (/** @type {Operation} */ o) => {
		try {
			await keep(own().filter((k) => k.name !== o.name));
		} catch (error) {
			fault.textContent = t("work.not_done", { why: why(error) });
		}
	};
	const card = (/** @type {Operation} */ o) => h("div", { class: "work-card", data: { operation: o.name } },
		h("h3", {}, o.name),
		h("p", {}, MINUTES.map((k) => t(`work.minutes_${k}`, { n: t.number(o.minutes[k] ?? 0, 2) })).join(" · "), o.after ? ` · ${t("work.after", { operation: nameOf(app, o.after) })}` : ""),
		h("div", { class: "acts" }, button(t("work.remove"), () => void remove(o), { "aria-label": t("work.remove_crew", { crew: o.name }), data: { key: `drop-${o.name}` } })));
	show(list, ...(own().length ? own().map(card) : [h("p", { class: "state" }, t("work.no_own_operations"))]));
	return section("own-work", t("work.own_operations"), h("p", {}, t("work.own_operations_what")), list, form());

	function form() {
		const name = h("input", { id: "operation-name", maxlength: "60", autocomplete: "off" });
		const minutes = MINUTES.map((k) => h("input", { id: `operation-${k}`, class: "short", inputmode: "decimal" }));
		const after = choice("operation-after", [["", t("work.after_nothing")], ...operations.map((o) => /** @type {[string, string]} */ ([o.name, nameOf(app, o.name)]))], "");
		const skilled = tick("operation-skilled", t("work.operation_skilled"));
		return h("form", { class: "work-form", novalidate: true, on: { submit: sending(async () => {
			const typed = name.value.trim();
			if (!typed || operations.some((o) => o.name === typed)) return blame(fault, name, t(typed ? "work.operation_known" : "work.name_missing"));
			const read = minutes.map((input) => (input.value.trim() ? readNumber(input.value) : 0));
			const bad = read.findIndex((n) => n === null || n < 0 || n > MOST_MINUTES);
			if (bad >= 0 || read.every((n) => n === 0)) return blame(fault, minutes[Math.max(0, bad)], t("record.wrong_range", { from: "0", to: String(MOST_MINUTES) }));
			blame(fault, null);
			const [cane, spur, young] = /** @type {number[]} */ (read);
			try {
				await keep([...own(), { name: typed, minutes: { cane, spur, young }, skill: skilled.input.checked ? SKILLED : ANYONE, after: after.value, source: "" }]);
			} catch (error) {
				fault.textContent = t("work.not_done", { why: why(error) });
			}
		}) } },
			labelled(t("work.operation_name"), name), ...MINUTES.map((k, n) => labelled(t(`work.minutes_of_${k}`), minutes[n])), labelled(t("work.operation_after"), after), skilled.element,
			h("div", { class: "acts" }, h("button", { type: "submit", class: "main", data: { key: "add-operation" } }, t("work.add_operation"))), fault);
	}
}
