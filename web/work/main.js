// The page of work begins here: crews, their orders, and how far they have got.

import { createApi } from "../lib/api.js";
import { createSignal } from "../lib/signal.js";
import { textsIn } from "../lib/text.js";
import { createApp, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { mountStatus } from "../map/status.js";
import { en } from "../text/en.js";
import { workApi } from "./api.js";
import { follow } from "./follow.js";
import { PARTS, readWork, writeWork } from "./hash.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/signal.js").Signal<import("./hash.js").WorkAbout>} AboutSignal
 *
 * @typedef {object} Work what all parts of the page share
 * @property {App} app
 * @property {AboutSignal} about
 * @property {import("./api.js").WorkApi} api
 * @property {import("./api.js").Operation[]} operations
 */

/** The operation shown where the address names none the estate has. */
const USUAL = "pruning";

const t = textsIn(en, "en");
const api = createApi((input, init) => fetch(input, init));
const more = workApi((input, init) => fetch(input, init));

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

function fillTexts() {
	for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
	for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
}

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	const from = readWork(location.hash);
	let app;
	let operations;
	try {
		const [estate, legends, list] = await Promise.all([api.estate(), api.legends(), more.operations()]);
		operations = list;
		app = await createApp({ api, t, estate, legends, from: { season: from.season } });
		const { season } = app.view.get();
		const { blocks } = await api.blocks(season);
		app.blocks.set({ state: "ready", season, list: blocks ?? [], trouble: "", at: Date.now() });
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("app.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
		return;
	}
	opening.remove();
	start(app, operations, from);
}

/** @param {App} app @param {import("./api.js").Operation[]} operations @param {Partial<import("./hash.js").WorkAbout>} from */
function start(app, operations, from) {
	const plain = { part: /** @type {import("./hash.js").WorkPart} */ (PARTS[0]), order: "", operation: USUAL };
	const about = createSignal({ ...plain, ...from, season: app.view.get().season });
	if (!operations.some((o) => o.name === about.get().operation)) about.set({ operation: operations[0]?.name ?? USUAL });
	/** @type {Work} */
	const work = { app, about, api: more, operations };
	document.documentElement.dataset.ground = app.ground.get().wish === "auto" ? "" : app.ground.get().name;
	app.announce = (text) => (at("announce").textContent = text);
	keepAddress(about, plain);
	mountHead(work, at("head"));
	const status = mountStatus(app, at("status"));
	const page = mountPage(work, at("work"));
	follow(work, { onLine: status.line, reload: page.reload });
	void app.outbox.open();
	at("page").hidden = false;
}

/** @param {AboutSignal} about @param {Partial<import("./hash.js").WorkAbout>} plain */
function keepAddress(about, plain) {
	let going = false;
	about.on((now) => {
		if (!going && writeWork(now) !== location.hash) history.pushState(null, "", writeWork(now));
	});
	history.replaceState(null, "", writeWork(about.get()));
	addEventListener("popstate", () => {
		going = true;
		about.set({ ...plain, ...readWork(location.hash) });
		going = false;
	});
}

fillTexts();
watchPress();
void begin();
