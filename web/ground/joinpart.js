// A block taken into another one, and what would come of it, before it is kept.

import { sending } from "../lib/once.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { blameField, choiceField } from "./fields.js";
import { regroupedWords, shownOf } from "./regrouped.js";

/**
 * @param {import("./main.js").Ground} page
 * @param {HTMLElement} place
 * @returns {import("./main.js").Part}
 */
export function mountJoinPart(page, place) {
	const { t, api } = page;
	const said = h("div", { class: "ground-said", id: "join-said" });
	const fault = h("p", { class: "fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", id: "keep-join" }, t("ground.keep_join"));
	const changed = () => ask();
	const fields = {
		with: choiceField("join_with", { label: t("ground.join_with"), of: [], changed }),
		labels: choiceField("join_labels", { label: t("ground.join_labels"), of: [["keep", t("ground.join_keep")], ["on", t("ground.join_on")]], changed }),
	};
	const order = () => ({ with: Number(fields.with.value()), labels: fields.labels.value() });
	/** Offers all blocks but the chosen one. */
	const offer = () => {
		const was = fields.with.value();
		const others = page.blocks.filter((b) => b.id !== page.state?.block);
		show(fields.with.control, h("option", { value: "0" }, t("ground.choose_block")), ...others.map((b) => h("option", { value: String(b.id) }, [b.code, b.name].filter(Boolean).join(" · "))));
		fields.with.control.value = others.some((b) => String(b.id) === was) ? was : "0";
	};
	const ask = () => {
		fault.textContent = "";
		for (const f of Object.values(fields)) f.blame("");
		if (page.state && order().with) return preview.want({ block: page.state.block, order: order() });
		preview.stop();
		page.use(null, null);
		show(said, h("p", { class: "state" }, t(page.state ? "ground.choose_other" : "ground.choose_first")));
		page.mark("asked");
	};
	const preview = new Previewer({
		ask: (/** @type {{block: number, order: object}} */ wish, signal) => api.tryJoin(wish.block, wish.order, signal),
		onChange: ({ state, good, error }) => {
			page.mark(state === "asking" ? "asking" : "asked");
			if (state === "ready" && good) {
				page.use(null, shownOf(good, () => false));
				show(said, ...regroupedWords(page, good));
			}
			if (state === "failed") {
				page.use(null, null);
				show(said, blameField(fields, error) ? h("p", { class: "state" }, t("ground.wrong_above")) : h("p", { class: "trouble" }, t("ground.failed", { why: why(error) })));
			}
		},
	});
	const keep = async () => {
		const state = page.state;
		if (!state || !order().with) return ask();
		preview.stop();
		page.mark("keeping");
		go.setAttribute("aria-disabled", "true");
		try {
			const made = await api.keepJoin(state.block, { ...order(), by: page.by() });
			await page.changed(state.block, t("ground.kept_join", { code: made.parts[0].code, vines: t.number(made.vines) }), "join");
		} catch (error) {
			if (!page.blameBy(error) && !blameField(fields, error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	place.append(h("p", { class: "hint" }, t("ground.join_hint")),
		h("form", { class: "ground-form", on: { submit: sending(keep) } }, ...Object.values(fields).map((f) => f.line), said, page.byLine("join"), fault, h("div", { class: "acts" }, go)));
	return {
		open() {
			offer();
			ask();
		},
		close: () => preview.stop(),
	};
}
