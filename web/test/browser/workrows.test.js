// Rows done and left, lost days, hours of a changed proposal, sheets and cautions in
// four languages, and the map by operation, against the real program.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { uuid7Maker } from "../../lib/uuid7.js";
import { SHEETS, sheetTexts } from "../../sheet/texts.js";
import { operationOf } from "../../sheet/paper.js";
import { dayIn } from "../../work/days.js";
import { LANGUAGES } from "../../text/field/index.js";
import { estateAt } from "./estate.js";
import { newPhone } from "./fieldhelp.js";
import { atRest, launch, openPage, serveDemo, until } from "./start.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

/** @type {Awaited<ReturnType<typeof serveDemo>>} */
let server;
/** @type {import("playwright-core").Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof estateAt>>} */
let demo;
/** @type {any[]} */
let rows;
let season = 0;
let block = 0;
let today = "";

before(async () => {
	server = await serveDemo(["--vines", "3000"]);
	browser = await launch();
	demo = await estateAt(server.address);
	season = demo.estate.season;
	block = demo.blocks[0].id;
	today = dayIn(demo.estate.zone, new Date());
	rows = (await demo.json(`/api/blocks/${block}?season=${season}`)).row_list.filter((/** @type {any} */ r) => r.vines > 0);
	await record();
});
after(async () => {
	await browser?.close();
	await server?.stop();
});

const clean = { foreign: [], policy: [], errors: [] };
const number = (/** @type {number} */ n) => new Intl.NumberFormat("en").format(n);
const work = (/** @type {string} */ show, operation = "pruning") => `${server.address}/work#season=${season}&operation=${encodeURIComponent(operation)}&show=${show}`;
const state = (/** @type {import("playwright-core").Page} */ page, /** @type {string} */ word) => until(page, `the page to be ${word}`, `document.documentElement.dataset.work === "${word}"`);
const progress = (operation = "pruning") => demo.json(`/api/progress?season=${season}&operation=${encodeURIComponent(operation)}`);
const orders = async () => (await demo.json(`/api/orders?season=${season}`)).orders;
const violations = async (/** @type {import("playwright-core").Page} */ page) => {
	await page.evaluate(axe);
	return page.evaluate(async () => (await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] })).violations.map((/** @type {any} */ v) => `${v.id}: ${v.nodes.map((/** @type {any} */ n) => n.target.join(" ")).join(", ")}`));
};

/** @param {string} path @param {string} method @param {object} body */
async function send(path, method, body) {
	const answer = await fetch(server.address + path, { method, headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) });
	assert.ok(answer.ok, `${path}: ${answer.status} ${await answer.clone().text()}`);
	return answer.status === 204 ? null : answer.json();
}

/** Whole rows by two crews on two days, and a row each of other work. */
async function record() {
	const id = uuid7Maker();
	const event = (/** @type {number} */ k, /** @type {string} */ at, /** @type {string} */ by, /** @type {string} */ kind, /** @type {object} */ value) => ({ id: id(), device: "test", seq: ++seq, at, by, season, block, row: rows[k].id, kind, value });
	let seq = 0;
	const events = [["2026-07-06", [0, 1]], ["2026-07-07", [2, 3, 4]]].flatMap(([day, list]) => /** @type {number[]} */ (list).map((k) => event(k, `${day}T1${k}:00:00Z`, k % 2 ? "South: Leo" : "North: Ana", "pruned", {})));
	for (const [k, operation] of ["pre-pruning", "pulling brush", "tying", "shoot thinning", "checking"].entries()) events.push(event(k, "2026-07-08T12:00:00Z", "North: Ana", "work", { operation, progress: "done" }));
	const { results } = await send("/api/events", "POST", { sent_at: new Date().toISOString(), events });
	assert.deepEqual(results.filter((/** @type {any} */ r) => r.result !== "stored"), []);
}

/** @param {object} more */
async function makeOrder(more) {
	const order = { season, operation: "pruning", block, crew: "North", day: "2026-09-01", rows: rows.slice(-3).map((r, k) => ({ row: r.id, start: k % 2 ? "far" : "near" })), ...more };
	return (await send("/api/orders", "POST", { by: "test", orders: [order] })).orders[0];
}
const withdraw = (/** @type {any[]} */ list) => Promise.all(list.map((o) => send(`/api/orders/${o.id}`, "DELETE", {})));

