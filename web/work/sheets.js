// Orders on paper, for a crew without phones: a plan of the rows, the list to
// tick, what to leave, and what to mind. Which orders is in the address:
// /print/orders?season=2027&day=2027-01-12&crew=North

import { createApi } from "../lib/api.js";
import { decodeStand } from "../lib/stand.js";
import { textsIn } from "../lib/text.js";
import { why } from "../map/app.js";
import { button, h, show } from "../map/dom.js";
import { en } from "../text/en.js";
import { workApi } from "./api.js";
import { dayWords } from "./days.js";
import { nameOf } from "./head.js";
import { sheetOf } from "./sheet.js";

/**
 * @typedef {import("./api.js").Order} Order
 * @typedef {{estate: import("../lib/model.js").Estate, orders: Order[], facts: Map<string, import("./sheet.js").Facts>}} Sheets
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
		show(head, h("a", { class: "button", href: `/work#season=${got.season}&show=orders` }, t("sheet.back")), h("h1", {}, t("sheet.count", { n: got.orders.length })), got.orders.length ? button(t("report.print"), () => print(), { class: "main" }) : null);
		if (!got.orders.length) show(place, h("p", { class: "state", id: "none" }, t("sheet.none")));
		else show(place, ...got.orders.map((o) => sheetOf({ t }, got.estate, o, /** @type {import("./sheet.js").Facts} */ (got.facts.get(o.id)))));
		const first = got.orders[0];
		if (first) document.title = [nameOf(/** @type {any} */ ({ t }), first.operation), first.crew, first.day ? dayWords("en", first.day, "long") : "", got.estate.name].filter(Boolean).join(" · ");
		document.documentElement.dataset.sheets = "ready";
	} catch (error) {
		document.documentElement.dataset.sheets = "failed";
		show(place, h("div", { class: "trouble", role: "alert" }, h("p", {}, t("sheet.failed", { why: why(error) })), button(t("app.try_again"), () => void begin())));
	}
}

/** Everything the sheets need. @returns {Promise<Sheets & {season: number}>} */
async function read() {
	const estate = await api.estate();
	const season = Number(query.get("season")) || estate.season;
	const all = await work.orders(season, { crew: query.get("crew") ?? "", day: query.get("day") ?? "" });
	const only = query.get("order");
	const orders = all.filter((o) => o.state === "open" && (!only || o.id === only));
	const stands = new Map();
	const runs = new Map();
	for (const block of new Set(orders.map((o) => o.block))) {
		stands.set(block, decodeStand(await api.stand(block, season)));
		// A block without a plan has no runs; its sheet says so.
		if (orders.some((o) => o.block === block && o.operation === "pruning")) runs.set(block, await api.runs(block, season, { goal: "balance", change: 6, limit: 1 }).catch(() => null));
	}
	/** @type {Map<string, import("./sheet.js").Facts>} */
	const facts = new Map();
	const fields = new Map();
	for (const o of orders) {
		if (!fields.has(o.crew)) fields.set(o.crew, await work.field(o.crew || "\u00a0"));
		const field = fields.get(o.crew);
		facts.set(o.id, { stand: stands.get(o.block), runs: runs.get(o.block) ?? null, cautions: field.cautions ?? [], section: field.orders?.find((/** @type {any} */ x) => x.id === o.id)?.rows?.[0]?.section ?? 0 });
	}
	return { estate, season, orders, facts };
}

void begin();
