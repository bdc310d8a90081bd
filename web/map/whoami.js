// Who is signed in, with the way to people and devices and the way out: one line
// in the head of each page. Empty where the server is open without users.

import { linksOf, signOut, whoami } from "../lib/whoami.js";
import { button, h } from "./dom.js";

/** @param {{t: import("../lib/text.js").Texts}} app @param {boolean} [there] the page has a link to people of its own, or is that page */
export function whoLine({ t }, there = false) {
	const place = h("div", { class: "whoami", hidden: true });
	const ask = (/** @type {RequestInfo | URL} */ input, /** @type {RequestInit} */ init) => fetch(input, init);
	const leave = async () => {
		try {
			await signOut(/** @type {typeof fetch} */ (ask));
			location.assign("/signin");
		} catch {
			fault.textContent = t("who.not_out");
		}
	};
	const fault = h("span", { class: "fault", role: "alert" });
	void whoami(/** @type {typeof fetch} */ (ask)).then((me) => {
		if (!me) return;
		const { people, own } = linksOf(me);
		place.append(
			...(people && !there ? [h("a", { class: "button", href: people, data: { key: "people" } }, t("who.people"))] : []),
			h("a", { class: "who-name", href: own, "aria-label": t("who.own", { name: me.name }), data: { key: "who" } }, me.name),
			button(t("who.out"), () => void leave(), { data: { key: "sign-out" } }), fault);
		place.hidden = false;
	});
	return place;
}
