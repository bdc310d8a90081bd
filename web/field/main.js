// Starts the phone page and shows the screen that the address names.

import { enter, takeBack } from "./acts.js";
import { makeApp, orderOf, ordersOf } from "./app.js";
import { refresh } from "./bundle.js";
import { crewScreen, languageScreen, nameScreen } from "./firstscreen.js";
import { homeScreen, orderScreen, sortOrders, today } from "./homescreen.js";
import { completeScreen, leftScreen, markScreen, noteScreen, todoScreen } from "./marks.js";
import { aboutScreen, minutesOff, waitingScreen, waitingText } from "./phonescreens.js";
import { checkScreen, doneToScreen, moreScreen, standScreen, wholeScreen } from "./rowmore.js";
import { rowScreen } from "./rowscreen.js";
import { scanScreen } from "./scan.js";
import { typeScreen } from "./typerow.js";
import { measureScreen } from "./measurescreen.js";
import { lookScreen } from "./lookscreen.js";
import { weighScreen } from "./weighscreen.js";
import { likelyLanguage, textsFor } from "./texts.js";
import { guardTaps, h, icon, para, refuse, say, tap, title } from "./ui.js";
import { keepVersion } from "./update.js";
import { awake } from "./wake.js";
import { watchPlace } from "./place.js";
import { tally } from "./walk.js";

/**
 * @typedef {import("./app.js").App} App
 * @typedef {import("./acts.js").Here} Here
 *
 * @typedef {object} Screen what is on it, or a row and which of its screens
 * @property {string} [name]
 * @property {string | null} back
 * @property {(Node | null)[]} [nodes]
 * @property {Here} [here]
 * @property {string} [at]
 */

const body = /** @type {HTMLElement} */ (document.getElementById("screen"));
const head = /** @type {HTMLElement} */ (document.getElementById("head"));
const REFRESH_MS = 5 * 60_000;

/** @type {App} */
let app;
let shownHash = "";
let drawn = 0;

/** @param {Here} here @param {string} at */
function rowPart(here, at) {
	switch (at) {
		case "more":
			return moreScreen(app, here);
		case "mark":
			return markScreen(app, here);
		case "left":
			return leftScreen(app, here);
		case "note":
			return noteScreen(app, here);
		case "to":
			return doneToScreen(app, here);
		case "whole":
			return wholeScreen(app, here);
		case "off":
			return standScreen(app, here, true);
		case "measure":
			return measureScreen(app, here, "");
		case "goto":
			return standScreen(app, here, false);
		case "check":
			return checkScreen(app, here, async (vines) => {
				const list = app.ledger.about(here.row.row, new Set(vines)).filter((e) => e.event.kind !== "note");
				return !list.length || takeBack(app, here, list, () => {});
			});
	}
	if (at.startsWith("measure-")) return measureScreen(app, here, at.slice("measure-".length));
	return rowScreen(app, here);
}

/** The order that a row belongs to: the one named, else the first with work left. @param {number} row @param {string} order */
function findRow(row, order) {
	const orders = sortOrders(ordersOf(app), today());
	const named = orders.filter((o) => o.id === order);
	const all = (named.length ? named : orders).flatMap((o) => o.rows.filter((r) => r.row === row).map((r) => ({ order: o, row: r })));
	return all;
}

