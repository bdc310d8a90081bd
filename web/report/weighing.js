// Which vines to weigh: how many and which, in walking order, to be printed or
// filled in on the spot.

import { ApiError, weighingPath } from "../lib/api.js";
import { readNumber } from "../lib/units.js";
import { keptText, why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { shareText } from "../map/patchfacts.js";
import { section } from "./section.js";
import { entryTable } from "./weighentry.js";
import { weighPhones } from "./weighphones.js";

/**
 * @typedef {import("./main.js").Report} Report
 * @typedef {import("../map/app.js").App} App
 * @typedef {import("../lib/findings.js").Weighing} Weighing
 * @typedef {{number?: number, error?: number, again?: boolean}} Wish
 */

/** The error of the block's mean that is asked for unless another is wished. */
const USUAL_ERROR = 0.1;

/**
 * @param {Report} report
 * @param {HTMLElement} place shared with the report: only one of both is shown
 */
export function mountWeighing(report, place) {
	const { app, about } = report;
	/** @type {AbortController | null} */
	let running = null;
	/** @type {Wish} */
	let wish = { error: USUAL_ERROR, again: false };
	let shown = "";
	/** @type {(() => void) | null} reads again what the phones carry */
	let reload = null;
	const read = async () => {
		const { block, season, part } = about.get();
		running?.abort();
		reload = null;
		if (part !== "weighing") {
			shown = "";
			return;
		}
		const key = JSON.stringify([block, season, wish]);
		if (key === shown) return;
		shown = key;
		document.documentElement.dataset.report = "loading";
		const mine = (running = new AbortController());
		show(place, h("p", { class: "state", role: "status" }, app.t("weigh.loading")));
		try {
			const list = await app.api.weighing(block, season, wish, mine.signal);
			const stand = await app.stands.load(list.block, season).catch(() => null);
			if (mine.signal.aborted) return;
			const { parts, phones } = body(app, list, wish, stand);
			show(place, head(app, list), settings(app, wish, ask), ...parts);
			reload = phones.reload;
			document.documentElement.dataset.report = "weighing";
		} catch (error) {
			if (mine.signal.aborted) return;
			shown = "";
			document.documentElement.dataset.report = "failed";
			const refused = error instanceof ApiError && !error.passing;
			show(place, h("p", { class: "trouble", role: "alert" }, app.t(refused ? "weigh.refused" : "weigh.failed", { why: why(error) })), settings(app, wish, ask), button(app.t("app.try_again"), () => void read()));
		}
	};
	const ask = (/** @type {Wish} */ now) => {
		wish = now;
		shown = "";
		void read();
	};
	about.on(() => void read());
	void read();
	return { reload: () => reload?.() };
}

/** @param {App} app @param {Weighing} list */
function head(app, list) {
	return h("section", { class: "part", "aria-labelledby": "weigh-title" }, h("h1", { id: "weigh-title" }, app.t("weigh.heading", { code: list.code, season: String(list.season) })),
		h("p", { class: "hint" }, app.t("record.season_hint", { season: String(list.season) })));
}

/** How many vines, and whether last time's are kept. @param {App} app @param {Wish} wish @param {(wish: Wish) => void} ask */
function settings(app, wish, ask) {
	const { t } = app;
	const way = h("select", { id: "weigh-way" }, h("option", { value: "error" }, t("weigh.by_error")), h("option", { value: "number" }, t("weigh.by_number")));
	way.value = wish.number ? "number" : "error";
	const value = h("input", { id: "weigh-value", inputmode: "decimal", size: "4" });
	value.value = String(wish.number ?? Math.round(1000 * (wish.error ?? USUAL_ERROR)) / 10);
	const unit = h("span", {}, wish.number ? t("weigh.unit_number") : t("weigh.unit_error"));
	const fault = h("p", { class: "fault", role: "alert", id: "weigh-fault" });
	value.setAttribute("aria-describedby", fault.id);
	way.addEventListener("change", () => {
		value.value = way.value === "number" ? "30" : String(100 * USUAL_ERROR);
		unit.textContent = way.value === "number" ? t("weigh.unit_number") : t("weigh.unit_error");
	});
	const again = h("input", { type: "checkbox", id: "weigh-again" });
	again.checked = wish.again === true;
	const form = h("form", { class: "weigh-form no-print", novalidate: true },
		h("label", { for: "weigh-way" }, t("weigh.how_many")), way, h("label", { class: "out-of-sight", for: "weigh-value" }, t("weigh.value")), value, unit,
		h("label", { class: "check" }, again, t("weigh.again")), h("button", { type: "submit", class: "main" }, t("weigh.make")), fault);
	form.addEventListener("submit", (e) => {
		e.preventDefault();
		const n = readNumber(value.value);
		const number = way.value === "number";
		const [least, most] = number ? [1, 5_000] : [1, 50];
		if (n === null || n < least || n > most || (number && !Number.isInteger(n))) {
			fault.textContent = t("record.wrong_range", { from: String(least), to: String(most) });
			value.focus();
			return;
		}
		ask({ ...(number ? { number: n } : { error: n / 100 }), again: again.checked });
	});
	return form;
}

/** @param {App} app @param {Weighing} list @param {Wish} wish @param {import("../lib/stand.js").Stand | null} stand */
function body(app, list, wish, stand) {
	const { t } = app;
	const { vines } = list;
	const by = h("input", { id: "weigh-by", autocomplete: "name", maxlength: "80", on: { change: () => app.by.set(by.value.trim()) } });
	by.value = app.by.get();
	const unit = h("select", { id: "weigh-unit" }, ...["kg", "g", "lb", "oz"].map((u) => h("option", { value: u }, t(`unit.${u}`))));
	const keptUnit = keptText("courson.unit.pruning_weight");
	unit.value = keptUnit.get() || (app.units.us ? "lb" : "kg");
	unit.addEventListener("change", () => keptUnit.set(unit.value));
	const phones = weighPhones(app, list, () => unit.value);
	const parts = [
		section("which", t("weigh.which"), h("ul", { class: "sentences" }, ...sentences(app, list).map((text) => h("li", {}, text)))),
		section("list", t("weigh.list", { n: vines.length }),
			h("p", {}, t("weigh.order")),
			h("div", { class: "weigh-form no-print" },
				h("label", { for: "weigh-unit" }, t("weigh.unit")), unit, h("label", { for: "weigh-by" }, t("record.by")), by,
				h("a", { class: "button", href: weighingPath(list.code, list.season, wish, ".csv"), download: "" }, t("weigh.csv")), button(t("report.print"), () => print())),
			h("p", { class: "no-print hint" }, t("weigh.how_to_enter")),
			h("p", { class: "print-only" }, t("weigh.on_paper")),
			entryTable(app, list, vines, stand, () => unit.value),
			h("p", { class: "hint" }, t("record.caution"))),
		phones.section,
	];
	return { parts, phones };
}

/** Why these vines and not others. @param {App} app @param {Weighing} list */
function sentences(app, list) {
	const { t } = app;
	const passed = Object.entries(list.passed ?? {}).filter(([, n]) => n > 0);
	return [
		t("weigh.wanted", { n: list.wanted, qualified: list.qualified }),
		t("weigh.cv", { cv: shareText(app, list.cv), from: list.cv_from }),
		list.within ? t("weigh.within", { error: shareText(app, list.within) }) : "",
		list.kept ? t("weigh.kept", { n: list.kept }) : "",
		passed.length ? t("weigh.passed", { parts: passed.map(([key, n]) => t(t.has(`weigh.passed_${key}`) ? `weigh.passed_${key}` : "weigh.passed_other", { n })).join(", ") }) : "",
		...list.notes,
	].filter(Boolean);
}
