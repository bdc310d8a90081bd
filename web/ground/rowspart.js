// Rows made in a block: how they run, how far apart, from where they are numbered;
// shown on the map and summed up before they are kept.

import { sending } from "../lib/once.js";
import { Pen } from "../lib/pen.js";
import { Previewer } from "../lib/previewer.js";
import { why } from "../map/app.js";
import { h, show } from "../map/dom.js";
import { squares } from "./blockpart.js";
import { blameField, choiceField, compass, numberField, read, tickField } from "./fields.js";
import { mountPen } from "./penpanel.js";

/** @typedef {import("./main.js").Ground} Ground */

/**
 * @param {Ground} page
 * @param {HTMLElement} place
 * @returns {import("./main.js").Part}
 */
export function mountRowsPart(page, place) {
	const { t, api } = page;
	const pen = new Pen("line");
	const said = h("div", { class: "ground-said", id: "rows-said" });
	const fault = h("p", { class: "fault", role: "alert" });
	const go = h("button", { type: "submit", class: "main", id: "keep-rows" }, t("ground.keep_rows"));
	const changed = () => ask();
	const fields = rowFields(page, changed);
	const way = choiceField("way", { label: t("ground.way"), of: [["bearing", t("ground.way_bearing")], ["line", t("ground.way_line")]], changed: () => {
		arrange();
		ask();
	} });
	const penPlace = h("div", {});
	const byLine = () => way.value() === "line";
	const arrange = () => {
		penPlace.hidden = !byLine();
		fields.bearing_deg.line.hidden = byLine();
		page.use(byLine() ? pen : null, null);
	};
	const order = () => {
		const o = read(fields);
		return o && { ...o, line: byLine() ? pen.points : [] };
	};
	const ask = () => {
		fault.textContent = "";
		const o = order();
		const state = page.state;
		if (!state || !o || (byLine() && !pen.ready)) {
			preview.stop();
			page.use(byLine() ? pen : null, null);
			show(said, h("p", { class: "state" }, t(!state ? "ground.choose_first" : byLine() && !pen.ready ? "ground.draw_line" : "ground.wrong_above")));
			page.mark("asked");
			return;
		}
		preview.want({ block: state.block, order: o });
	};
	const preview = new Previewer({
		ask: (/** @type {{block: number, order: object}} */ wish, signal) => api.tryRows(wish.block, wish.order, signal),
		onChange: ({ state, good, error }) => {
			page.mark(state === "asking" ? "asking" : "asked");
			if (state === "ready" && good && page.state) {
				page.use(byLine() ? pen : null, { rows: good.rows, points: good.points, outline: page.state.outline });
				show(said, ...words(page, good));
			}
			if (state === "failed") {
				page.use(byLine() ? pen : null, null);
				show(said, blameField(fields, error) ? h("p", { class: "state" }, t("ground.wrong_above")) : h("p", { class: "trouble" }, t("ground.failed", { why: why(error) })));
			}
		},
	});
	const keep = async () => {
		const o = order();
		if (!o || !page.state || (byLine() && !pen.ready)) return ask();
		preview.stop();
		page.mark("keeping");
		go.setAttribute("aria-disabled", "true");
		try {
			const made = await api.keepRows(page.state.block, { ...o, by: page.by() });
			pen.clear();
			await page.changed(page.state.block, t("ground.kept_rows", { code: made.code, rows: t.number(made.rows.length), vines: t.number(made.vines) }), "rows");
		} catch (error) {
			if (!page.blameBy(error) && !blameField(fields, error)) fault.textContent = t("ground.failed", { why: why(error) });
			page.mark("failed");
		} finally {
			go.removeAttribute("aria-disabled");
		}
	};
	pen.on(() => {
		page.draw();
		ask();
	});
	mountPen(page, pen, penPlace);
	const form = rowForm(page, { way, penPlace, fields, said, fault, go, keep });
	const there = h("div", { class: "ground-said" });
	place.append(there, form);
	return {
		open() {
			const has = page.state?.rows ?? 0;
			form.hidden = has > 0;
			there.hidden = !has;
			if (has) {
				page.use(null, null);
				show(there, h("p", {}, t("ground.has_rows", { code: page.state?.code ?? "", n: has })), h("p", { class: "hint" }, t("ground.has_rows_hint")));
				page.mark("asked");
				return;
			}
			const planted = page.state?.planted;
			if (planted?.row_spacing_m) fields.row_spacing_m.set(planted.row_spacing_m);
			if (planted?.vine_spacing_m) fields.vine_spacing_m.set(planted.vine_spacing_m);
			arrange();
			ask();
		},
		close: () => preview.stop(),
	};
}