/** The screen of an address. @param {string} hash @returns {Promise<Screen>} */
async function screen(hash) {
	const words = new URLSearchParams(hash.slice(1));
	const name = nameIn(hash);
	if (!app.settings.language || name === "language") return { name: "language", back: app.settings.language ? "#about" : null, nodes: languageScreen(app) };
	if (!app.settings.name || name === "name") return { name: "name", back: app.settings.name ? "#about" : null, nodes: nameScreen(app) };
	if (name === "row") return rowNamed(words);
	if (app.settings.crew === null && !app.kept && name !== "about" && name !== "waiting" && !app.net.get().loading && app.net.get().trouble) return { name: "crew", back: null, nodes: [title(app.t("home.title")), ...firstLoad()] };
	if (app.settings.crew === null || name === "crew") return { name: "crew", back: app.settings.crew === null ? null : "#about", nodes: crewScreen(app) };
	if (name === "order") {
		const order = orderOf(app, words.get("order") ?? "");
		if (order) return { back: "#", nodes: orderScreen(app, order) };
	}
	if (name === "todo") return words.get("todo") ? { name: "complete", back: "#todo", nodes: completeScreen(app, words.get("todo") ?? "") } : { back: "#", nodes: todoScreen(app) };
	if (name === "weigh") return weighScreen(app, words);
	if (name === "look") return lookScreen(app, words);
	if (name === "waiting") return { back: "#", nodes: waitingScreen(app) };
	if (name === "about") return { back: "#", nodes: aboutScreen(app) };
	if (name === "type") return { back: "#", nodes: typeScreen(app) };
	if (name === "scan") return { back: "#", nodes: scanScreen(app) };
	return { name: "home", back: null, nodes: homeScreen(app) };
}

function firstLoad() {
	return [para(app.t("home.first_load"), "large"), tap(app.t("home.refresh"), "turn", () => void refresh(app), { key: "refresh" })];
}

/** @param {URLSearchParams} words @returns {Promise<Screen>} */
async function rowNamed(words) {
	const [found] = findRow(Number(words.get("row")), words.get("order") ?? "");
	if (!found) return { back: "#", nodes: [title(app.t("row.unknown")), para(app.t(app.kept ? "row.unknown_how" : "home.nothing_yet"), "large")] };
	const here = await enter(app, found.order, found.row);
	// A tag tells the end at which it hangs: the walk begins there, unless it has begun.
	const end = words.get("end");
	if ((end === "near" || end === "far") && here.state.start !== end && tally(here.walk).done === 0) {
		here.state.start = end;
		here.state.at = 0;
		return { back: `#order=${found.order.id}`, here: await enter(app, found.order, found.row), at: "" };
	}
	const at = words.get("at") ?? "";
	return { back: at ? `#row=${found.row.row}&order=${found.order.id}` : `#order=${found.order.id}`, here, at };
}

/** @param {string} hash */
const nameIn = (hash) => hash.slice(1).split(/[=&]/)[0];

/**
 * One drawing after the other; a newer one overtakes. The address may have gone on
 * by the time a screen is there: then that of the new one is drawn next.
 */
async function draw() {
	const mine = ++drawn;
	const { hash } = location;
	const what = await screen(hash);
	if (mine !== drawn) return;
	const { here } = what;
	const nodes = what.nodes ?? (here ? rowPart(here, what.at ?? "") : []);
	const fresh = hash !== shownHash;
	const key = /** @type {HTMLElement | null} */ (document.activeElement)?.dataset?.key;
	body.replaceChildren(.../** @type {Node[]} */ (nodes.filter((n) => n)));
	document.body.classList.toggle("left-hand", app.settings.hand === "left");
	drawHead(what.back, body.querySelector(".where > h1"));
	drawBar();
	if (fresh) {
		scrollTo(0, 0);
		shownHash = hash;
		document.querySelector("h1")?.focus({ preventScroll: true });
	} else if (key) /** @type {HTMLElement | null} */ (document.querySelector(`[data-key="${CSS.escape(key)}"]`))?.focus({ preventScroll: true });
	if (app.said || fresh) say(app.said);
	app.said = "";
	document.documentElement.dataset.screen = here ? `row${what.at ? `-${what.at}` : ""}` : what.name || nameIn(hash) || "home";
	document.documentElement.dataset.hash = shownHash;
	if (here) document.documentElement.dataset.at = String(here.state.at);
	awake(!!here || ["weigh", "look"].includes(nameIn(hash)));
	watchPlace(app, here?.row ?? null);
}

