// A row by its number on large keys; the block is kept from last time.

import { ordersOf } from "./app.js";
import { sortOrders, today } from "./homescreen.js";
import { h, keypad, para, tap, title } from "./ui.js";

/** @param {import("./app.js").App} app */
export function typeScreen(app) {
	const { t } = app;
	const all = sortOrders(ordersOf(app), today()).flatMap((o) => o.rows.map((row) => ({ order: o, row })));
	const codes = [...new Set(all.map((a) => a.row.code))];
	let code = codes.includes(app.settings.code) ? app.settings.code : (codes[0] ?? "");
	let label = "";
	const find = () => all.find((a) => a.row.code === code && a.row.label === label);
	const open = tap("", "row", () => {
		const found = find();
		if (found) app.go(`#row=${found.row.row}&order=${found.order.id}`);
	}, { key: "type-open", class: "main" });
	const news = h("p", { class: "strong", role: "status" });
	const tell = () => {
		const found = find();
		/** @type {HTMLElement} */ (open.lastChild).textContent = t("type.open", { block: code, row: label || "–" });
		open.disabled = !found;
		news.textContent = label && !found ? t("type.none", { block: code, row: label }) : "";
	};
	const choices = codes.map((c) => tap(c, null, () => {
		code = c;
		app.set({ code });
		choices.forEach((b, i) => b.setAttribute("aria-pressed", String(codes[i] === c)));
		tell();
	}, { key: `code-${c}`, "aria-pressed": String(c === code) }));
	tell();
	return [title(t("type.title")), codes.length ? null : para(t("home.none"), "large"), h("div", { class: "thirds codes" }, ...choices), keypad(app, (digits) => {
		label = digits;
		tell();
	}), news, h("div", { class: "dock" }, open)];
}
