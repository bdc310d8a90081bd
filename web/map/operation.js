// Whose progress the theme of progress shows: pruning, or another operation of
// the list.

import { h } from "./dom.js";

/** @typedef {import("./app.js").App} App */

/** Where nothing else is chosen. */
const USUAL = "pruning";
/** As the server has it: an operation that is done on living vines. */
const ON_VINES = 0;

/** The operation as the server is asked for it; empty: pruning. @param {import("../lib/hash.js").View} view */
export function shownOperation({ theme, operation }) {
	return theme === "progress" && operation !== USUAL ? operation : "";
}

/** Keeps the stands to the operation shown. It has to hear of a change before what draws them. @param {App} app */
export function followOperation(app) {
	const follow = () => app.stands.setOperation(shownOperation(app.view.get()));
	app.view.on(follow);
	follow();
}

/** @param {App} app @param {string} [name] left out: the one shown */
export function operationName({ t, view }, name = shownOperation(view.get()) || USUAL) {
	return t.has(`operation.${name}`) ? t(`operation.${name}`) : name;
}

/**
 * A list to choose from, empty until the server has said what there is. What is
 * done on gaps is no state of a living vine: it has no place here.
 * @param {App} app
 */
export function operationChoice(app) {
	const { t, view } = app;
	const list = h("select", { id: "map-operation", data: { key: "map-operation" }, on: { change: () => view.set({ operation: list.value === USUAL ? "" : list.value, only: null }) } });
	const box = h("div", { class: "legend-operation" }, h("label", { for: "map-operation" }, t("work.operation")), list);
	let names = [USUAL];
	const draw = () => {
		const { theme } = view.get();
		const now = shownOperation(view.get()) || USUAL;
		box.hidden = theme !== "progress";
		if (!names.includes(now)) names = [...names, now];
		if (list.options.length !== names.length) list.replaceChildren(...names.map((n) => h("option", { value: n }, operationName(app, n))));
		list.value = now;
	};
	let asked = false;
	const ask = async () => {
		if (asked || view.get().theme !== "progress") return;
		asked = true;
		try {
			names = (await app.api.operations()).filter((o) => o.on === ON_VINES).map((o) => o.name);
		} catch {
			asked = false; // asked again when the theme is next chosen
		}
		draw();
	};
	view.on(() => {
		draw();
		void ask();
	});
	draw();
	void ask();
	return box;
}
