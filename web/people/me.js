// The own account: password, and the way out.

import { ApiError } from "../lib/api.js";
import { signOut } from "../lib/whoami.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { field, formOf, passwordField } from "./pieces.js";

/** @typedef {import("./pieces.js").People} People */

/** @param {People} people @param {HTMLElement} place */
export function mountMe(people, place) {
	const { t, me } = people;
	const who = me.role === "crew" ? t("people.me_crew", { name: me.name, crew: me.crew }) : t("people.me_who", { name: me.name, role: t(`role.${me.role}`) });
	show(place,
		h("section", { class: "part", "aria-labelledby": "me-title" }, h("h1", { id: "me-title" }, t("people.me_title")), h("p", {}, who)),
		section("me-password", t("people.me_password"), me.role === "crew" ? h("p", { class: "hint" }, t("people.me_no_password")) : null, passwordForm(people)),
		section("me-out", t("people.me_out"), ...wayOut(people)));
	document.documentElement.dataset.people = "ready";
}

/** @param {People} people */
function passwordForm(people) {
	const { t, api, say } = people;
	const present = field("me-now", "now", t("people.me_now"), h("input", { type: "password", autocomplete: "current-password" }));
	const next = passwordField(people, "me-new", "new", t("people.me_new"), false);
	/** @type {HTMLFormElement} */
	const form = formOf(people, "my-password", [present, next], t("people.me_password"), async () => {
		try {
			await api.changePassword(present.input.value, next.input.value);
		} catch (error) {
			// The server calls a weak password by the name it has everywhere.
			if (error instanceof ApiError && error.field === "password") throw new ApiError(error.message, error.status, { field: "new" });
			throw error;
		}
		form.reset();
		/** @type {HTMLInputElement} */ (next.input).type = "password";
		say(t("people.me_changed"));
	});
	return form;
}

/** @param {People} people */
function wayOut({ t, me }) {
	const fault = h("p", { class: "fault", role: "alert" });
	const leave = async (/** @type {boolean} */ everywhere) => {
		try {
			await signOut((input, init) => fetch(input, init), everywhere);
			location.assign("/signin");
		} catch (error) {
			fault.textContent = t("people.not_done", { why: why(error) });
		}
	};
	return [
		h("p", {}, t(me.role === "crew" ? "people.me_out_crew" : "people.me_out_what")),
		h("p", {}, t("people.me_out_all_what")),
		h("div", { class: "acts" }, button(t("people.me_out_here"), () => void leave(false), { id: "out-here" }), button(t("people.me_out_all"), () => void leave(true), { id: "out-all" })), fault,
	];
}
