// The gaps and replants of one block begin here.

import { createApi } from "../lib/api.js";
import { readReplants, writeReplants } from "../lib/replants.js";
import { createSignal } from "../lib/signal.js";
import { textsIn } from "../lib/text.js";
import { createApp, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { mountStatus } from "../map/status.js";
import { follow } from "../report/follow.js";
import { en } from "../text/en.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/signal.js").Signal<import("../lib/replants.js").ReplantAbout>} AboutSignal
 * @typedef {{app: App, about: AboutSignal}} ReplantsPage what all parts of the page share
 */

const t = textsIn(en, "en");
const api = createApi((input, init) => fetch(input, init));

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

function fillTexts() {
	for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
	for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
}

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	const from = readReplants(location.hash);
	let app;
	try {
		const [estate, legends] = await Promise.all([api.estate(), api.legends()]);
		app = await createApp({ api, t, estate, legends, from: { season: from.season } });
		const { season } = app.view.get();
		const { blocks } = await api.blocks(season);
		app.blocks.set({ state: "ready", season, list: blocks ?? [], trouble: "", at: Date.now() });
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("app.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
		return;
	}
	opening.remove();
	start(app, from);
}

/** @param {App} app @param {Partial<import("../lib/replants.js").ReplantAbout>} from */
function start(app, from) {
	const first = app.blocks.get().list[0];
	const about = createSignal({ block: first?.code ?? "", part: /** @type {import("../lib/replants.js").ReplantPart} */ ("gaps"), ...from, season: app.view.get().season });
	const page = { app, about };
	document.documentElement.dataset.ground = app.ground.get().wish === "auto" ? "" : app.ground.get().name;
	app.announce = (text) => (at("announce").textContent = text);
	keepAddress(about);
	mountHead(page, at("head"));
	const status = mountStatus(app, at("status"));
	const parts = mountPage(page, at("replants"));
	follow(/** @type {any} */ (page), { onLine: status.line, reload: parts.reload });
	void app.outbox.open();
	at("page").hidden = false;
}

/** @param {AboutSignal} about */
function keepAddress(about) {
	let going = false;
	about.on((now) => {
		if (!going && writeReplants(now) !== location.hash) history.pushState(null, "", writeReplants(now));
	});
	history.replaceState(null, "", writeReplants(about.get()));
	addEventListener("popstate", () => {
		going = true;
		about.set({ part: "gaps", ...readReplants(location.hash) });
		going = false;
	});
}

fillTexts();
watchPress();
void begin();
