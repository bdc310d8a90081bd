// The page of people and devices begins here: users, phones of crews, tokens, the
// log of changes, and the own account. Who may only use a part sees only that.

import { textsIn } from "../lib/text.js";
import { keptText, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { whoLine } from "../map/whoami.js";
import { en } from "../text/en.js";
import { peopleApi } from "./api.js";
import { mountLinks } from "./links.js";
import { mountLog } from "./log.js";
import { mountMe } from "./me.js";
import { mountTokens } from "./tokens.js";
import { mountUsers } from "./users.js";
import { partOf, partsFor } from "./words.js";

/**
 * @typedef {object} People what all parts of the page share
 * @property {import("../lib/text.js").Texts} t
 * @property {import("./api.js").PeopleApi} api
 * @property {import("../lib/whoami.js").Me} me
 * @property {boolean} first there are no users yet
 * @property {(text: string) => void} announce
 * @property {(text: string) => void} say shows what was just done
 */

const t = textsIn(en, "en");
const api = peopleApi((input, init) => fetch(input, init), () => location.assign(`/signin?then=${encodeURIComponent("/people")}${location.hash}`));

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

/** @type {Record<import("./words.js").PeoplePart, (people: People, place: HTMLElement) => (() => void) | void>} */
const MOUNTS = { users: mountUsers, links: mountLinks, tokens: mountTokens, log: mountLog, me: mountMe };

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("people.loading")));
	try {
		const me = await api.me();
		const first = me.role === "open" && (await api.users()).length === 0;
		opening.hidden = true;
		start({ t, api, me, first, announce, say });
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("people.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
	}
}

/** @param {string} text */
function announce(text) {
	at("announce").textContent = text;
}

/** @param {string} text */
function say(text) {
	show(at("toast"), h("div", { class: "toast" }, h("span", { class: "toast-text" }, text), button(t("saved.dismiss"), () => show(at("toast")), { class: "toast-close" })));
	announce(text);
}

/** @param {People} people */
function start(people) {
	const parts = partsFor(people.me.role, people.first);
	const who = whoLine({ t }, true);
	/** @type {(() => void) | void} */
	let stop;
	const draw = () => {
		stop?.();
		const part = partOf(location.hash, parts);
		document.title = `${t(`people.part_${part}`)} · ${t("people.title")}`;
		const step = (/** @type {import("./words.js").PeoplePart} */ to) =>
			h("a", { class: "button", href: `#show=${to}`, "aria-current": part === to ? "page" : null, data: { key: `part-${to}` } }, t(`people.part_${to}`));
		const home = people.me.role === "crew" ? h("a", { class: "button", href: "/field" }, t("people.field")) : h("a", { class: "button", href: "/" }, t("people.map"));
		show(at("head"), home, h("p", { class: "report-estate" }, t("people.title")), who,
			parts.length > 1 ? h("nav", { class: "report-parts", "aria-label": t("people.parts") }, ...parts.map(step)) : null);
		const body = h("div", { class: "people-body" });
		show(at("people"), body);
		stop = MOUNTS[part](people, body);
	};
	addEventListener("hashchange", draw);
	draw();
	at("page").hidden = false;
}

for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
const ground = keptText("courson.ground").get();
if (ground === "light" || ground === "dark") document.documentElement.dataset.ground = ground;
document.querySelector(".skip")?.addEventListener("click", (e) => {
	e.preventDefault(); // the part shown stands behind the #
	at("people").focus();
});
watchPress();
void begin();
