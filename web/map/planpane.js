// The plan of one block as a drawing of the page itself (SVG): rows upright, every
// vine with its mark, from the same columns as the map. It needs no graphics card.

import { metresPerUnit, latOf, nearestVine, rowBearing, vineStep } from "../lib/ground.js";
import { COLUMN_OF, DEAD, ESTIMATED, MEASURED, MISSING, tellsGaps } from "../lib/model.js";
import { GLYPH } from "../style/ground.js";
import { lookAt, vineInHand } from "./acts.js";
import { blockOf, inksOf, why } from "./app.js";
import { button, h, show, svg } from "./dom.js";
import { markParts } from "./mark.js";
import { scaleStep } from "../lib/units.js";
import { ESTIMATE } from "./vineshader.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/stand.js").Stand} Stand
 * @typedef {{x: Float64Array, y: Float64Array, w: number, h: number, unit: number, turn: number}} Laid places in metres, rows upright
 */

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountPlan(app, place) {
	let scale = 1;
	let trouble = "";
	let waiting = 0;
	/** @type {Laid | null} */
	let laid = null;
	/** @type {Stand | null} */
	let stand = null;
	const board = h("div", { class: "plan-board", tabindex: "0", role: "group", "aria-label": app.t("head.plan") });
	const resize = (/** @type {number} */ factor) => {
		scale = Math.min(12, Math.max(0.5, scale * factor));
		draw();
	};
	const draw = () => {
		waiting = 0;
		const { pane, block, season } = app.view.get();
		place.hidden = pane !== "plan";
		if (place.hidden) return;
		const shown = blockOf(app, block) ?? (block === null ? app.blocks.get().list[0] : undefined);
		if (!shown) return show(place, h("p", { class: "state" }, app.t("plan.none")));
		const held = app.stands.peek(shown.id, season);
		show(place, planHead(app, shown.id, resize), held ? board : h("p", { class: trouble ? "trouble" : "state" }, trouble || app.t("map.loading")));
		if (!held) {
			if (!trouble) void load(shown.id, season);
			return;
		}
		if (held !== stand) laid = lay(held);
		stand = held;
		drawPlan(app, board, held, /** @type {Laid} */ (laid), scale);
	};
	const load = async (/** @type {number} */ block, /** @type {number} */ season) => {
		try {
			await app.stands.load(block, season);
		} catch (error) {
			trouble = why(error);
		}
		draw();
	};
	const soon = () => {
		if (!place.hidden) waiting ||= requestAnimationFrame(draw);
	};
	board.addEventListener("click", (e) => {
		const drawing = board.querySelector("svg");
		if (!drawing || !stand || !laid) return;
		const i = vineUnder(drawing, laid, stand, e);
		if (i < 0) return;
		if (e.shiftKey) app.selection.toggle(stand, [i]);
		else lookAt(app, stand.id[i]);
	});
	app.view.on((now, old) => {
		if (now.at !== old.at && now.pane === old.pane) return;
		trouble = "";
		if (now.pane !== old.pane || now.block !== old.block) draw();
		else soon();
	});
	for (const part of [app.blocks, app.stands, app.selection, app.ground]) part.on(soon);
	draw();
}

/** @param {App} app @param {number} block @param {(factor: number) => void} resize */
function planHead(app, block, resize) {
	const list = h("select", { id: "plan-block", data: { key: "plan-block" }, on: { change: () => app.view.set({ block: Number(list.value), row: null }) } },
		...app.blocks.get().list.map((b) => h("option", { value: b.id }, [b.code, b.name].filter(Boolean).join(" · "))));
	list.value = String(block);
	return h("div", { class: "plan-head" }, h("label", { for: "plan-block" }, app.t("plan.choose_block")), list,
		button(app.t("plan.closer"), () => resize(1.5), { data: { key: "closer" } }), button(app.t("plan.farther"), () => resize(1 / 1.5), { data: { key: "farther" } }));
}

/**
 * Turns the block so that its rows run up the page, in metres from the corner.
 * @param {Stand} stand
 * @returns {Laid}
 */
export function lay(stand) {
	const turn = (rowBearing(stand) * Math.PI) / 180;
	const unit = metresPerUnit(latOf(stand.wy[0] ?? 2 ** 31));
	const x = new Float64Array(stand.count);
	const y = new Float64Array(stand.count);
	let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
	for (let i = 0; i < stand.count; i++) {
		const east = (stand.wx[i] - stand.wx[0]) * unit;
		const south = (stand.wy[i] - stand.wy[0]) * unit;
		x[i] = east * Math.cos(turn) + south * Math.sin(turn);
		y[i] = south * Math.cos(turn) - east * Math.sin(turn);
		[x0, y0, x1, y1] = [Math.min(x0, x[i]), Math.min(y0, y[i]), Math.max(x1, x[i]), Math.max(y1, y[i])];
	}
	const margin = 6;
	for (let i = 0; i < stand.count; i++) {
		x[i] += margin - x0;
		y[i] += margin - y0;
	}
	return { x, y, w: x1 - x0 + 2 * margin, h: y1 - y0 + 2 * margin, unit, turn };
}

/**
 * @param {App} app
 * @param {HTMLElement} board
 * @param {Stand} stand
 * @param {Laid} laid
 * @param {number} scale
 */
