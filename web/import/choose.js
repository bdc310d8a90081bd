// Which files: chosen, or dropped onto the page.

import { h, show } from "../map/dom.js";

/** @param {import("./main.js").Import} page @param {HTMLElement} place */
export function mountChoice({ t, state, choose }, place) {
	const input = h("input", { type: "file", id: "files", multiple: true, "aria-describedby": "files-hint", on: { change: () => choose([...(input.files ?? [])]) } });
	const drop = h("div", { class: "import-drop" }, h("label", { for: "files" }, t("import.choose")), input, h("p", { class: "hint", id: "files-hint" }, t("import.choose_hint")));
	const held = (/** @type {boolean} */ on) => drop.classList.toggle("held", on);
	drop.addEventListener("dragover", (e) => {
		e.preventDefault();
		held(true);
	});
	drop.addEventListener("dragleave", () => held(false));
	drop.addEventListener("drop", (e) => {
		e.preventDefault();
		held(false);
		const files = [...(e.dataTransfer?.files ?? [])];
		if (files.length) choose(files);
	});
	const list = h("div", {});
	place.append(h("h1", { class: "import-title" }, t("import.title")), h("p", {}, t("import.about")), drop, list);
	return () => {
		const words = { looking: t("import.looking"), taking: t("import.taking") };
		show(list,
			state.files.length ? h("ul", { class: "import-files", "aria-label": t("import.files") }, ...state.files.map((f) => h("li", {}, `${f.name} · ${size(t, f.size)}`))) : null,
			state.busy === "looking" || state.busy === "taking" ? h("p", { class: "state" }, words[state.busy]) : null,
			state.trouble ? h("p", { class: "trouble", role: "alert" }, t("import.failed", { why: state.trouble })) : null);
	};
}

/** @param {import("../lib/text.js").Texts} t @param {number} bytes */
function size(t, bytes) {
	return bytes < 1e6 ? t("import.kilobytes", { size: t.number(Math.max(1, Math.round(bytes / 1000))) }) : t("import.megabytes", { size: t.number(bytes / 1e6, 1) });
}
