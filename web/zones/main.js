// The page of zones and rates of one block begins here.

import { createApi } from "../lib/api.js";
import { createSignal } from "../lib/signal.js";
import { textsIn } from "../lib/text.js";
import { readZones, writeZones } from "../lib/zonehash.js";
import { createApp, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { mountStatus } from "../map/status.js";
import { follow } from "../report/follow.js";
import { en } from "../text/en.js";
import { zonesApi } from "./api.js";
import { mountHead } from "./head.js";
import { mountPage } from "./page.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/signal.js").Signal<import("../lib/zonehash.js").ZonesAbout>} AboutSignal
 * @typedef {{app: App, about: AboutSignal, ask: import("./api.js").ZonesApi, begin: {order: import("../lib/zones.js").Order | null}}} ZonesPage what all parts of the page share; begin: an order to go on with
 */

const t = textsIn(en, "en");
const fetcher = (/** @type {any} */ input, /** @type {any} */ init) => fetch(input, init);
const api = createApi(fetcher);

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

function fillTexts() {
	for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
	for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
}

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	const from = readZones(location.hash);
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

/** @param {App} app @param {Partial<import("../lib/zonehash.js").ZonesAbout>} from */
function start(app, from) {
	const first = app.blocks.get().list[0];
	/** @type {AboutSignal} */
	const about = createSignal({ block: first?.code ?? "", ...PLAIN, ...from, season: app.view.get().season });
	const page = { app, about, ask: zonesApi(fetcher), begin: { order: null } };
	document.documentElement.dataset.ground = app.ground.get().wish === "auto" ? "" : app.ground.get().name;
	app.announce = (text) => (at("announce").textContent = text);
	keepAddress(about);
	mountHead(page, at("head"));
	const status = mountStatus(app, at("status"));
	const { reload } = mountPage(page, at("zones"));
	follow(/** @type {any} */ (page), { onLine: status.line, reload });
	void app.outbox.open();
	at("page").hidden = false;
}

/** @type {Pick<import("../lib/zonehash.js").ZonesAbout, "part" | "open" | "compared">} */
const PLAIN = { part: "cut", open: null, compared: null };

/** @param {AboutSignal} about */
function keepAddress(about) {
	let going = false;
	about.on((now) => {
		if (!going && writeZones(now) !== location.hash) history.pushState(null, "", writeZones(now));
	});
	history.replaceState(null, "", writeZones(about.get()));
	addEventListener("popstate", () => {
		going = true;
		about.set({ ...PLAIN, ...readZones(location.hash) });
		going = false;
	});
}

fillTexts();
watchPress();
void begin();
