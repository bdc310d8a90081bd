// What was left arm by arm: canes, spurs, large cuts and how far the head rose.
// Choices are buttons in a row, large enough for gloves.

import { ARM_NAMES, BUD_FACES, FACES, freshArm, nextName, totalsOf } from "../lib/left.js";
import { readNumber } from "../lib/units.js";
import { button, h, show } from "./dom.js";
import { Slip, select } from "./field.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/left.js").Arm} Arm
 */

/** What counts of these, as the server takes them; lengths mm. */
const BOUNDS = { cane_nodes: [0, 400], cane_length: [0, 10_000], spur_nodes: [0, 20], cut_diameter: [0, 300], climb: [-2_000, 2_000] };

/** @param {App} app @param {string} id @returns {import("./field.js").Field} */
export function armsField(app, id) {
	const { t } = app;
	/** @type {Arm[]} */
	const arms = [freshArm("left"), freshArm("right")];
	const fault = h("p", { class: "fault", id: `${id}-arms-fault`, role: "alert" });
	const body = h("div", { class: "arms" });
	const sum = h("p", { class: "arm-sum", role: "status" });
	/** Fields with something that cannot be meant. @type {Set<HTMLElement>} */
	const wrong = new Set();
	const add = () => {
		const { nodes, canes, spurs } = totalsOf(arms);
		sum.textContent = [t("vine.nodes", { n: nodes }), t("vine.canes", { n: canes }), t("vine.spurs", { n: spurs })].join(", ");
	};
	const draw = () => {
		wrong.clear();
		show(body, ...arms.map((arm, k) => armPart(app, id, arm, k, { draw, add, wrong, drop: () => {
			arms.splice(k, 1);
			draw();
		} })), button(t("record.arm_more"), () => {
			arms.push(freshArm(nextName(arms)));
			draw();
		}, { data: { key: "arm-more" } }));
		add();
	};
	draw();
	return {
		name: "arms",
		line: h("div", { class: "line" }, body, sum, fault),
		read() {
			const first = [...wrong][0];
			if (first) {
				first.focus();
				throw new Slip(t("record.arm_wrong"));
			}
			const { nodes, canes, spurs } = totalsOf(arms);
			if (nodes + canes + spurs === 0 && !arms.some((a) => a.large_cuts?.length)) throw new Slip(t("record.arm_missing"));
			return structuredClone(arms);
		},
		get raw() {
			return "";
		},
		blame(text) {
			fault.textContent = text;
		},
	};
}

/**
 * @param {App} app
 * @param {string} id
 * @param {Arm} arm
 * @param {number} k
 * @param {{draw: () => void, add: () => void, wrong: Set<HTMLElement>, drop: () => void}} parts
 */
