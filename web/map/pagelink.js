// The way to a page that what is shown here is made on. Hidden from those whose role
// may not use it.

import { asker, pagesFor } from "../lib/whoami.js";
import { h } from "./dom.js";

/** @param {"import" | "ground"} page @param {string} text */
export function pageLink(page, text) {
	const link = h("a", { class: "button", href: `/${page}`, hidden: true, data: { key: page } }, text);
	void asker((input, init) => fetch(input, init)).then((me) => {
		link.hidden = !me || !pagesFor(me.role).includes(page);
	});
	return link;
}
