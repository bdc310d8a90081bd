// The way to the page that draws blocks and rows. Hidden from those whose role may
// not use it.

import { asker } from "../lib/whoami.js";
import { h } from "./dom.js";

/** @param {import("../lib/text.js").Texts} t */
export function groundLink(t) {
	const link = h("a", { class: "button", href: "/ground", hidden: true, data: { key: "ground" } }, t("ground.link"));
	void asker((input, init) => fetch(input, init)).then((me) => (link.hidden = me?.role !== "manager" && me?.role !== "open"));
	return link;
}
