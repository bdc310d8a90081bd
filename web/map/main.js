// The map page begins here.

import { createApi } from "../lib/api.js";
import { readHash } from "../lib/hash.js";
import { textsIn } from "../lib/text.js";
import { en } from "../text/en.js";
import { keepAddress } from "./address.js";
import { createApp, why } from "./app.js";
import { mountBlockList } from "./blocklist.js";
import { mountBlockPanel } from "./blockpanel.js";
import { mountChooseBar } from "./choosebar.js";
import { button, h, show, watchPress } from "./dom.js";
import { mountHeader } from "./header.js";
import { watchKeys } from "./keys.js";
import { readImages } from "./imagechoice.js";
import { mountLegend } from "./legend.js";
import { keepUp } from "./live.js";
import { followOperation } from "./operation.js";
import { mountPanes } from "./panes.js";
import { mountPatchPanel } from "./patchpanel.js";
import { mountPlaces } from "./places.js";
import { mountSearch } from "./search.js";
import { mountStatus } from "./status.js";
import { mountVinePanel } from "./vinepanel.js";

const t = textsIn(en, "en");
const api = createApi((input, init) => fetch(input, init));

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** Texts and names of what stands in the page itself. */
function fillTexts() {
	for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
	for (const e of document.querySelectorAll("[data-label]")) e.setAttribute("aria-label", t(e.getAttribute("data-label") ?? ""));
}

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("app.loading")));
	let estate;
	let legends;
	try {
		[estate, legends] = await Promise.all([api.estate(), api.legends()]);
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("app.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
		return;
	}
	const app = await createApp({ api, t, estate, legends, from: readHash(location.hash) });
	document.title = `${estate.name} · Courson`;
	app.announce = announcer(at("announce"));
	opening.remove();
	start(app);
}

/** @param {import("./app.js").App} app */
function start(app) {
	/** @type {ReturnType<typeof mountPanes> | null} */
	let panes = null;
	keepAddress(app);
	followOperation(app);
	mountHeader(app, at("head"));
	const places = mountPlaces(app, at("places"));
	const list = mountBlockList(app, places.list, { retry: () => void live.readAll() });
	mountSearch(app, places.search, list.filter);
	mountBlockPanel(app, places.block);
	mountVinePanel(app, at("vine"));
	mountPatchPanel(app, at("patch"));
	const inView = () => panes?.inView() ?? null;
	mountChooseBar(app, at("choose"), { inView });
	const status = mountStatus(app, at("status"));
	const legend = mountLegend(app, at("legend"), { inView });
	const live = keepUp(app, {
		refreshTiles: (bounds) => panes?.refreshTiles(bounds),
		onLine: status.line,
		onBack: () => panes?.retry(),
		onNewVersion: () => show(at("news"), h("p", {}, t("app.new_version"), " ", button(t("app.reload"), () => location.reload()))),
	});
	app.outbox.on(() => app.stands.setWaiting(app.outbox.waiting));
	void app.outbox.open();
	void readImages(app);
	at("page").hidden = false;
	panes = mountPanes(app, { map: at("map"), plan: at("plan"), table: at("table"), state: at("map-state") }, legend.redraw);
	watchKeys(app);
}

/**
 * Says a text to people who do not see the page. A repeated text is said again.
 * @param {HTMLElement} place
 */
function announcer(place) {
	let turn = 0;
	return (/** @type {string} */ text) => {
		turn = 1 - turn;
		place.textContent = turn ? text : `${text}\u00a0`;
	};
}

fillTexts();
watchPress();
void begin();
