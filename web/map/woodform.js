// Which spur and which cane to keep, from the shoots that stand on each arm: they
// are typed in as they are looked at, and the answer follows with its reasons and
// what else could be done. Nothing is kept.

import { readNumber } from "../lib/units.js";
import { why } from "./app.js";
import { button, h, show } from "./dom.js";
import { Slip, field, select, text } from "./field.js";
import { woodAnswer } from "./woodanswer.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./field.js").Field} Field
 * @typedef {import("../lib/pruning.js").ShootSeen} ShootSeen
 * @typedef {import("../lib/pruning.js").ArmSeen} ArmSeen
 */

const ARMS = ["left", "right", "head"];
const PLACES = /** @type {const} */ (["spur", "cane", "old wood"]);
const FACES = /** @type {const} */ (["", "below", "above", "side"]);
/** Lengths of a shoot and the most that can be meant, mm, as the server takes them. @type {[keyof ShootSeen & string, number, number][]} */
const LENGTHS = [["out_mm", -3000, 3000], ["base_mm", 0, 500], ["internode_mm", 0, 500], ["diameter_mm", 0, 60]];

/** A shoot of last winter's spur. @param {number} node @returns {ShootSeen} */
const fresh = (node) => ({ on: "spur", node, out_mm: 0, wood_years: 2, faces: "", base_mm: 0, internode_mm: 0, diameter_mm: 0, sound: true, base_bud_sound: true });

/**
 * @param {App} app
 * @param {{id: number, address: string, arms: string[], canes: number}} vine arms as they are recorded; canes it is to carry
 * @param {() => void} close
 */
