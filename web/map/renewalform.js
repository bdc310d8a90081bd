// The renewal of an arm or of the trunk over several winters: when a low shoot is
// left, when it takes over, when the old wood goes.

import { sending } from "../lib/once.js";
import { why } from "./app.js";
import { button, h, show } from "./dom.js";
import { Slip, field, select, text, whole } from "./field.js";
import { toast } from "./toast.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("../lib/pruning.js").RenewalPlan} RenewalPlan
 */

const ARMS = ["left", "right", "head", "trunk"];
const STEPS = ["none", "left", "used", "removed"];

/**
 * @param {App} app
 * @param {number} vine id
 * @param {string} address
 * @param {RenewalPlan[]} before
 * @param {(done: boolean) => void} close
 */
export function renewalForm(app, vine, address, before, close) {
	const { t } = app;
	const { season } = app.view.get();
	const plans = before.length ? before.map((p) => ({ ...p })) : [fresh(season)];
	const body = h("div", { class: "arms" });
	const fault = h("p", { class: "fault", id: "renewal-fault", role: "alert" });
	/** @type {{fields: import("./field.js").Field[], plan: RenewalPlan}[]} */
	let shown = [];
	const draw = () => {
		shown = plans.map((plan, k) => ({ plan, fields: fieldsOf(app, plan, k) }));
		show(body, ...shown.map(({ fields, plan }, k) => h("fieldset", { class: "arm" }, h("legend", {}, t("renewal.one", { n: k + 1 })), ...fields.map((f) => f.line),
			button(t("renewal.drop", { n: k + 1 }), () => {
				keep();
				plans.splice(plans.indexOf(plan), 1);
				draw();
			}, { class: "small" }))),
		button(t("renewal.more"), () => {
			keep();
			plans.push(fresh(season));
			draw();
		}, { data: { key: "renewal-more" } }));
	};
	/** What is in the fields, as far as it can be read; true where all of it can. */
	const keep = () => {
		let sound = true;
		for (const { plan, fields } of shown)
			for (const f of fields)
				try {
					f.blame("");
					/** @type {any} */ (plan)[f.name] = f.read() ?? (f.name === "remove" ? 0 : undefined);
				} catch (error) {
					if (!(error instanceof Slip)) throw error;
					if (sound) f.blame(error.message);
					sound = false;
				}
		return sound;
	};
	const by = h("input", { id: "renewal-by", autocomplete: "name", maxlength: "80" });
	by.value = app.by.get();
	const submit = async () => {
		fault.textContent = "";
		if (!keep()) return;
		app.by.set(by.value.trim());
		try {
			await app.api.saveRenewals(vine, app.by.get(), plans);
			toast(app, t("renewal.saved"));
			close(true);
		} catch (error) {
			fault.textContent = t("renewal.failed", { why: why(error) });
		}
	};
	draw();
	return h("form", { class: "record-form renewal-form", novalidate: true, on: { submit: sending(submit) } }, h("h3", {}, t("renewal.title", { address })), h("p", { class: "hint" }, t("renewal.hint")), body,
		h("div", { class: "line" }, h("label", { for: by.id }, t("pruning.who")), by), fault,
		h("div", { class: "acts" }, h("button", { type: "submit", class: "main" }, t("renewal.save")), button(t("record.cancel"), () => close(false))));
}

/** A shoot left this winter, used in the next, old wood gone in the one after. @param {number} season @returns {RenewalPlan} */
function fresh(season) {
	return { arm: "left", left: season, use: season + 1, remove: season + 2, done: "none" };
}

/** @param {App} app @param {RenewalPlan} plan @param {number} k */
function fieldsOf(app, plan, k) {
	const { t } = app;
	const id = `renewal${k}`;
	const year = (/** @type {"left" | "use" | "remove"} */ name, needed = true) => {
		const control = h("input", { inputmode: "numeric", class: "short" });
		control.value = plan[name] ? String(plan[name]) : "";
		const read = whole(app, 1850, 2200, plan.left);
		return field(app, id, name, t(`renewal.${name}`), control, (typed) => {
			if (!typed && needed) throw new Slip(t("record.missing"));
			return read(typed);
		}, needed ? undefined : t("renewal.remove_hint"));
	};
	const arms = ARMS.includes(plan.arm) ? ARMS : [...ARMS, plan.arm];
	return [
		field(app, id, "arm", t("renewal.arm"), select(arms.map((a) => /** @type {[string, string]} */ ([a, t.has(`arm.${a}`) ? t(`arm.${a}`) : a])), plan.arm), text),
		year("left"), year("use"), year("remove", false),
		field(app, id, "done", t("renewal.done"), select(STEPS.map((s) => /** @type {[string, string]} */ ([s, t(`renewal.done_${s}`)])), plan.done || "none"), text),
	];
}