test("rows done and left: in words, as a chart with its table, by crew, and as files", async () => {
	const order = await makeOrder({});
	const got = await progress();
	const done = got.rows.reduce((/** @type {number} */ n, /** @type {any} */ r) => n + r.done, 0);
	assert.ok(done >= 5);
	const sum = (/** @type {"done" | "left"} */ key, /** @type {(r: any) => boolean} */ of) => got.rows.filter(of).reduce((/** @type {number} */ n, /** @type {any} */ r) => n + r[key], 0);
	const unordered = sum("left", (r) => !r.day && !r.crew);
	assert.ok(unordered < rows.length - done, "some are ordered");
	const { page, context, noted } = await openPage(browser, work("progress"), { width: 1160, height: 800 });
	await state(page, "ready");
	assert.match((await page.textContent("#rows .work-says")) ?? "", new RegExp(`${done} of ${rows.length} rows done\\. ${rows.length - done - unordered} rows are left in open orders, ${unordered} in no order`));
	assert.match((await page.textContent("#rows")) ?? "", /on which the last of its living vines was done, for the crew that did most of it/);
	const cells = (/** @type {string} */ selector) => page.$$eval(selector, (list) => list.map((r) => [...r.children].map((c) => c.textContent)));
	const days = await cells("#rows details:first-of-type tbody tr");
	assert.deepEqual(days.slice(0, 2).map((d) => d.slice(0, -1)), [["Jul 7", "2", "1", "3"], ["Jul 6", "1", "1", "2"]]);
	const crews = await cells("#rows .scroller:not(details .scroller) tbody tr");
	assert.deepEqual(crews.slice(0, 2), ["North", "South"].map((name) => [name, String(sum("done", (r) => r.crew === name)), String(sum("left", (r) => r.crew === name))]));
	assert.deepEqual(crews.slice(0, 2).map((c) => c[1]), ["3", "2"]);
	assert.equal((await cells("#rows details:last-of-type tbody tr")).length, got.rows.length);
	assert.equal(await page.locator("#row-chart rect.row-bar").count(), 4 + 2, "four pieces of two bars, and two in the key");
	assert.match((await page.getAttribute("#row-chart svg[role=img]", "aria-label")) ?? "", /rows done/);
	for (const [key, head] of [["file-rows", "operation,block,row,vines,vines_done"], ["file-days", "operation,day,crew,block,rows_done,rows_left"]]) {
		const file = page.waitForEvent("download");
		await page.click(`[data-key="${key}"]`);
		assert.ok(readFileSync(await (await file).path(), "utf8").startsWith(head), key);
	}
	const rates = await cells("#rates tbody tr");
	assert.equal(rates.length, got.rates.length);
	got.rates.forEach((/** @type {any} */ r, /** @type {number} */ k) => assert.deepEqual(rates[k].slice(4), [r.spells, r.vines, r.records].map(number)));
	assert.deepEqual(await violations(page), []);
	await page.setViewportSize({ width: 320, height: 700 });
	await until(page, "the chart to be drawn anew", () => document.querySelector("#row-chart svg[role=img]")?.getBoundingClientRect().width < 320);
	assert.ok((await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)) <= 0, "no wider than the phone");
	assert.deepEqual(noted, clean);
	await withdraw([order]);
	await context.close();
});

test("a day that is lost: its orders move on, the finish with them, and it is taken back", async () => {
	const [a, b] = [await makeOrder({ day: today }), await makeOrder({ day: today, operation: "tying", crew: "South" })];
	const before = await progress();
	const { page, context, noted } = await openPage(browser, work("progress"), { width: 1160, height: 800 });
	await state(page, "ready");
	await page.fill("#lost-by", "Test Leader");
	await page.click('[data-key="lose"]');
	await page.waitForSelector(`#lost-days li[data-day="${today}"]`);
	const moved = (await orders()).filter((/** @type {any} */ o) => o.id === a.id || o.id === b.id);
	assert.equal(moved.length, 2);
	for (const o of moved) assert.ok(o.day > today && new Date(`${o.day}T00:00:00Z`).getUTCDay() !== 0, o.day);
	assert.ok(moved.every((/** @type {any} */ o) => o.by === "Test Leader"), "of every operation");
	const after = await progress();
	assert.deepEqual(after.lost, [today]);
	// Where today is a Sunday it was no day of work before.
	if (new Date(`${today}T00:00:00Z`).getUTCDay() !== 0) assert.ok(after.forecast.likely > before.forecast.likely, `${before.forecast.likely} to ${after.forecast.likely}`);
	await page.click('[data-key="part-new"]');
	await state(page, "ready");
	await page.click('[data-key="off"]');
	assert.equal(await page.isChecked(`#off-${today}`), true, "new orders leave it out");
	await page.click('[data-key="part-progress"]');
	await page.click(`[data-key="back-${today}"]`);
	await until(page, "no day", `!document.querySelector('#lost-days li[data-day="${today}"]')`);
	assert.equal((await progress()).forecast.likely, before.forecast.likely);
	assert.deepEqual(noted, clean);
	await withdraw([a, b]);
	await context.close();
});

