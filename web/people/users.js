// Users: who there is, added, given another role or password, removed.

import { ApiError } from "../lib/api.js";
import { button, h, show } from "../map/dom.js";
import { section } from "../report/section.js";
import { askOnce, choice, field, formOf, passwordField, reading } from "./pieces.js";
import { ROLES, sameName, whenText } from "./words.js";

/**
 * @typedef {import("./api.js").User} User
 * @typedef {import("./pieces.js").People} People
 */

/** @param {People} people @param {HTMLElement} place */
export function mountUsers(people, place) {
	if (people.first) return mountFirst(people, place);
	const { t, api, me } = people;
	const list = h("div", { class: "people-list" });
	/** @type {User[]} */
	let users = [];
	const read = reading(people, list, async () => ({ users: await api.users(), crews: await api.crews() }), (got) => {
		users = got.users;
		add.crews(got.crews);
		return users.map((user) => userCard(people, user, got.crews, () => void read()));
	});
	const add = roleFields(people, "new");
	show(place,
		h("section", { class: "part", "aria-labelledby": "users-title" }, h("h1", { id: "users-title" }, t("people.users_title")),
			me.role === "open" ? h("p", { class: "warning" }, t("people.open_here")) : null, h("p", {}, t("people.users_what")), list),
		section("user-new", t("people.user_new"), newUser(people, () => users, add, () => void read())));
	void read();
}

/** @param {People} people @param {() => User[]} users @param {ReturnType<typeof roleFields>} roles @param {() => void} done */
function newUser(people, users, roles, done) {
	const { t, api, say } = people;
	const name = field("new-name", "name", t("people.user_name"), h("input", { autocomplete: "off", maxlength: "60" }));
	const password = passwordField(people, "new-password", "password", t("people.user_first_password"));
	/** @type {HTMLFormElement} */
	const form = formOf(people, "new-user", [name, ...roles.fields, password], t("people.user_add"), async () => {
		const wish = name.input.value.trim();
		const known = users().find((u) => sameName(u.name, wish));
		if (known) throw new ApiError(t("people.user_there", { name: known.name }), 409, { field: "name" });
		if (!wish) throw new ApiError(t("people.name_missing"), 422, { field: "name" });
		const user = await api.saveUser(wish, { ...roles.get(), password: password.input.value });
		form.reset();
		/** @type {HTMLInputElement} */ (password.input).type = "password";
		roles.draw();
		say(t("people.user_added", { name: user.name }));
		done();
		name.input.focus();
	});
	return form;
}

/** Role, and for crews which. @param {People} people @param {string} id @param {User} [user] */
function roleFields({ t }, id, user) {
	const role = field(`${id}-role`, "role", t("people.user_role"), choice(ROLES.map((r) => [r, t(`people.role_${r}`)]), user?.role ?? "viewer"), { hint: " " });
	const none = h("p", { class: "hint" }, t("people.no_crews"), " ", h("a", { href: "/work#show=crews" }, t("people.to_crews")));
	const crew = field(`${id}-crew`, "crew", t("people.user_crew"), choice([["", t("people.choose_crew")]]), { beside: none });
	const may = /** @type {HTMLElement} */ (role.element.querySelector(".hint"));
	const draw = () => {
		may.textContent = t(`people.may_${role.input.value}`);
		crew.element.hidden = role.input.value !== "crew";
	};
	const crews = (/** @type {string[]} */ names) => {
		const all = user?.crew && !names.includes(user.crew) ? [...names, user.crew] : names;
		const { value } = crew.input;
		crew.input.replaceChildren(...[["", t("people.choose_crew")], ...all.map((n) => [n, n])].map(([v, text]) => h("option", { value: v }, text)));
		crew.input.value = value || user?.crew || "";
		none.hidden = all.length > 0;
	};
	role.input.addEventListener("change", draw);
	draw();
	return { fields: [role, crew], crews, draw, get: () => ({ role: role.input.value, crew: role.input.value === "crew" ? crew.input.value : "" }) };
}