/** Screens that show what came from elsewhere; on the others somebody may be typing. */
const SHOWS_NEWS = ["home", "crew", "order", "row", "waiting", "todo", "weigh", "look", "look-place"];
let pressed = false;
let due = false;

/** Something came in the background. What a finger is on, or is typed in, stays. */
function news() {
	if (pressed) due = true;
	else if (SHOWS_NEWS.includes(document.documentElement.dataset.screen ?? "")) app.draw();
}

function letGo() {
	pressed = false;
	if (due) news();
	due = false;
}

/** @param {string | null} back @param {Element | null} name of the row, beside the way back: there is no room to lose below */
function drawHead(back, name) {
	head.replaceChildren(back === null ? h("span", { class: "brand" }, app.kept?.bundle.estate.name ?? "") : tap(app.t("app.back"), "back", () => app.go(back), { key: "back", class: "small" }));
	if (name) head.append(name);
}

/** The line that is always there: what waits, and what else must be known. */
function drawBar() {
	const bar = /** @type {HTMLElement} */ (document.getElementById("bar"));
	const n = app.outbox.waiting.length;
	document.documentElement.dataset.waiting = String(n);
	document.documentElement.dataset.trouble = app.outbox.state.trouble ?? "";
	document.documentElement.dataset.recorded = String(app.ledger.entries.size);
	document.documentElement.dataset.refused = String(app.outbox.state.entries.length - n);
	bar.hidden = !app.settings.language;
	const minutes = minutesOff(app);
	const text = waitingText(app) + (minutes ? `. ${app.t("waiting.clock_short", { n: minutes })}` : "");
	if (bar.dataset.text === text && bar.childElementCount) return;
	bar.dataset.text = text;
	bar.replaceChildren(h("button", { type: "button", class: "bar-button", data: { key: "bar" }, on: { click: () => app.go("#waiting") } }, icon(n ? "phone" : "done"), h("span", {}, text)));
}

async function start() {
	guardTaps();
	app = await makeApp();
	app.draw = () => void draw().catch((error) => refuse(app, error));
	app.news = news;
	for (const name of ["pointerup", "pointercancel"]) addEventListener(name, () => setTimeout(letGo), { capture: true });
	addEventListener("pointerdown", () => (pressed = true), { capture: true });
	const likely = app.settings.language || likelyLanguage(navigator.languages);
	app.t = textsFor(likely);
	document.documentElement.lang = likely;
	await keepVersion(app);
	let refused = "";
	app.outbox.on(({ entries }) => {
		drawBar();
		// What is refused does not count as done: lists and counters say so at once.
		const now = entries.filter((e) => e.refused !== undefined).map((e) => e.event.id).join();
		if (now !== refused || location.hash === "#waiting") news();
		refused = now;
		app.update?.();
	});
	app.net.on(({ loading }) => {
		document.documentElement.dataset.asking = loading ? "true" : "";
		if (["home", "crew"].includes(document.documentElement.dataset.screen ?? "")) news();
	});
	const bar = /** @type {HTMLElement} */ (document.getElementById("bar"));
	new ResizeObserver(() => document.documentElement.style.setProperty("--bar", `${bar.offsetHeight}px`)).observe(bar);
	addEventListener("hashchange", app.draw);
	const wake = () => {
		if (document.visibilityState !== "visible") return;
		void app.outbox.hurry();
		void refresh(app);
	};
	addEventListener("online", wake);
	document.addEventListener("visibilitychange", wake);
	setInterval(() => {
		if (document.visibilityState === "visible") void refresh(app);
	}, REFRESH_MS);
	await draw();
	document.documentElement.dataset.page = "ready";
	void app.outbox.kick();
	void refresh(app);
}

start().catch((error) => {
	// Without the browser's database nothing can be kept: say so rather than pretend.
	const t = textsFor(likelyLanguage(navigator.languages));
	body.replaceChildren(title(t("app.cannot")), h("p", { class: "large" }, t("app.cannot_how", { why: error instanceof Error ? error.message : String(error) })));
	document.documentElement.dataset.page = "failed";
});
