// Buttons for gloves, short words on what happened, and the guard against the
// second tap of a wet finger.

import { h, icon as draw } from "../map/dom.js";
import { ICONS } from "./icons.js";

export { h };

/** @typedef {import("./app.js").App} App */

const GUARD_MS = 300;
/** On keys for numbers, where the same digit twice is meant: only what no finger does on purpose. */
const KEY_GUARD_MS = 80;
const SAME_PLACE_PX = 40;

/** A second tap within 0.3 s on the same place is none. To be called once. */
export function guardTaps() {
	let last = { at: -GUARD_MS, x: 0, y: 0 };
	addEventListener(
		"click",
		(e) => {
			if (e.detail === 0) return; // by keyboard, or by a label
			const guard = e.target instanceof Element && e.target.closest(".key") ? KEY_GUARD_MS : GUARD_MS;
			const again = e.timeStamp - last.at < guard && Math.hypot(e.clientX - last.x, e.clientY - last.y) < SAME_PLACE_PX;
			if (again) {
				e.preventDefault();
				e.stopImmediatePropagation();
			} else last = { at: e.timeStamp, x: e.clientX, y: e.clientY };
		},
		{ capture: true },
	);
}

/** @param {keyof typeof ICONS} name */
export const icon = (name) => draw(ICONS[name]);

/**
 * A large button with a drawing and a word.
 * @param {string} text
 * @param {keyof typeof ICONS | null} drawing
 * @param {() => any} act
 * @param {Record<string, any>} [props] key names it for tests and for the focus
 */
export function tap(text, drawing, act, { key, class: cls = "", ...props } = {}) {
	return h("button", { type: "button", class: `tap ${cls}`.trim(), data: key ? { key } : {}, ...props, on: { click: act } }, drawing && icon(drawing), h("span", {}, text));
}

/** @param {string | null} text */
export const para = (text, cls = "") => (text ? h("p", { class: cls || null }, text) : null);

/** @param {string} text */
export const title = (text) => h("h1", { tabindex: "-1" }, text);

/** A short pattern on each mark, another for a refusal. @param {number | number[]} pattern */
export function buzz(pattern) {
	navigator.vibrate?.(pattern);
}

/** Says in words what happened, for eyes and ears. @param {string} text */
export function say(text) {
	const place = document.getElementById("said");
	if (place) place.textContent = text;
}

/** A tap was not kept: nothing counts, and everybody can see so. @param {App} app @param {unknown} error */
export function refuse(app, error) {
	const full = error instanceof DOMException && (error.name === "QuotaExceededError" || /quota|full|space/i.test(error.message));
	buzz([200, 100, 200]);
	const place = document.getElementById("refusal");
	if (!place) return;
	place.replaceChildren(
		h("p", {}, app.t(full ? "refusal.full" : "refusal.other", { why: error instanceof Error ? error.message : String(error) })),
		tap(app.t("refusal.seen"), null, () => {
			place.replaceChildren();
			place.hidden = true;
		}, { key: "refusal-seen" }),
		tap(app.t("waiting.title"), "phone", () => app.go("#waiting")),
	);
	place.hidden = false;
}

/**
 * A number with a button on either side; put() sets it from outside.
 * @param {App} app
 * @param {{label: string, value: number | null, least: number, most: number, key: string, show?: (n: number) => string, on: (n: number) => void}} parts
 */
export function stepper(app, { label, value, least, most, key, show = (n) => app.t.number(n), on }) {
	let now = value;
	const out = h("output", { class: "number", "aria-live": "polite" }, now === null ? "–" : show(now));
	const put = (/** @type {number} */ n) => {
		now = Math.min(most, Math.max(least, n));
		out.textContent = show(now);
		on(now);
	};
	const step = (/** @type {number} */ by) => put(now === null ? (by > 0 ? Math.max(least, 1) : least) : now + by);
	// Counting up quickly is meant here: these two are not guarded by place but by the number itself.
	const element = h("div", { class: "stepper", role: "group", "aria-label": label },
		h("span", { class: "step-label" }, label),
		h("button", { type: "button", class: "tap step", data: { key: `${key}-less` }, "aria-label": app.t("step.less", { what: label }), on: { click: () => step(-1) } }, "−"),
		out,
		h("button", { type: "button", class: "tap step", data: { key: `${key}-more` }, "aria-label": app.t("step.more", { what: label }), on: { click: () => step(1) } }, "+"));
	return Object.assign(element, { put });
}

/**
 * Keys 0 to 9 for a number.
 * @param {App} app
 * @param {(digits: string) => void} on
 */
export function keypad(app, on) {
	let digits = "";
	const out = h("output", { class: "typed", "aria-live": "polite" }, "–");
	const put = (/** @type {string} */ d) => {
		digits = d === "" ? digits.slice(0, -1) : (digits + d).slice(0, 5);
		out.textContent = digits || "–";
		on(digits);
	};
	const key = (/** @type {string} */ d) => h("button", { type: "button", class: "tap key", data: { key: `digit-${d}` }, on: { click: () => put(d) } }, d);
	return h("div", { class: "keypad" }, out, ..."123456789".split("").map(key), h("span", {}), key("0"),
		h("button", { type: "button", class: "tap key", data: { key: "digit-back" }, "aria-label": app.t("keypad.back"), on: { click: () => put("") } }, "⌫"));
}