/** @param {People} people @param {User} user @param {string[]} crews @param {() => void} done */
function userCard(people, user, crews, done) {
	const { t, api, me, say } = people;
	const { name } = user;
	const self = sameName(name, me.name);
	const body = h("div", { class: "people-card", data: { user: name } });
	const id = `user-${[...name].map((c) => c.codePointAt(0)?.toString(36)).join("-")}`;
	const title = h("h2", {}, name, self ? h("span", { class: "tag" }, t("people.you")) : null);
	const role = user.role === "crew" ? t("people.of_crew", { crew: user.crew }) : t(`people.role_${user.role}`);
	const when = whenText(t.language, user.made);
	const view = () => show(body, title, h("p", {}, role),
		h("p", { class: "hint" }, user.by ? t("people.user_changed", { when, by: user.by }) : t("people.user_changed_here", { when })),
		h("div", { class: "acts" },
			button(t("people.change_role"), editRole, { "aria-label": t("people.change_role_of", { name }), data: { key: `role-${id}` } }),
			self ? h("a", { class: "button", href: "#show=me" }, t("people.part_me")) : button(t("people.new_password"), editPassword, { "aria-label": t("people.new_password_of", { name }), data: { key: `password-${id}` } }),
			button(t("people.remove"), remove, { "aria-label": t("people.remove_user", { name }), data: { key: `remove-${id}` } })));
	const back = (/** @type {string} */ key) => () => {
		view();
		/** @type {HTMLElement | null} */ (body.querySelector(`[data-key="${key}-${id}"]`))?.focus();
	};
	const edit = (/** @type {string} */ heading, /** @type {HTMLElement} */ form) => {
		show(body, title, h("p", {}, heading), form);
		/** @type {HTMLElement | null} */ (form.querySelector("select, input"))?.focus();
	};
	const editRole = () => {
		const roles = roleFields(people, id, user);
		roles.crews(crews);
		edit(t("people.change_role_of", { name }), formOf(people, `${id}-form`, roles.fields, t("people.save"), async () => {
			const now = await api.saveUser(name, roles.get());
			if (self && now.role !== "manager") return location.reload();
			say(t("people.role_saved", { name, role: t(`role.${now.role}`) }));
			view();
			done();
		}, back("role")));
	};
	const editPassword = () => {
		const password = passwordField(people, `${id}-password`, "password", t("people.new_password"));
		edit(t("people.new_password_of", { name }), formOf(people, `${id}-form`, [password], t("people.set_password"), async () => {
			if (!password.input.value) throw new ApiError(t("people.password_missing"), 422, { field: "password" });
			await api.saveUser(name, { password: password.input.value });
			say(t("people.password_saved", { name }));
			view();
			done();
		}, back("password")));
	};
	const remove = () => askOnce(people, body, {
		what: t("people.remove_what", { name }), yes: t("people.remove_user", { name }), no: back("remove"),
		run: async () => {
			await api.removeUser(name);
			if (self) return location.assign("/signin");
			say(t("people.user_removed", { name }));
			done();
		},
	});
	view();
	return body;
}

/** Where there are no users yet. @param {People} people @param {HTMLElement} place */
function mountFirst(people, place) {
	const { t, api } = people;
	const name = field("new-name", "name", t("people.user_name"), h("input", { autocomplete: "off", maxlength: "60" }));
	const password = passwordField(people, "new-password", "password", t("people.first_password"));
	const form = formOf(people, "new-user", [name, password], t("people.first_add"), async () => {
		if (!name.input.value.trim()) throw new ApiError(t("people.name_missing"), 422, { field: "name" });
		const user = await api.saveUser(name.input.value.trim(), { role: "manager", password: password.input.value });
		const next = h("a", { class: "button", href: "/signin?then=%2Fpeople" }, t("people.first_sign_in"));
		show(place, h("section", { class: "part" }, h("h1", {}, t("people.users_title")), h("p", { role: "status" }, t("people.first_done", { name: user.name })), h("div", { class: "acts" }, next)));
		next.focus();
	});
	show(place, h("section", { class: "part" }, h("h1", {}, t("people.open_title")), h("p", {}, t("people.open_what"), " ", h("code", {}, "courson user add")), h("p", {}, t("people.open_then")), form));
	document.documentElement.dataset.people = "ready";
}