function drawPlan(app, board, stand, laid, scale) {
	const { theme, season, only } = app.view.get();
	const inks = inksOf(app);
	const ground = app.ground.get().name;
	const legend = app.legends[theme];
	const r = Math.max(0.25, 0.4 * vineStep(stand) * laid.unit);
	const words = { code: stand.code, season: String(season), theme: app.t(`theme.${theme}`), n: stand.count, rows: app.t("block.rows", { n: stand.rows.length }) };
	const root = svg("svg", { viewBox: `0 0 ${laid.w.toFixed(2)} ${laid.h.toFixed(2)}`, class: "plan", role: "img", "aria-label": app.t("plan.label", words), data: { theme } });
	root.style.width = `${100 * scale}%`;
	const symbols = svg("defs");
	for (const c of legend.classes) symbols.append(svg("symbol", { id: `mark-${c.code}`, viewBox: "-1.6 -1.6 3.2 3.2", overflow: "visible" }, ...markParts(c.symbol, c[ground], inks)));
	for (const [id, symbol] of [["gone-5", "square"], ["gone-6", "cross"]]) symbols.append(svg("symbol", { id, viewBox: "-1.6 -1.6 3.2 3.2", overflow: "visible" }, ...markParts(symbol, "#ffffff", inks)));
	root.append(symbols, rowLines(stand, laid, inks.faint), rowNames(stand, laid, inks.ink));
	const chosen = app.selection.of(stand.block);
	const vines = svg("g");
	for (let i = 0; i < stand.count; i++) {
		const gone = !tellsGaps(theme) && (stand.condition[i] === DEAD || stand.condition[i] === MISSING);
		const code = stand[COLUMN_OF[theme]][i];
		if (only !== null && (gone || code !== only)) continue;
		if (chosen.has(i)) vines.append(svg("circle", { cx: laid.x[i].toFixed(2), cy: laid.y[i].toFixed(2), r: r * 1.6, fill: inks.ground, stroke: inks.ink, "stroke-width": r * 0.4 }));
		const basis = theme === "vigour" && !gone && code ? stand.basis[i] : 0;
		const half = 1.6 * r * (basis === ESTIMATED ? ESTIMATE : 1);
		vines.append(svg("use", { href: gone ? `#gone-${stand.condition[i]}` : `#mark-${code}`, x: (laid.x[i] - half).toFixed(2), y: (laid.y[i] - half).toFixed(2), width: (2 * half).toFixed(2), height: (2 * half).toFixed(2) }));
		if (basis === MEASURED) vines.append(pip(laid.x[i], laid.y[i], r));
	}
	root.append(vines, north(app, laid, inks.ink), scaleBar(app, laid, inks.ink));
	const hand = vineInHand(app);
	if (hand?.stand === stand) root.append(svg("circle", { cx: laid.x[hand.index], cy: laid.y[hand.index], r: r * 2.2, fill: "none", stroke: inks.ink, "stroke-width": r * 0.6, class: "plan-ring" }));
	show(board, root);
}

/** The point in the middle of a vine that was weighed. @param {number} x @param {number} y @param {number} r */
function pip(x, y, r) {
	return svg("circle", { cx: x.toFixed(2), cy: y.toFixed(2), r: (0.3 * r).toFixed(2), fill: GLYPH.ink, stroke: GLYPH.halo, "stroke-width": (0.18 * r).toFixed(2), class: "pip" });
}

/** @param {Stand} stand @param {Laid} laid @param {string} colour */
function rowLines(stand, laid, colour) {
	const d = stand.rows.filter((row) => row.count > 1).map((row) => {
		const last = row.first + row.count - 1;
		return `M${laid.x[row.first].toFixed(2)} ${laid.y[row.first].toFixed(2)}L${laid.x[last].toFixed(2)} ${laid.y[last].toFixed(2)}`;
	});
	return svg("path", { d: d.join(""), stroke: colour, "stroke-width": 0.15, fill: "none" });
}

/** Row numbers at the numbering end: all where there are few, else every fifth. @param {Stand} stand @param {Laid} laid @param {string} colour */
function rowNames(stand, laid, colour) {
	const every = stand.rows.length > 20 ? 5 : 1;
	const names = stand.rows.filter((row, k) => row.count && (k === 0 || (k + 1) % every === 0));
	return svg("g", { "font-size": 2, "text-anchor": "middle", fill: colour }, ...names.map((row) => svg("text", { x: laid.x[row.first].toFixed(2), y: (laid.y[row.first] + 3).toFixed(2) }, row.label)));
}

/** @param {App} app @param {Laid} laid @param {string} colour */
function north(app, laid, colour) {
	const deg = (-laid.turn * 180) / Math.PI;
	return svg("g", { transform: `translate(${(laid.w - 3).toFixed(2)} 3)`, fill: colour },
		svg("path", { d: "M0 -2.2L1 1.4L0 0.8L-1 1.4Z", transform: `rotate(${deg.toFixed(1)})` }), svg("text", { y: 3.6, "font-size": 1.6, "text-anchor": "middle" }, app.t("plan.north")));
}

/** @param {App} app @param {Laid} laid @param {string} colour */
function scaleBar(app, laid, colour) {
	const { metres, label } = scaleStep(laid.w / 4, app.estate.us_units);
	const y = (laid.h - 1).toFixed(2);
	return svg("g", { fill: colour }, svg("path", { d: `M1 ${y}h${metres}`, stroke: colour, "stroke-width": 0.3 }), svg("text", { x: 1, y: (laid.h - 1.6).toFixed(2), "font-size": 1.6 }, label));
}

/** @param {Element} drawing @param {Laid} laid @param {Stand} stand @param {MouseEvent} e */
function vineUnder(drawing, laid, stand, e) {
	const edge = drawing.getBoundingClientRect();
	const perPixel = laid.w / edge.width;
	const place = /** @type {any} */ ({ ...stand, wx: laid.x, wy: laid.y });
	return nearestVine(place, (e.clientX - edge.left) * perPixel, (e.clientY - edge.top) * perPixel, 22 * perPixel).index;
}
