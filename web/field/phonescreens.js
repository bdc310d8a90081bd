// What waits on this phone, and what there is to say about the phone itself.

import { h, para, tap, title } from "./ui.js";
import { textOf } from "./recordtext.js";

/** @typedef {import("./app.js").App} App */

const SKEW_MS = 120_000;
/** What the line to the server says where nobody answers; all else is the server's own word. */
const UNREACHED = "the server cannot be reached";

/** "7 waiting on this phone, last sent 10:42". @param {App} app */
export function waitingText(app) {
	const n = app.outbox.waiting.length;
	const refused = app.outbox.state.entries.length - n;
	const line = [n ? app.t("waiting.count", { n }) : app.t("waiting.none"), app.lastSent ? app.t("waiting.last", { time: app.t.time(app.lastSent) }) : ""].filter(Boolean).join(", ");
	return refused ? `${line}. ${app.t("waiting.refused", { n: refused })}` : line;
}

/** The clock of this phone is off by this much, in minutes; 0 where it is near enough. @param {App} app */
export function minutesOff(app) {
	const skew = app.outbox.state.skewMs;
	return Math.abs(skew) > SKEW_MS ? Math.round(Math.abs(skew) / 60_000) : 0;
}

/** @param {App} app */
export function waitingScreen(app) {
	const { t } = app;
	const { entries, trouble, sending } = app.outbox.state;
	const refused = entries.filter((e) => e.refused !== undefined);
	const minutes = minutesOff(app);
	return [
		title(t("waiting.title")),
		para(waitingText(app), "large"),
		para(t("waiting.safe")),
		minutes ? h("p", { class: "boxed strong" }, t("waiting.clock", { n: minutes })) : null,
		para(sending ? t("waiting.sending") : trouble && app.outbox.waiting.length ? t("waiting.trouble", { why: trouble === UNREACHED ? t("waiting.unreached") : trouble }) : ""),
		h("div", { class: "stack" },
			tap(t("waiting.send"), "turn", () => void app.outbox.hurry(), { key: "send" }),
			entries.length ? tap(t("waiting.file"), "file", () => saveFile(app), { key: "file" }) : null,
			entries.length ? para(t("waiting.file_how")) : null),
		refused.length ? h("h2", {}, t("waiting.refused", { n: refused.length })) : null,
		...refused.map(({ event, refused: why }) =>
			h("section", { class: "boxed", data: { refused: event.id } },
				h("p", { class: "strong" }, textOf(app, event)), h("p", {}, t("waiting.reason", { why: why ?? "" })),
				tap(t("waiting.let_go"), null, async () => {
					await app.outbox.letGo(event.id);
					app.ledger.forget(event.id);
					await app.db.write([{ room: "log", remove: event.id }]).catch(() => {});
					app.draw();
				}, { key: `let-go-${event.id}` }))),
	];
}

/** All that waits, as the server takes it. @param {App} app */
function saveFile(app) {
	const body = JSON.stringify({ sent_at: new Date().toISOString(), events: app.outbox.state.entries.map((e) => e.event) }, null, 1);
	const link = h("a", { href: URL.createObjectURL(new Blob([body], { type: "application/json" })), download: `courson-${app.device}-${new Date().toISOString().slice(0, 16).replaceAll(":", "")}.json` });
	link.click();
	setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

/** @param {App} app */
export function aboutScreen(app) {
	const { t, settings } = app;
	const space = h("p", {});
	void Promise.all([navigator.storage?.persisted?.() ?? false, navigator.storage?.estimate?.() ?? {}]).then(([fast, { usage, quota }]) => {
		space.textContent = `${t(fast ? "about.fast" : "about.not_fast")} ${quota ? t("about.space", { used: t.number((usage ?? 0) / 1e6, 1), of: t.number(quota / 1e6) }) : ""}`;
	}).catch(() => {});
	const turn = (/** @type {string} */ text, /** @type {boolean} */ on, /** @type {() => void} */ act, /** @type {string} */ key) => h("button", { type: "button", class: "tap", role: "switch", "aria-checked": String(on), data: { key }, on: { click: () => (act(), app.draw()) } }, h("span", {}, `${text}: ${t(on ? "about.on" : "about.off")}`));
	return [
		title(t("about.title")),
		h("div", { class: "stack" },
			tap(t("about.name", { name: settings.name }), "person", () => app.go("#name"), { key: "about-name" }),
			tap(settings.crew ? t("about.crew", { crew: settings.crew }) : t("about.no_crew"), "list", () => app.go("#crew"), { key: "about-crew" }),
			tap(t("about.language"), "note", () => app.go("#language"), { key: "about-language" }),
			tap(t(settings.hand === "left" ? "about.left_hand" : "about.right_hand"), "turn", () => {
				app.set({ hand: settings.hand === "left" ? "right" : "left" });
				app.draw();
			}, { key: "about-hand" }),
			turn(t("about.gps"), settings.gps, () => app.set({ gps: !settings.gps }), "about-gps"),
			para(t("about.gps_how")),
			tap(t("waiting.title"), "phone", () => app.go("#waiting"), { key: "about-waiting" })),
		h("h2", {}, t("about.keeps")),
		space,
		para(t(matchMedia("(display-mode: standalone)").matches ? "about.installed" : "about.install")),
		para(t(isSecureContext && "serviceWorker" in navigator ? "about.offline_ready" : "about.not_secure")),
		para(t("about.version", { version: app.version || "–", device: app.device })),
	];
}
