// Rows and vines numbered anew: shown row by row, old beside new, before it is kept.

import { sending } from "../lib/once.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { blameField, choiceField, compass, numberField, read, textField, tickField } from "./fields.js";

/** @typedef {import("./main.js").Ground} Ground */

/**
 * @param {Ground} page
 * @param {HTMLElement} place
 * @returns {import("./main.js").Part}
 */
export function mountNumbersPart(page, place) {
	const { t, api } = page;
	const said = h("div", { class: "ground-said", id: "numbers-said" });
	const fault = h("p", { class: "fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", id: "keep-numbers" }, t("ground.keep_numbers"));
	const changed = () => ask();
	const stays = compass(t, t("ground.stays"));
	const fields = {
		new_code: textField("new_code", { label: t("ground.new_code"), most: 30, changed }),
		new_rows_from: choiceField("new_rows_from", { label: t("ground.rows_from"), of: stays, changed }),
		new_first: numberField(page, "new_first", { label: t("ground.first"), low: 1, high: 100_000, whole: true, empty: 0, changed, hint: t("ground.first_hint") }),
		new_vines_from: choiceField("new_vines_from", { label: t("ground.vines_from"), of: [...stays, ["first", t("ground.as_first_row")]], changed }),
		new_snake: tickField("new_snake", { label: t("ground.snake"), changed }),
	};
	const order = () => {
		const o = read(fields);
		return o && Object.fromEntries(Object.entries(o).map(([name, value]) => [name.replace("new_", ""), value]));
	};
	const blame = (/** @type {unknown} */ error) => {
		const at = /** @type {{field?: string, message?: string}} */ (error);
		return blameField(fields, Object.assign(new Error(at?.message), { field: `new_${at?.field ?? ""}` }));
	};
	const preview = new Previewer({
		ask: (/** @type {{block: number, order: object}} */ wish, signal) => api.tryNumbers(wish.block, wish.order, signal),
		onChange: ({ state, good, error }) => {
			page.mark(state === "asking" ? "asking" : "asked");
			if (state === "ready" && good) {
				page.use(null, { rows: good.rows, points: null, outline: page.state?.outline ?? [] });
				show(said, ...words(page, good));
			}
			if (state === "failed") show(said, blame(error) ? h("p", { class: "state" }, t("ground.wrong_above")) : h("p", { class: "trouble" }, t("ground.failed", { why: why(error) })));
		},
	});
	const ask = () => {
		fault.textContent = "";
		const o = order();
		if (page.state && o) return preview.want({ block: page.state.block, order: o });
		show(said, h("p", { class: "state" }, t(page.state ? "ground.wrong_above" : "ground.choose_first")));
		page.mark("asked");
	};
	const keep = async () => {
		const o = order();
		if (!o || !page.state) return ask();
		preview.stop();
		page.mark("keeping");
		go.setAttribute("aria-disabled", "true");
		try {
			const n = await api.keepNumbers(page.state.block, { ...o, by: page.by() });
			for (const f of Object.values(fields)) f.control.value = "";
			/** @type {HTMLInputElement} */ (fields.new_snake.control).checked = false;
			await page.changed(n.block, t(n.changed ? "ground.kept_numbers" : "ground.same_numbers", { code: n.code }), "numbers");
		} catch (error) {
			if (!page.blameBy(error) && !blame(error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	place.append(h("p", { class: "hint" }, t("ground.numbers_hint")),
		h("form", { class: "ground-form", on: { submit: sending(keep) } }, ...Object.values(fields).map((f) => f.line), said, page.byLine("numbers"), fault, h("div", { class: "acts" }, go)));
	return {
		open() {
			page.use(null, null);
			ask();
		},
		close: () => preview.stop(),
	};
}

/** @param {Ground} page @param {import("./api.js").Numbers} n */
function words({ t }, n) {
	if (!n.rows.length && !n.changed) return [h("p", { class: "state" }, t("ground.no_rows"))];
	return [
		h("p", {}, h("strong", {}, n.changed ? t("ground.would_change", { n: n.vines }) : t("ground.no_change"))),
		n.code === n.was_code ? null : h("p", {}, t("ground.code_change", { was: n.was_code, now: n.code })),
		n.orders ? h("p", {}, t("ground.orders", { n: n.orders })) : null,
		h("div", { class: "scroller", role: "region", tabindex: "0", "aria-label": t("ground.rows_caption") },
			h("table", {}, h("caption", {}, t("ground.rows_caption")),
				h("thead", {}, h("tr", {}, ...["ground.row_now", "ground.row_was", "ground.row_vines", "ground.row_end"].map((k) => h("th", { scope: "col" }, t(k))))),
				h("tbody", {}, ...n.rows.map((r) => h("tr", {}, h("th", { scope: "row" }, r.label), h("td", {}, r.was), h("td", { class: "n" }, t.number(r.vines)), h("td", {}, t(r.turned ? "ground.turned" : "ground.kept_end"))))))),
	];
}
