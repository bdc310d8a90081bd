// The page that takes files in begins here: choose files, see what they were taken
// for, answer what they leave open, see what would change, take them in.

import { textsIn } from "../lib/text.js";
import { keptText, why } from "../map/app.js";
import { button, h, show, watchPress } from "../map/dom.js";
import { whoLine } from "../map/whoami.js";
import { en } from "../text/en.js";
import { importApi } from "./api.js";
import { mountChoice } from "./choose.js";
import { mountFound } from "./found.js";
import { mountOptions } from "./options.js";
import { mountOutcome } from "./outcome.js";
import { mountPast } from "./past.js";

/**
 * @typedef {object} State
 * @property {File[]} files
 * @property {import("./api.js").Order} order what somebody said
 * @property {import("./api.js").Report | null} report of the last look
 * @property {"" | "looking" | "taking" | "taken"} busy
 * @property {string} trouble
 *
 * @typedef {object} Import what all parts of the page share
 * @property {import("../lib/text.js").Texts} t
 * @property {import("./api.js").ImportApi} api
 * @property {(text: string) => void} announce to those who hear the page
 * @property {import("./api.js").Meaning[]} meanings
 * @property {State} state
 * @property {(change: Partial<State["order"]>) => void} say something about the files, and look again
 * @property {(files: File[]) => void} choose
 * @property {() => void} take
 */

const t = textsIn(en, "en");
const api = importApi((input, init) => fetch(input, init));

/** @param {string} id */
const at = (id) => /** @type {HTMLElement} */ (document.getElementById(id));

async function begin() {
	const opening = at("opening");
	show(opening, h("p", {}, t("import.loading")));
	try {
		const meanings = await api.meanings();
		opening.hidden = true;
		start(meanings);
	} catch (error) {
		show(opening, h("p", { class: "trouble" }, t("import.failed", { why: why(error) })), button(t("app.try_again"), () => void begin()));
	}
}

/** @param {string} text */
function announce(text) {
	at("announce").textContent = text;
}

/** @param {import("./api.js").Meaning[]} meanings */
function start(meanings) {
	/** @type {State} */
	const state = { files: [], order: {}, report: null, busy: "", trouble: "" };
	let looking = new AbortController();
	/** @type {(() => void)[]} */
	const parts = [];
	const draw = () => {
		document.documentElement.dataset.import = state.busy || (state.report ? "looked" : "ready");
		for (const part of parts) part();
	};
	const look = async () => {
		looking.abort();
		looking = new AbortController();
		const { signal } = looking;
		if (!state.files.length) return draw();
		state.busy = "looking";
		state.trouble = "";
		draw();
		try {
			state.report = await api.look(state.files, state.order, signal);
		} catch (error) {
			if (signal.aborted) return;
			state.report = null;
			state.trouble = why(error);
		}
		if (signal.aborted) return;
		state.busy = "";
		draw();
		announce(state.trouble ? t("import.failed", { why: state.trouble }) : state.report?.refused ? t("import.said_refused") : t("import.said_looked"));
	};
	const take = async () => {
		looking.abort();
		state.busy = "taking";
		draw();
		try {
			state.report = await api.take(state.files, state.order);
			state.busy = state.report.refused ? "" : "taken";
		} catch (error) {
			state.busy = "";
			state.trouble = why(error);
		}
		draw();
		announce(state.trouble ? t("import.failed", { why: state.trouble }) : state.report?.refused ? t("import.said_refused") : t("import.said_taken"));
		at("outcome").focus();
	};
	/** @type {Import} */
	const page = {
		t, api, announce, meanings, state,
		say(change) {
			state.order = { ...state.order, ...change };
			for (const [name, value] of Object.entries(state.order)) if (value === "" || value === 0) delete state.order[name];
			void look();
		},
		choose(files) {
			Object.assign(state, { files, order: {}, report: null, busy: "", trouble: "" });
			void look();
		},
		take: () => void take(),
	};
	document.title = t("import.title");
	show(at("head"), h("a", { class: "button", href: "/" }, t("people.map")), h("p", { class: "report-estate" }, t("import.title")), whoLine({ t }));
	for (const mount of [mountChoice, mountFound, mountOptions, mountOutcome, mountPast]) {
		const place = h("section", { class: "part" });
		at("import").append(place);
		parts.push(mount(page, place));
	}
	draw();
	at("page").hidden = false;
}

for (const e of document.querySelectorAll("[data-text]")) e.textContent = t(e.getAttribute("data-text") ?? "");
const ground = keptText("courson.ground").get();
if (ground === "light" || ground === "dark") document.documentElement.dataset.ground = ground;
watchPress();
void begin();
