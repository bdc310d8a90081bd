// Phones of crews: a link made and shown once, those that wait, phones that joined.

import { ApiError } from "../lib/api.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { qrCode } from "../map/qr.js";
import { section } from "../report/section.js";
import { askOnce, choice, field, formOf, reading, toCopy } from "./pieces.js";
import { linkState, onlyHere, whenText } from "./words.js";

/**
 * @typedef {import("./api.js").Link} Link
 * @typedef {import("./pieces.js").People} People
 */

const HOURS = [1, 4, 24, 72];
const DAYS = [1, 7, 14, 30, 90];
/** While a link is shown it is looked whether a phone has joined. */
const LOOK_MS = 3000;

/** @param {People} people @param {HTMLElement} place */
export function mountLinks(people, place) {
	const { t, api, announce } = people;
	const lists = h("div", { class: "people-body" });
	const made = h("div", { class: "people-made", tabindex: "-1", hidden: true, role: "region" });
	let shown = "";
	const read = reading(people, lists, api.links, (links) => {
		const mine = links.find((l) => l.id === shown);
		if (mine?.joined) joined(mine);
		return drawLists(people, links, () => void read());
	});
	const hide = () => {
		shown = "";
		show(made);
		made.hidden = true;
		/** @type {HTMLElement | null} */ (place.querySelector("#new-link [type=submit]"))?.focus();
	};
	const joined = (/** @type {Link} */ link) => {
		shown = "";
		const text = t("people.link_joined", { device: link.device, crew: link.crew });
		show(made, h("p", { role: "status" }, text), h("div", { class: "acts" }, button(t("people.done_with"), hide)));
		announce(text);
	};
	const { form, crews } = newLink(people, (link) => {
		shown = link.id;
		drawMade(people, made, link, hide);
		void read();
	});
	show(place, made,
		h("section", { class: "part", "aria-labelledby": "links-title" }, h("h1", { id: "links-title" }, t("people.links_title")), h("p", {}, t("people.links_what")), form),
		lists);
	void read();
	void crews();
	const looking = setInterval(() => void (shown && !document.hidden && read()), LOOK_MS);
	return () => clearInterval(looking);
}

/** @param {People} people @param {(link: Link & {url: string}) => void} done */
function newLink(people, done) {
	const { t, api } = people;
	const note = h("p", { class: "hint" });
	const crew = field("link-crew", "crew", t("people.link_crew"), choice([["", t("people.choose_crew")]]), { beside: note });
	const hours = field("link-hours", "hours", t("people.link_hours"), choice(HOURS.map((n) => [String(n), n % 24 ? t("people.hours", { n }) : t("people.days", { n: n / 24 })]), "24"));
	const days = field("link-days", "days", t("people.link_days"), choice(DAYS.map((n) => [String(n), t("people.days", { n })]), "14"));
	const crews = async () => {
		try {
			const names = await api.crews();
			crew.input.append(...names.map((n) => h("option", { value: n }, n)));
			if (names.length === 1) crew.input.value = names[0];
			if (!names.length) show(note, t("people.no_crews"), " ", h("a", { href: "/work#show=crews" }, t("people.to_crews")));
		} catch (error) {
			note.textContent = t("people.failed", { why: why(error) });
		}
	};
	const form = formOf(people, "new-link", [crew, hours, days], t("people.link_make"), async () => {
		if (!crew.input.value) throw new ApiError(t("people.crew_missing"), 422, { field: "crew" });
		done(await api.makeLink({ crew: crew.input.value, hours: Number(hours.input.value), days: Number(days.input.value) }));
	});
	return { form, crews };
}

