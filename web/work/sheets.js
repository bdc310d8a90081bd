// Orders on paper, for a crew without phones: a plan of the rows, the list to
// tick, what to leave, and what to mind. Which orders is in the address:
// /print/orders?season=2027&day=2027-01-12&crew=North

import { createApi } from "../lib/api.js";
import { decodeStand } from "../lib/stand.js";
import { textsIn } from "../lib/text.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { en } from "../text/en.js";
import { operationOf, sheetOf } from "../sheet/paper.js";
import { SHEETS, sheetTexts } from "../sheet/texts.js";
import { LANGUAGES } from "../text/field/index.js";
import { workApi } from "./api.js";
import { dayWords } from "./days.js";
import { choice } from "./fields.js";

/**
 * @typedef {import("./api.js").Order} Order
 * @typedef {{estate: import("../lib/model.js").Estate, season: number, orders: Order[], crews: import("./api.js").Crew[], facts: Map<string, import("../sheet/paper.js").Facts>}} Sheets
 */

const t = textsIn(en, "en");
const api = createApi((input, init) => fetch(input, init));
const work = workApi((input, init) => fetch(input, init));
const place = /** @type {HTMLElement} */ (document.getElementById("sheets"));
const head = /** @type {HTMLElement} */ (document.getElementById("bar"));
const query = new URLSearchParams(location.search);

async function begin() {
	document.documentElement.dataset.sheets = "loading";
	document.title = t("sheet.title");
	show(head, h("h1", {}, t("sheet.title")));
	show(place, h("p", { class: "state", role: "status" }, t("sheet.loading")));
	try {
		const got = await read();
		const languages = choice("language", [["", t("sheet.own_language")], ...Object.keys(SHEETS).map((l) => /** @type {[string, string]} */ ([l, LANGUAGES[l].name]))], query.get("language") ?? "");
		languages.addEventListener("change", () => draw(got, languages.value));
		show(head, h("a", { class: "button", href: `/work#season=${got.season}&show=orders` }, t("sheet.back")), h("h1", {}, t("sheet.count", { n: got.orders.length })),
			got.orders.length ? h("div", { class: "sheet-language" }, h("label", { for: "language" }, t("sheet.language")), languages) : null,
			got.orders.length ? button(t("report.print"), () => print(), { class: "main" }) : null);
		draw(got, languages.value);
		document.documentElement.dataset.sheets = "ready";
	} catch (error) {
		document.documentElement.dataset.sheets = "failed";
		show(place, h("div", { class: "trouble", role: "alert" }, h("p", {}, t("sheet.failed", { why: why(error) })), button(t("app.try_again"), () => void begin())));
	}
}

/** Each sheet in its crew's language, or all in one. @param {Sheets} got @param {string} language "" the crew's */
function draw({ estate, orders, crews, facts }, language) {
	const textsOf = (/** @type {Order} */ o) => sheetTexts(language || crews.find((c) => c.name === o.crew)?.language || "");
	if (!orders.length) show(place, h("p", { class: "state", id: "none" }, t("sheet.none")));
	else show(place, ...orders.map((o) => sheetOf(textsOf(o), estate, o, /** @type {import("../sheet/paper.js").Facts} */ (facts.get(o.id)))));
	const first = orders[0];
	if (first) document.title = [operationOf(textsOf(first), first.operation), first.crew, first.day ? dayWords(textsOf(first).language, first.day, "long") : "", estate.name].filter(Boolean).join(" · ");
}

/** Everything the sheets need. @returns {Promise<Sheets>} */
async function read() {
	const estate = await api.estate();
	const season = Number(query.get("season")) || estate.season;
	const [all, crews, operations] = await Promise.all([work.orders(season, { crew: query.get("crew") ?? "", day: query.get("day") ?? "" }), work.crews(), work.operations()]);
	const only = query.get("order");
	const orders = all.filter((o) => o.state === "open" && (!only || o.id === only));
	const stands = new Map();
	const runs = new Map();
	for (const block of new Set(orders.map((o) => o.block))) {
		stands.set(block, decodeStand(await api.stand(block, season)));
		// A block without a plan has no runs; its sheet says so.
		if (orders.some((o) => o.block === block && o.operation === "pruning")) runs.set(block, await api.runs(block, season, { goal: "balance", change: 6, limit: 1 }).catch(() => null));
	}
	/** @type {Map<string, import("../sheet/paper.js").Facts>} */
	const facts = new Map();
	const fields = new Map();
	for (const o of orders) {
		if (!fields.has(o.crew)) fields.set(o.crew, await work.field(o.crew || "\u00a0"));
		const field = fields.get(o.crew);
		facts.set(o.id, { stand: stands.get(o.block), runs: runs.get(o.block) ?? null, cautions: operations.find((k) => k.name === o.operation)?.cautions?.map((c) => c.hazard) ?? [], section: field.orders?.find((/** @type {any} */ x) => x.id === o.id)?.rows?.[0]?.section ?? 0 });
	}
	return { estate, season, orders, crews, facts };
}

void begin();
