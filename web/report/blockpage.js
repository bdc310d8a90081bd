// How every page about one block begins: its texts, the estate, what its address
// says, the head, the state of the line; and how its address is kept.

import { createApi } from "../lib/api.js";
import { createSignal } from "../lib/signal.js";
import { textsIn } from "../lib/text.js";
import { createApp, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { mountStatus } from "../map/status.js";
import { en } from "../text/en.js";
import { follow } from "./follow.js";

/**
 * @typedef {import("../map/app.js").App} App
 * @typedef {{block: string, season: number}} BlockAbout what every such address says
 */

/**
 * @template {BlockAbout} A
 * @typedef {{app: App, about: import("../lib/signal.js").Signal<A>}} BlockPage what all parts of a page share
 */

/**
 * @template {BlockAbout} A
 * @typedef {object} How
 * @property {(hash: string) => Partial<A>} read what an address says
 * @property {(about: A) => string} write
 * @property {Omit<A, "block" | "season">} plain where an address says nothing
 * @property {(page: BlockPage<A>, place: HTMLElement) => void} head
 * @property {(page: BlockPage<A>) => {reload: () => void}} body
 */

/** @param {string} id */
export const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** Opens the page; what cannot be read is said, with a way to try again. @template {BlockAbout} A @param {How<A>} how */
export function openBlockPage(how) {
	const t = textsIn(en, "en");
	for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
	for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
	watchPress();
	void begin(t, how);
}

/** @template {BlockAbout} A @param {import("../lib/text.js").Texts} t @param {How<A>} how */
async function begin(t, how) {
	const api = createApi((input, init) => fetch(input, init));
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	const from = how.read(location.hash);
	let app;
	try {
		const [estate, legends] = await Promise.all([api.estate(), api.legends()]);
		app = await createApp({ api, t, estate, legends, from: { season: from.season } });
		const { season } = app.view.get();
		const { blocks } = await api.blocks(season);
		app.blocks.set({ state: "ready", season, list: blocks ?? [], trouble: "", at: Date.now() });
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("app.failed", { why: why(error) })), button(t("app.try_again"), () => void begin(t, how)));
		return;
	}
	opening.remove();
	start(app, from, how);
}

/** @template {BlockAbout} A @param {App} app @param {Partial<A>} from @param {How<A>} how */
function start(app, from, how) {
	const first = app.blocks.get().list[0];
	const about = createSignal(/** @type {A} */ (/** @type {unknown} */ ({ block: first?.code ?? "", ...how.plain, ...from, season: app.view.get().season })));
	const page = { app, about };
	document.documentElement.dataset.ground = app.ground.get().wish === "auto" ? "" : app.ground.get().name;
	app.announce = (text) => (at("announce").textContent = text);
	keepAddress(about, how);
	how.head(page, at("head"));
	const status = mountStatus(app, at("status"));
	const { reload } = how.body(page);
	follow(page, { onLine: status.line, reload });
	void app.outbox.open();
	at("page").hidden = false;
}

/** @template {BlockAbout} A @param {import("../lib/signal.js").Signal<A>} about @param {How<A>} how */
function keepAddress(about, { read, write, plain }) {
	let going = false;
	about.on((now) => {
		if (!going && write(now) !== location.hash) history.pushState(null, "", write(now));
	});
	history.replaceState(null, "", write(about.get()));
	addEventListener("popstate", () => {
		going = true;
		about.set(/** @type {Partial<A>} */ ({ ...plain, ...read(location.hash) }));
		going = false;
	});
}