/** @param {People} people @param {HTMLElement} place @param {Link & {url: string}} link @param {() => void} hide */
function drawMade(people, place, { crew, url, until, days }, hide) {
	const { t } = people;
	const title = t("people.link_made", { crew });
	place.setAttribute("aria-label", title);
	const warning = onlyHere(url) ? t("people.link_only_here") : url.startsWith("https:") ? "" : t("people.link_plain");
	show(place,
		h("h2", {}, title),
		warning ? h("p", { class: "warning no-print" }, warning) : null,
		h("div", { class: "people-qr" }, qrCode(url, t("people.link_qr", { crew }))),
		h("p", {}, t("people.link_scan")),
		h("p", {}, t("people.link_until", { until: whenText(t.language, until), days: t("people.days", { n: days }) })),
		h("p", {}, t("people.link_whom", { crew })),
		h("p", { class: "no-print" }, h("strong", {}, t("people.link_once"))),
		...toCopy(people, "link-text", t("people.link_text"), url),
		h("div", { class: "acts" }, button(t("people.link_print"), () => print()), button(t("people.done_with"), hide)));
	place.hidden = false;
	place.focus();
	place.scrollIntoView({ block: "start" });
}

/** @param {People} people @param {Link[]} links @param {() => void} again */
function drawLists(people, links, again) {
	const { t } = people;
	const of = (/** @type {string[]} */ states) => links.filter((l) => states.includes(linkState(l, Date.now())));
	const waiting = of(["waiting", "over"]);
	const phones = of(["joined", "ended"]);
	return [
		section("links-open", t("people.links_open"), waiting.length ? h("div", { class: "people-list" }, ...waiting.map((l) => waitingCard(people, l, again))) : h("p", { class: "state" }, t("people.links_none"))),
		section("devices", t("people.devices"), phones.length ? h("div", { class: "people-list" }, ...phones.map((l) => phoneCard(people, l, again))) : h("p", { class: "state" }, t("people.devices_none"))),
	];
}

/** @param {People} people @param {Link} link @param {() => void} again */
function waitingCard({ t, api, say }, link, again) {
	const { crew, by, id } = link;
	const over = linkState(link, Date.now()) === "over";
	const fault = h("p", { class: "fault", role: "alert" });
	const withdraw = async () => {
		try {
			await api.withdrawLink(id);
			say(t("people.link_withdrawn"));
			again();
		} catch (error) {
			fault.textContent = why(error);
		}
	};
	return h("div", { class: "people-card", data: { link: id } }, h("h3", {}, t("people.device_crew", { crew })),
		h("p", {}, t(over ? "people.link_over" : "people.link_waits", { by: by || t("role.open"), when: whenText(t.language, link.made), until: whenText(t.language, link.until) })),
		h("div", { class: "acts" }, button(t(over ? "people.link_clear" : "people.link_withdraw"), () => void withdraw(), { "aria-label": over ? null : t("people.link_withdraw_of", { crew }), data: { key: `withdraw-${id}` } })), fault);
}

/** @param {People} people @param {Link} link @param {() => void} again */
function phoneCard(people, link, again) {
	const { t, api, say } = people;
	const { crew, device, id } = link;
	const ended = linkState(link, Date.now()) === "ended";
	const body = h("div", { class: "people-card", data: { phone: device } });
	const remove = async () => {
		await api.withdrawLink(id);
		say(t("people.device_withdrawn", { device }));
		again();
	};
	const view = () => show(body, h("h3", {}, device), h("p", {}, t("people.device_crew", { crew })),
		h("p", {}, t(ended ? "people.device_ended" : "people.device_joined", { when: whenText(t.language, link.joined ?? link.made), until: whenText(t.language, link.until) })),
		h("div", { class: "acts" }, ended ? button(t("people.link_clear"), () => void remove(), { data: { key: `withdraw-${id}` } })
			: button(t("people.link_withdraw"), ask, { "aria-label": t("people.device_withdraw", { device }), data: { key: `withdraw-${id}` } })));
	const ask = () => askOnce(people, body, {
		what: t("people.device_what", { device }), yes: t("people.device_withdraw", { device }), run: remove,
		no: () => {
			view();
			body.querySelector("button")?.focus();
		},
	});
	view();
	return body;
}