/** @param {Ground} page @param {() => void} changed */
function rowFields(page, changed) {
	const { t } = page;
	const length = (/** @type {string} */ name, /** @type {number | undefined} */ value, /** @type {number} */ high, more = {}) =>
		numberField(page, name, { label: t(`ground.${name}`), value, low: 0, high: page.units.us ? high * 3.3 : high, length: true, changed, ...more });
	const sides = compass(t, t("ground.side_none"));
	return {
		bearing_deg: numberField(page, "bearing_deg", { label: t("ground.bearing_deg"), value: 0, low: 0, high: 360, changed, hint: t("ground.bearing_hint") }),
		row_spacing_m: length("row_spacing_m", 2, 20),
		vine_spacing_m: length("vine_spacing_m", 1, 20),
		headland_m: length("headland_m", 6, 100, { empty: 0, hint: t("ground.headland_hint") }),
		start_m: length("start_m", 0.5, 50, { empty: 0 }),
		end_m: length("end_m", 0.5, 50, { empty: 0 }),
		side_m: length("side_m", undefined, 100, { empty: null, hint: t("ground.side_m_hint") }),
		count: numberField(page, "count", { label: t("ground.count"), low: 1, high: 5000, whole: true, empty: 0, hint: t("ground.count_hint"), changed }),
		side: choiceField("side", { label: t("ground.side"), of: sides, changed }),
		rows_from: choiceField("rows_from", { label: t("ground.rows_from"), of: sides, changed }),
		vines_from: choiceField("vines_from", { label: t("ground.vines_from"), of: sides, changed }),
		snake: tickField("snake", { label: t("ground.snake"), changed }),
		first: numberField(page, "first", { label: t("ground.first"), value: 1, low: 1, high: 100_000, whole: true, empty: 1, changed }),
	};
}

/**
 * @param {Ground} page
 * @param {{way: import("./fields.js").Field, penPlace: HTMLElement, fields: ReturnType<typeof rowFields>, said: HTMLElement, fault: HTMLElement, go: HTMLElement, keep: () => Promise<void>}} parts
 */
function rowForm(page, { way, penPlace, fields: f, said, fault, go, keep }) {
	const { t } = page;
	const pair = (/** @type {import("./fields.js").Field[]} */ ...of) => h("div", { class: "ground-pair" }, ...of.map((x) => x.line));
	const group = (/** @type {string} */ key, /** @type {HTMLElement[]} */ ...of) => h("fieldset", { class: "ground-group" }, h("legend", {}, t(`ground.group_${key}`)), ...of);
	return h("form", { class: "ground-form", on: { submit: sending(keep) } },
		group("way", way.line, f.bearing_deg.line, penPlace),
		group("planting", pair(f.row_spacing_m, f.vine_spacing_m), f.headland_m.line, pair(f.start_m, f.end_m),
			h("details", {}, h("summary", {}, t("ground.more")), f.side_m.line, pair(f.count, f.side))),
		group("numbering", pair(f.rows_from, f.vines_from), pair(f.first, f.snake)),
		said, page.byLine("rows"), fault, h("div", { class: "acts" }, go));
}

/** What the rows come to. @param {Ground} page @param {import("./api.js").Made} made */
function words({ t, units }, made) {
	const facts = [
		[t("ground.fact_rows"), t.number(made.rows.length)], [t("ground.fact_vines"), t.number(made.vines)], [t("ground.fact_metres"), units.text("length", made.row_m)],
		[t("ground.fact_area"), squares(t, units, made.area_m2)], [t("ground.fact_planted"), squares(t, units, made.planted_m2)], [t("ground.fact_density"), units.text("per_area", made.vines_per_ha / 10_000)],
	];
	return [
		h("dl", { class: "facts" }, ...facts.flatMap(([name, value]) => [h("dt", {}, name), h("dd", {}, value)])),
		made.short ? h("p", {}, t("ground.short", { n: made.short })) : null,
		made.missed ? h("p", { class: "trouble" }, t("ground.missed", { n: made.missed })) : null,
		made.points ? null : h("p", { class: "hint" }, t("ground.many")),
	];
}
