// Whether the page hears of changes, and whether all records have been sent: in
// words, always.

import { button, h, show } from "./dom.js";
import { dayText, describe } from "./history.js";
import { timeText } from "./legend.js";

/** @typedef {import("./app.js").App} App */

const SKEW_WARN_MS = 120_000;

/**
 * @param {App} app
 * @param {HTMLElement} place
 */
export function mountStatus(app, place) {
	let line = "connecting";
	let refused = 0;
	const draw = () => {
		const { entries, sending, lastSent } = app.outbox.state;
		const waiting = entries.filter((e) => e.refused === undefined).length;
		const held = entries.length - waiting;
		document.documentElement.dataset.line = line;
		document.documentElement.dataset.waiting = String(waiting);
		const words = [waiting ? app.t(sending ? "outbox.sending" : "outbox.waiting", { n: waiting }) : app.t("outbox.none")];
		if (held) words.push(app.t("outbox.refused", { n: held }));
		if (lastSent) words.push(app.t("outbox.last", { time: timeText(app, lastSent) }));
		show(place, h("span", { class: `line-state state-${line}` }, app.t(`line.${line}`)),
			button(words.join(" · "), () => openTray(app), { class: waiting || held ? "outbox outbox-waiting" : "outbox", data: { key: "outbox" } }));
		if (held > refused) app.announce(app.t("outbox.refused", { n: held }));
		refused = held;
	};
	app.outbox.on(draw);
	draw();
	return {
		/** @param {import("../lib/stream.js").LineState} state */
		line(state) {
			line = state;
			draw();
		},
	};
}

/**
 * The records on this computer: those that wait, and those the server refused,
 * each with the reason, until a person lets it go.
 * @param {App} app
 */
function openTray(app) {
	const { t } = app;
	const dialog = h("dialog", { class: "dialog tray", "aria-labelledby": "tray-title" });
	const list = h("div", {});
	const draw = () => {
		const { entries, trouble, skewMs } = app.outbox.state;
		const waiting = entries.filter((e) => e.refused === undefined);
		show(list,
			app.volatile ? h("p", { class: "trouble" }, t("outbox.volatile")) : null,
			Math.abs(skewMs) > SKEW_WARN_MS ? h("p", { class: "trouble" }, t("outbox.skew", { minutes: t("outbox.minutes", { n: Math.round(Math.abs(skewMs) / 60_000) }) })) : null,
			trouble && waiting.length ? h("p", { class: "trouble" }, t("outbox.trouble", { why: trouble })) : null,
			h("p", {}, waiting.length ? t("outbox.waiting", { n: waiting.length }) : t("outbox.none")),
			h("ul", { class: "history" }, ...entries.map((e) => entry(app, e))));
	};
	app.outbox.on(draw);
	draw();
	const close = () => dialog.close();
	dialog.append(h("h2", { id: "tray-title" }, t("outbox.title")), list,
		h("div", { class: "acts" }, button(t("outbox.now"), () => void app.outbox.hurry()), button(t("outbox.save"), () => saveFile(app)), button(t("outbox.close"), close)));
	dialog.addEventListener("close", () => {
		app.outbox.listeners.delete(draw);
		dialog.remove();
	});
	document.body.append(dialog);
	dialog.showModal();
}

/** @param {App} app @param {import("../lib/outbox.js").Entry} e */
function entry(app, { event, refused }) {
	return h("li", {},
		h("p", { class: "what" }, describe(app, event)),
		h("p", { class: "when" }, `${dayText(app, event.at)} · ${app.t("vine.for_many", { n: event.vines?.length ?? 1 })}`),
		refused === undefined ? null : h("p", { class: "trouble" }, app.t("outbox.why_refused", { why: refused })),
		refused === undefined ? null : button(app.t("outbox.let_go"), () => void app.outbox.letGo(event.id), { class: "small" }));
}

/** A last resort: the records as a file, as they would be sent. @param {App} app */
function saveFile(app) {
	const events = app.outbox.state.entries.map((e) => e.event);
	const address = URL.createObjectURL(new Blob([JSON.stringify({ sent_at: new Date().toISOString(), events }, null, "\t")], { type: "application/json" }));
	const link = h("a", { href: address, download: "records.json" });
	link.click();
	setTimeout(() => URL.revokeObjectURL(address), 60_000);
}
