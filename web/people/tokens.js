// Tokens for other programs: made and shown once, listed, revoked.

import { ApiError } from "../lib/api.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { askOnce, choice, field, formOf, reading, toCopy } from "./pieces.js";
import { whenText } from "./words.js";

/**
 * @typedef {import("./api.js").Token} Token
 * @typedef {import("./pieces.js").People} People
 */

const DAYS = [7, 30, 90, 365];

/** @param {People} people @param {HTMLElement} place */
export function mountTokens(people, place) {
	const { t, api } = people;
	const list = h("div", { class: "people-list" });
	const made = h("div", { class: "people-made", tabindex: "-1", hidden: true, role: "region" });
	const read = reading(people, list, api.tokens, (tokens) => (tokens.length ? tokens.map((token) => card(people, token, () => void read())) : [h("p", { class: "state" }, t("people.tokens_none"))]));
	const hide = () => {
		show(made);
		made.hidden = true;
		/** @type {HTMLElement | null} */ (place.querySelector("#new-token [type=submit]"))?.focus();
	};
	const form = newToken(people, (token) => {
		const title = t("people.token_made", { name: token.name });
		made.setAttribute("aria-label", title);
		show(made, h("h2", {}, title), h("p", {}, h("strong", {}, t("people.token_once"))), ...toCopy(people, "token-text", t("people.token_text"), token.token), h("div", { class: "acts" }, button(t("people.done_with"), hide)));
		made.hidden = false;
		made.focus();
		made.scrollIntoView({ block: "start" });
		void read();
	});
	show(place, made,
		h("section", { class: "part", "aria-labelledby": "tokens-title" }, h("h1", { id: "tokens-title" }, t("people.tokens_title")), h("p", {}, t("people.tokens_what")), form),
		section("tokens-list", t("people.tokens_list"), list));
	void read();
}

/** @param {People} people @param {(token: Token & {token: string}) => void} done */
function newToken(people, done) {
	const { t, api } = people;
	const name = field("token-name", "name", t("people.token_name"), h("input", { autocomplete: "off", maxlength: "60" }));
	const role = field("token-role", "role", t("people.user_role"), choice(["viewer", "agronomist", "manager"].map((r) => [r, t(`people.role_${r}`)]), "viewer"), { hint: t("people.may_viewer") });
	const may = /** @type {HTMLElement} */ (role.element.querySelector(".hint"));
	role.input.addEventListener("change", () => (may.textContent = t(`people.may_${role.input.value}`)));
	const days = field("token-days", "days", t("people.token_days"), choice(DAYS.map((n) => [String(n), t("people.days", { n })]), "90"));
	return formOf(people, "new-token", [name, role, days], t("people.token_make"), async () => {
		if (!name.input.value.trim()) throw new ApiError(t("people.name_missing"), 422, { field: "name" });
		const token = await api.makeToken({ name: name.input.value.trim(), role: role.input.value, days: Number(days.input.value) });
		name.input.value = "";
		done(token);
	});
}

/** @param {People} people @param {Token} token @param {() => void} again */
function card(people, { id, name, role, made, by, until }, again) {
	const { t, api, say } = people;
	const body = h("div", { class: "people-card", data: { token: name } });
	const over = Date.parse(until) <= Date.now();
	const words = { when: whenText(t.language, made), until: whenText(t.language, until), by: by || t("role.open") };
	const revoke = async () => {
		await api.revokeToken(id);
		say(t("people.token_revoked", { name }));
		again();
	};
	const view = () => show(body, h("h3", {}, name), h("p", {}, t(`people.role_${role}`)), h("p", {}, t(over ? "people.token_over" : "people.token_facts", words)),
		h("div", { class: "acts" }, button(t("people.token_revoke"), ask, { "aria-label": t("people.token_revoke_of", { name }), data: { key: `revoke-${id}` } })));
	const ask = () => askOnce(people, body, {
		what: t("people.token_what", { name }), yes: t("people.token_revoke_of", { name }), run: revoke,
		no: () => {
			view();
			body.querySelector("button")?.focus();
		},
	});
	view();
	return body;
}
