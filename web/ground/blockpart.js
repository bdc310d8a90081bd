// A block drawn by hand: its corners, what can be said of them, its code and name.

import { sending } from "../lib/once.js";
import { Pen } from "../lib/pen.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { blameField, textField } from "./fields.js";
import { mountPen } from "./penpanel.js";

/**
 * @param {import("./main.js").Ground} page
 * @param {HTMLElement} place
 * @returns {import("./main.js").Part}
 */
export function mountBlockPart(page, place) {
	const { t, api } = page;
	const pen = new Pen("area");
	const said = h("div", { class: "ground-said", id: "block-said" });
	const fields = {
		code: textField("code", { label: t("ground.code"), most: 30, hint: t("ground.code_hint") }),
		name: textField("name", { label: t("ground.name"), most: 80 }),
		variety: textField("variety", { label: t("ground.variety"), most: 80 }),
	};
	const fault = h("p", { class: "fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", id: "keep-block" }, t("ground.keep_block"));
	const drawing = () => ({ corners: pen.points, code: fields.code.value(), name: fields.name.value(), variety: fields.variety.value() });
	const preview = new Previewer({
		ask: (/** @type {object} */ wish, signal) => api.tryBlock(wish, signal),
		onChange: ({ state, good, error }) => {
			page.mark(state === "asking" ? "asking" : "asked");
			if (state === "ready" && good) show(said, ...words(page, good));
			if (state === "failed") show(said, h("p", { class: "trouble" }, t("ground.failed", { why: why(error) })));
		},
	});
	const keep = async () => {
		fault.textContent = pen.ready ? "" : t("ground.not_closed");
		fields.code.blame(fields.code.value() ? "" : t("ground.no_code"));
		if (!pen.ready || !fields.code.value()) return;
		page.mark("keeping");
		go.setAttribute("aria-disabled", "true");
		try {
			const made = await api.keepBlock({ ...drawing(), by: page.by() });
			pen.clear();
			for (const f of Object.values(fields)) f.control.value = "";
			await page.changed(made.id, t("ground.kept_block", { code: made.code }), "rows");
		} catch (error) {
			if (!page.blameBy(error) && !blameField(fields, error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	pen.on(() => {
		page.draw();
		if (pen.closed) return preview.want({ corners: pen.points });
		preview.stop();
		show(said, h("p", { class: "state" }, t("ground.open_area")));
		page.mark("asked");
	});
	mountPen(page, pen, place);
	show(said, h("p", { class: "state" }, t("ground.open_area")));
	place.append(said, h("form", { class: "ground-form", on: { submit: sending(keep) } }, ...Object.values(fields).map((f) => f.line), page.byLine("block"), fault, h("div", { class: "acts" }, go)));
	return { open: () => page.use(pen, null), close: () => preview.stop() };
}

/** What is said of an outline. @param {import("./main.js").Ground} page @param {import("./api.js").Judged} judged */
function words({ t, units }, judged) {
	const fault = (/** @type {import("./api.js").Fault} */ f) => {
		const area = judged.area_m2 && f.kind !== "overlap" ? judged.area_m2 : f.area_m2;
		return t(`ground.fault_${(f.kind + (f.slight ? " slight" : "")).replaceAll(" ", "_")}`, { a: String(f.sides[0] ?? ""), b: String(f.sides[1] ?? ""), block: f.block, area: squares(t, units, area) });
	};
	return [
		judged.area_m2 ? h("p", {}, h("strong", {}, squares(t, units, judged.area_m2)), ` · ${t("ground.rim", { length: units.text("length", judged.rim_m) })}`) : null,
		judged.faults.length ? h("ul", {}, ...judged.faults.map((f) => h("li", { class: f.slight ? "" : "trouble" }, fault(f)))) : h("p", {}, t("ground.sound")),
	];
}

/** An area, in square metres while it is small. @param {import("../lib/text.js").Texts} t @param {import("../lib/units.js").Units} units @param {number} m2 */
export function squares(t, units, m2) {
	return m2 < 1000 && !units.us ? t("ground.square_metres", { area: t.number(m2, m2 < 100 ? 1 : 0) }) : units.text("area", m2);
}
