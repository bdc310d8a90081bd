// The ways from the map to the other pages: crews and their work, the phone page,
// people and devices; each where the role of who asks may use it.

import { asker, pagesFor } from "../lib/whoami.js";
import { h } from "./dom.js";

/** @param {import("./app.js").App} app */
export function pageLinks({ t, view }) {
	const place = h("nav", { class: "page-links", "aria-label": t("head.pages"), hidden: true });
	void asker((input, init) => fetch(input, init)).then((me) => {
		if (!me) return;
		const links = pagesFor(me.role).map((page) => ({ page, link: h("a", { class: "button", href: `/${page}`, data: { key: `to-${page}` } }, t(`head.page_${page}`)) }));
		const draw = () => links.forEach(({ page, link }) => page === "work" && link.setAttribute("href", `/work#season=${view.get().season}`));
		view.on(draw);
		draw();
		place.append(...links.map((l) => l.link));
		place.hidden = false;
	});
	return place;
}