test("rows moved by hand: the hours are the server's, to the row", async () => {
	const { page, context, noted } = await openPage(browser, work("new"), { width: 1160, height: 800 });
	await state(page, "ready");
	await page.click('[data-key="all-blocks"]');
	await page.fill("#days", "10");
	await page.click('[data-key="share"]');
	await state(page, "proposed");
	await until(page, "the hours", () => document.querySelector("#hours-how[data-hours=counted]"));
	const first = page.locator("#rows table").first();
	const from = await first.getAttribute("data-crew");
	await first.locator(".pick").first().check();
	const to = await page.$eval("#move-crew", (s, own) => [.../** @type {HTMLSelectElement} */ (s).options].map((o) => o.value).find((v) => v && v !== own) ?? "", from);
	await page.selectOption("#move-crew", to);
	const weighed = page.waitForResponse((r) => r.url().endsWith("/api/orders/weigh"));
	await page.click('[data-key="move"]');
	const { crews } = await (await weighed).json();
	await until(page, "the hours", () => document.querySelector("#hours-how[data-hours=counted]"));
	const says = (await page.textContent("#sentence .work-says")) ?? "";
	for (const c of crews) assert.match(says, new RegExp(`${c.name}: ${c.rows} rows?, ${number(c.vines)} vines?, ${number(Math.round(c.hours))} hours?`));
	await page.route("**/api/orders/weigh", (route) => route.fulfill({ status: 503, json: { title: "the store is busy" } }));
	await page.locator("#rows table").first().locator(".pick").first().check();
	await page.click('[data-key="drop"]');
	await until(page, "the fault in words", () => /estimates, since they could not be counted: the store is busy/.test(document.querySelector("#hours-how")?.textContent ?? ""));
	noted.errors = noted.errors.filter((e) => !/503/.test(e));
	assert.deepEqual(noted, clean);
	await context.close();
});

test("sheets in the crew's language or another one, with the cautions of their operation, whole on A4 and Letter", async () => {
	const { operations } = await demo.json("/api/operations");
	const { crews } = await demo.json("/api/crews");
	const north = crews.find((/** @type {any} */ c) => c.name === "North");
	await send("/api/crews/North", "PUT", { ...north, language: "pt" });
	const made = [];
	for (const o of operations) made.push(await makeOrder({ day: "2026-09-03", operation: o.name }));
	const { page, context, noted } = await openPage(browser, `${server.address}/print/orders?season=${season}&day=2026-09-03`, { width: 1160, height: 900 });
	await until(page, "the sheets", () => document.documentElement.dataset.sheets === "ready");
	assert.deepEqual(await page.$$eval(".sheet", (list) => [...new Set(list.map((s) => s.getAttribute("lang")))]), ["pt"], "the crew's own");
	for (const language of Object.keys(SHEETS)) {
		await page.selectOption("#language", language);
		await until(page, language, `document.querySelector(".sheet").lang === "${language}"`);
		const t = sheetTexts(language);
		for (const [k, order] of made.entries()) {
			const sheet = page.locator(`.sheet[data-order="${order.id}"]`);
			assert.ok((await sheet.locator("h2").textContent())?.startsWith(operationOf(t, order.operation)), `${language} ${order.operation}`);
			assert.deepEqual(await sheet.locator(".sheet-mind li").allTextContents(), operations[k].cautions.map((/** @type {any} */ c) => t(`caution.${c.hazard}`)), `${language} ${order.operation}`);
		}
		for (const [format, width] of /** @type {[string, number][]} */ ([["A4", 703], ["Letter", 725]])) {
			await page.setViewportSize({ width, height: 1000 });
			await page.emulateMedia({ media: "print" });
			assert.deepEqual(await page.evaluate(() => ({ wide: document.documentElement.scrollWidth - innerWidth, cut: [...document.querySelectorAll("table")].filter((x) => x.getBoundingClientRect().right > innerWidth).length })), { wide: 0, cut: 0 }, `${language} ${format}`);
			await page.emulateMedia({ media: null });
			const pdf = (await page.pdf({ format })).toString("latin1");
			assert.equal(pdf.match(/\/Type\s*\/Page\b/g)?.length, made.length, `${language} ${format}: an order, a page`);
		}
	}
	assert.deepEqual(await violations(page), []);
	assert.deepEqual(noted, clean);
	await withdraw(made);
	await context.close();
});