export function woodForm(app, vine, close) {
	const { t } = app;
	/** @type {ArmSeen[]} */
	const arms = (vine.arms.length ? vine.arms : ["left", "right"]).map((name) => ({ name, shoots: [fresh(1), fresh(2)] }));
	const body = h("div", { class: "arms" });
	const fault = h("p", { class: "fault", id: "wood-fault", role: "alert" });
	const answer = h("div", { class: "wood-answer", role: "status" });
	/** @type {{fields: Field[], into: any}[]} */
	let shown = [];
	const draw = () => {
		shown = [];
		show(body, ...arms.map((arm, k) => armPart(app, arm, k, { arms, shown, keep, draw })), button(t("wood.arm_more"), () => {
			keep();
			arms.push({ name: ARMS.find((a) => !arms.some((o) => o.name === a)) ?? "", shoots: [fresh(1)] });
			draw();
		}, { data: { key: "wood-arm-more" } }));
	};
	/** What is in the fields, as far as it can be read; true where all of it can. */
	function keep() {
		let sound = true;
		for (const { fields, into } of shown)
			for (const f of fields)
				try {
					f.blame("");
					into[f.name] = f.read();
				} catch (error) {
					if (!(error instanceof Slip)) throw error;
					if (sound) f.blame(error.message);
					sound = false;
				}
		return sound;
	}
	const canes = select(["0", "1", "2"].map((n) => /** @type {[string, string]} */ ([n, t("vine.canes", { n: Number(n) })])), String(Math.min(2, Math.max(0, vine.canes))));
	const carry = field(app, "wood", "canes", t("wood.canes"), canes, Number);
	const limit = h("input", { class: "short", inputmode: "decimal" });
	const climb = field(app, "wood", "climb", t("wood.limit", { unit: app.units.unit("diameter") }), limit, millimetres(app, 0, 1000), t("wood.limit_hint"));
	let asked = 0;
	const submit = async (/** @type {Event} */ e) => {
		e.preventDefault();
		fault.textContent = "";
		if (!keep()) return;
		const mine = ++asked;
		answer.dataset.state = "asking";
		try {
			const got = await app.api.chooseWood({ vine: vine.id, season: app.view.get().season, canes: carry.read(), climb_limit_mm: climb.read(), arms });
			if (mine === asked) show(answer, ...woodAnswer(app, got));
		} catch (error) {
			if (error instanceof Slip) climb.blame(error.message);
			else if (mine === asked) fault.textContent = t("wood.failed", { why: why(error) });
		}
		if (mine === asked) delete answer.dataset.state;
	};
	draw();
	return h("form", { class: "record-form wood-form", novalidate: true, on: { submit } }, h("h3", {}, t("wood.title", { address: vine.address })), h("p", { class: "hint" }, t("wood.hint")),
		body, carry.line, climb.line, fault,
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main", data: { key: "wood-choose" } }, t("wood.choose")), button(t("wood.close"), close)), answer);
}

/**
 * @param {App} app
 * @param {ArmSeen} arm
 * @param {number} k
 * @param {{arms: ArmSeen[], shown: {fields: Field[], into: any}[], keep: () => boolean, draw: () => void}} form
 */
function armPart(app, arm, k, { arms, shown, keep, draw }) {
	const { t } = app;
	const names = ARMS.includes(arm.name) || !arm.name ? ARMS : [...ARMS, arm.name];
	const name = field(app, `wood${k}`, "name", t("record.arm_which"), select(names.map((n) => /** @type {[string, string]} */ ([n, t.has(`arm.${n}`) ? t(`arm.${n}`) : n])), arm.name || names[0]), text);
	shown.push({ fields: [name], into: arm });
	return h("fieldset", { class: "arm" }, h("legend", {}, t("record.arm", { n: k + 1 })), name.line,
		h("div", { class: "pieces" }, ...arm.shoots.map((shoot, n) => {
			const fields = shootFields(app, `wood${k}-shoot${n}`, shoot);
			shown.push({ fields, into: shoot });
			return h("fieldset", { class: "piece shoot" }, h("legend", {}, t("wood.shoot", { n: n + 1 })), ...fields.map((f) => f.line),
				button(t("wood.shoot_fewer", { n: n + 1 }), () => {
					keep();
					arm.shoots.splice(n, 1);
					draw();
				}, { class: "small" }));
		}), button(t("wood.shoot_more"), () => {
			keep();
			arm.shoots.push(fresh(arm.shoots.length + 1));
			draw();
		}, { data: { key: `wood${k}-more` } })),
		arms.length > 1 ? button(t("record.arm_fewer", { n: k + 1 }), () => {
			keep();
			arms.splice(k, 1);
			draw();
		}, { class: "small" }) : null);
}

/** @param {App} app @param {string} id @param {ShootSeen} shoot @returns {Field[]} */
function shootFields(app, id, shoot) {
	const { t, units } = app;
	const unit = units.unit("diameter");
	const check = (/** @type {"sound" | "base_bud_sound"} */ name) => {
		const box = h("input", { type: "checkbox", id: `${id}-${name}` });
		box.checked = shoot[name];
		return { name, line: h("label", { class: "check", for: box.id }, box, t(`wood.${name}`)), read: () => box.checked, blame() {}, raw: "" };
	};
	const node = h("input", { class: "short", inputmode: "numeric" });
	node.value = String(shoot.node);
	const lengths = LENGTHS.map(([name, low, high]) => {
		const input = h("input", { class: "short", inputmode: "decimal" });
		const value = Number(shoot[name]);
		if (value) input.value = t.number(units.shown("diameter", value), 2);
		return field(app, id, name, t(`wood.${name}`, { unit }), input, millimetres(app, low, high));
	});
	return [
		field(app, id, "on", t("wood.on"), select(PLACES.map((p) => /** @type {[string, string]} */ ([p, t(`wood.on_${p.replace(" ", "_")}`)])), shoot.on), text),
		field(app, id, "node", t("wood.node"), node, (typed) => {
			const n = typed === "" ? 0 : readNumber(typed);
			if (n === null || !Number.isInteger(n) || n < 0 || n > 60) throw new Slip(t("record.wrong_range", { from: "0", to: "60" }));
			return n;
		}),
		field(app, id, "faces", t("record.spur_faces"), select(FACES.map((f) => /** @type {[string, string]} */ ([f, t(`record.spur_${f || "unknown"}`)])), shoot.faces), (typed) => typed),
		...lengths, check("sound"), check("base_bud_sound"),
	];
}

/** Reads a length as it is shown into mm; nothing typed is 0, not measured. @param {App} app @param {number} low @param {number} high */
function millimetres({ t, units }, low, high) {
	return (/** @type {string} */ typed) => {
		const n = typed === "" ? 0 : readNumber(typed);
		const mm = n === null ? NaN : units.stored("diameter", n);
		if (!(mm >= low && mm <= high)) throw new Slip(t("record.wrong_range", { from: t.number(units.shown("diameter", low)), to: t.number(units.shown("diameter", high)) }));
		return mm;
	};
}