function armPart(app, id, arm, k, { draw, add, wrong, drop }) {
	const { t, units } = app;
	const here = `${id}-arm${k}`;
	const mm = units.unit("diameter");
	/** @param {string} name @param {string} label @param {keyof typeof BOUNDS} bounds @param {number | undefined} value @param {(n: number | undefined) => void} set @param {boolean} [length] */
	const number = (name, label, bounds, value, set, length = false) => {
		const fault = h("p", { class: "fault", id: `${here}-${name}-fault`, role: "alert" });
		const input = h("input", { id: `${here}-${name}`, class: "short", inputmode: length ? "decimal" : "numeric", "aria-describedby": fault.id, on: { input: () => {
			const n = input.value.trim() ? readNumber(input.value) : undefined;
			const stored = typeof n === "number" && length ? Math.round(units.stored("diameter", n)) : n;
			const [low, high] = BOUNDS[bounds];
			const bad = stored === null || (typeof stored === "number" && (stored < low || stored > high || (!length && !Number.isInteger(stored)))) || (stored === undefined && !length);
			fault.textContent = bad ? t("record.wrong_range", { from: t.number(length ? units.shown("diameter", low) : low), to: t.number(length ? units.shown("diameter", high) : high) }) : "";
			input.setAttribute("aria-invalid", String(bad));
			if (bad) wrong.add(input);
			else wrong.delete(input);
			if (!bad) set(stored ?? undefined);
			add();
		} } });
		if (value !== undefined) input.value = length ? t.number(units.shown("diameter", value), 2) : String(value);
		return h("div", { class: "line" }, h("label", { for: input.id }, label), input, fault);
	};
	/** @param {string} name @param {string} title @param {any[]} list @param {(piece: any, at: string) => (HTMLElement | null)[]} fields @param {any} fresh */
	const pieces = (name, title, list, fields, fresh) => h("div", { class: "pieces" }, ...list.map((piece, n) => {
		const what = t(title, { n: n + 1 });
		return h("fieldset", { class: "piece" }, h("legend", {}, what), ...fields(piece, `${name}${n}`),
			button(t("record.piece_fewer", { what }), () => {
				list.splice(n, 1);
				draw();
			}, { class: "small", data: { key: `${here}-${name}${n}-fewer` } }));
	}), button(t(`record.${name}_more`), () => {
		list.push(structuredClone(fresh));
		draw();
	}, { data: { key: `${here}-${name}-more` } }));
	arm.canes ??= [];
	arm.spurs ??= [];
	arm.large_cuts ??= [];
	return h("fieldset", { class: "arm" }, h("legend", {}, t("record.arm", { n: k + 1 })), ...nameFields(app, here, arm, draw),
		pieces("cane", "record.cane", arm.canes, (cane, at) => [number(`${at}-nodes`, t("record.cane_nodes"), "cane_nodes", cane.nodes, (n) => (cane.nodes = n)), number(`${at}-length`, t("record.cane_length", { unit: mm }), "cane_length", cane.length_mm, (n) => (cane.length_mm = n), true)], { nodes: 8 }),
		pieces("spur", "record.spur", arm.spurs, (spur, at) => [number(`${at}-nodes`, t("record.spur_nodes"), "spur_nodes", spur.nodes, (n) => (spur.nodes = n)),
			choice(app, `${here}-${at}-faces`, t("record.spur_faces"), "record.spur_", ["unknown", ...BUD_FACES], spur.first_bud_faces ?? "unknown", (v) => (spur.first_bud_faces = v === "unknown" ? undefined : v))], { nodes: 2 }),
		pieces("cut", "record.cut", arm.large_cuts, (cut, at) => [choice(app, `${here}-${at}-face`, t("record.cut_face"), "record.cut_", FACES, cut.face, (v) => (cut.face = v)), number(`${at}-diameter`, t("record.cut_diameter", { unit: mm }), "cut_diameter", cut.diameter_mm, (n) => (cut.diameter_mm = n), true)], { face: "upper" }),
		number("climb", t("record.climb", { unit: mm }), "climb", arm.climb_mm, (n) => (arm.climb_mm = n), true),
		button(t("record.arm_fewer", { n: k + 1 }), drop, { class: "small", data: { key: `${here}-fewer` } }));
}

/** Which arm it is. @param {App} app @param {string} here @param {Arm} arm @param {() => void} draw */
function nameFields(app, here, arm, draw) {
	const { t } = app;
	const known = ARM_NAMES.includes(arm.name);
	const list = select([...ARM_NAMES, "other"].map((n) => /** @type {[string, string]} */ ([n, t(`record.arm_${n}`)])), known ? arm.name : "other", () => {
		arm.name = list.value === "other" ? "" : list.value;
		draw();
	});
	list.id = `${here}-which`;
	list.dataset.key = list.id;
	const line = h("div", { class: "line" }, h("label", { for: list.id }, t("record.arm_which")), list);
	if (known) return [line];
	const name = h("input", { id: `${here}-name`, maxlength: "40", on: { input: () => (arm.name = name.value.trim()) } });
	name.value = arm.name;
	return [line, h("div", { class: "line" }, h("label", { for: name.id }, t("record.arm_name")), name)];
}

/** One of a few, all in sight. @param {App} app @param {string} name @param {string} legend @param {string} key @param {string[]} options @param {string} value @param {(value: string) => void} set */
function choice(app, name, legend, key, options, value, set) {
	const inputs = options.map((o) => h("input", { type: "radio", name, value: o, id: `${name}-${o}`, checked: o === value, on: { change: () => set(o) } }));
	return h("fieldset", { class: "choice faces" }, h("legend", {}, legend), ...inputs.flatMap((input, k) => [input, h("label", { for: input.id }, app.t(`${key}${options[k]}`))]));
}