test("work of the estate's own: added, shared like the rest, taken away", async () => {
	const { page, context, noted } = await openPage(browser, work("crews"), { width: 1280, height: 900 });
	await page.waitForSelector("#own-operations");
	await page.fill("#operation-name", "pruning");
	await page.click('[data-key="add-operation"]');
	assert.match((await page.textContent("#operation-fault")) ?? "", /has this already/);
	await page.fill("#operation-name", "mulching");
	await page.click('[data-key="add-operation"]');
	assert.match((await page.textContent("#operation-fault")) ?? "", /between 0 and 240/);
	for (const k of ["cane", "spur", "young"]) await page.fill(`#operation-${k}`, "0.5");
	await page.selectOption("#operation-after", "pruning");
	await page.click('[data-key="add-operation"]');
	await until(page, "the new work", () => document.querySelector('[data-operation="mulching"]') !== null);
	assert.match((await page.textContent('[data-operation="mulching"]')) ?? "", /0\.5 min on canes.*after pruning/i);
	const { operations } = await demo.json("/api/operations");
	assert.deepEqual([operations.at(-1).name, operations.at(-1).own, operations.at(-1).after], ["mulching", true, "pruning"]);
	assert.equal(await page.locator('option[value="mulching"]').count() > 0, true, "it can be chosen");
	await page.click('[data-key="drop-mulching"]');
	await until(page, "it to be gone", () => document.querySelector("#own-operations .state") !== null);
	assert.deepEqual(noted.errors, []);
	await context.close();
});

test("the phone's order has the cautions of its operation", async () => {
	const made = [await makeOrder({ operation: "shoot thinning" }), await makeOrder({ operation: "replanting", day: "2026-09-02" })];
	const { operations } = await demo.json("/api/operations");
	const field = await demo.json("/api/field?crew=North");
	for (const o of made) assert.deepEqual(field.orders.find((/** @type {any} */ k) => k.id === o.id).cautions, operations.find((/** @type {any} */ k) => k.name === o.operation).cautions.map((/** @type {any} */ c) => c.hazard));
	const phone = await newPhone(server.address, { language: "fr" });
	await phone.open();
	await phone.click("language-fr");
	await phone.page.fill("#name", "Ana");
	await phone.click("name-keep");
	await phone.click("crew-North");
	await phone.page.waitForSelector(`[data-key="order-${made[0].id}"]`);
	for (const o of made) {
		await phone.go(`#order=${o.id}`, ".cautions");
		const want = field.orders.find((/** @type {any} */ k) => k.id === o.id).cautions.map((/** @type {string} */ c) => LANGUAGES.fr.table[`caution.${c}`]);
		await until(phone.page, o.operation, `JSON.stringify([...document.querySelectorAll(".cautions li")].map((l) => l.textContent)) === ${JSON.stringify(JSON.stringify(want))}`);
	}
	assert.deepEqual(phone.errors, []);
	await phone.close();
	await withdraw(made);
});

test("the map shows each operation that is done on vines, and its legend counts", async () => {
	const { operations } = await demo.json("/api/operations");
	const names = operations.filter((/** @type {any} */ o) => o.on === 0).map((/** @type {any} */ o) => o.name);
	const { page, context, noted } = await openPage(browser, `${server.address}/#season=${season}&theme=progress`, { width: 1400, height: 800 });
	await atRest(page);
	await until(page, "the list", `document.querySelector("#map-operation").options.length === ${names.length}`);
	assert.deepEqual(await page.$$eval("#map-operation option", (list) => list.map((o) => /** @type {HTMLOptionElement} */ (o).value)), names);
	const counts = () => page.$$eval(".legend-class", (list) => list.map((b) => Number(b.querySelector(".legend-count")?.firstChild?.textContent?.replaceAll(",", ""))));
	for (const name of [...names.filter((/** @type {string} */ n) => n !== "pruning"), "pruning"]) {
		const tiles = page.waitForRequest((r) => /\/tiles\/.*\.mvt/.test(r.url()) && (new URL(r.url()).searchParams.get("operation") ?? "pruning") === name);
		await page.selectOption("#map-operation", name);
		await tiles;
		const { blocks } = await demo.json(`/api/blocks?season=${season}&operation=${encodeURIComponent(name)}`);
		const want = ["not_started", "started", "done", "to_redo", "skipped"].map((k) => blocks.reduce((/** @type {number} */ n, /** @type {any} */ b) => n + (b.totals.progress[k] ?? 0), 0));
		assert.ok(want[2] > 0, `${name}: something is done`);
		await until(page, `the counts of ${name}`, `JSON.stringify([...document.querySelectorAll(".legend-class .legend-count")].map((c) => Number(c.firstChild.textContent.replaceAll(",", "")))) === '${JSON.stringify(want)}'`);
		assert.deepEqual(await counts(), want);
		assert.equal(new URLSearchParams((await page.evaluate(() => location.hash)).slice(1)).get("operation") ?? "pruning", name);
	}
	assert.deepEqual(await page.$$eval(".page-links a", (list) => list.map((a) => a.getAttribute("href"))), [`/work#season=${season}`, "/field", "/import", "/ground", "/people"], "the ways to the other pages");
	assert.deepEqual(noted, clean);
	await context.close();
});
