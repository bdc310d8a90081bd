// A block parted along a line: the line drawn, which side becomes the new block, and
// what would come of it, before it is kept.

import { sidesOf } from "../lib/compass.js";
import { sending } from "../lib/once.js";
import { Pen } from "../lib/pen.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { blameField, choiceField, textField } from "./fields.js";
import { mountPen } from "./penpanel.js";
import { regroupedWords, shownOf } from "./regrouped.js";

/**
 * @param {import("./main.js").Ground} page
 * @param {HTMLElement} place
 * @returns {import("./main.js").Part}
 */
export function mountSplitPart(page, place) {
	const { t, api } = page;
	const pen = new Pen("line");
	const said = h("div", { class: "ground-said", id: "split-said" });
	const fault = h("p", { class: "fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", id: "keep-split" }, t("ground.keep_split"));
	const changed = () => ask();
	const fields = {
		side: choiceField("split_side", { label: t("ground.split_side"), of: [], changed }),
		code: textField("split_code", { label: t("ground.split_code"), most: 30, hint: t("ground.code_hint"), changed }),
		name: textField("split_name", { label: t("ground.split_name"), most: 80 }),
	};
	const order = () => ({ line: pen.points, side: fields.side.value(), code: fields.code.value(), name: fields.name.value() });
	/** Offers the two sides of the line as it is drawn; the one that was chosen stays, if it is one of them. */
	const offer = () => {
		const was = fields.side.value();
		const sides = pen.ready ? sidesOf(pen.points) : [];
		show(fields.side.control, ...sides.map((w) => h("option", { value: w }, t(`ground.side_${w.toLowerCase()}`))));
		fields.side.line.hidden = !sides.length;
		fields.side.control.value = sides.includes(was) ? was : (sides[0] ?? "");
	};
	const missing = () => (!page.state ? "ground.choose_first" : !pen.ready ? "ground.draw_split" : !fields.code.value() ? "ground.split_code_first" : "");
	const ask = () => {
		fault.textContent = "";
		const lacks = missing();
		if (!lacks && page.state) return preview.want({ block: page.state.block, order: order() });
		preview.stop();
		page.use(pen, null);
		show(said, h("p", { class: "state" }, t(lacks)));
		page.mark("asked");
	};
	const preview = new Previewer({
		ask: (/** @type {{block: number, order: object}} */ wish, signal) => api.trySplit(wish.block, wish.order, signal),
		onChange: ({ state, good, error }) => {
			page.mark(state === "asking" ? "asking" : "asked");
			if (state === "ready" && good) {
				for (const f of Object.values(fields)) f.blame("");
				page.use(pen, shownOf(good, (code) => code === fields.code.value()));
				show(said, ...regroupedWords(page, good));
			}
			if (state === "failed") {
				page.use(pen, null);
				show(said, blameField(fields, error) ? h("p", { class: "state" }, t("ground.wrong_above")) : h("p", { class: "trouble" }, t("ground.failed", { why: why(error) })));
			}
		},
	});
	const keep = async () => {
		const state = page.state;
		if (!state || missing()) return ask();
		preview.stop();
		page.mark("keeping");
		go.setAttribute("aria-disabled", "true");
		try {
			const made = await api.keepSplit(state.block, { ...order(), by: page.by() });
			pen.clear();
			fields.code.control.value = fields.name.control.value = "";
			await page.changed(state.block, t("ground.kept_split", { code: made.parts[1].code, vines: t.number(made.vines) }), "split");
		} catch (error) {
			if (!page.blameBy(error) && !blameField(fields, error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	pen.on(() => {
		page.draw();
		offer();
		ask();
	});
	place.append(h("p", { class: "hint" }, t("ground.split_hint")));
	mountPen(page, pen, place, { name: "split", how: t("ground.how_split") });
	place.append(h("form", { class: "ground-form", on: { submit: sending(keep) } }, ...Object.values(fields).map((f) => f.line), said, page.byLine("split"), fault, h("div", { class: "acts" }, go)));
	offer();
	return { open: ask, close: () => preview.stop() };
}
