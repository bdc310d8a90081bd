// The way to the page that takes files in, where files are what is missing. Hidden
// from those whose role may not use it.

import { asker, pagesFor } from "../lib/whoami.js";
import { h } from "./dom.js";

/** @param {import("../lib/text.js").Texts} t @param {string} [text] */
export function importLink(t, text = t("import.title")) {
	const link = h("a", { class: "button", href: "/import", hidden: true, data: { key: "import" } }, text);
	void asker((input, init) => fetch(input, init)).then((me) => {
		link.hidden = !me || !pagesFor(me.role).includes("import");
	});
	return link;
}
