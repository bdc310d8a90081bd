// Sheets of work, against the real program: printed for crews without phones, and
// typed in when they come back.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { after, before, test } from "node:test";
import { openPage, until } from "./start.js";
import { address, begin, browser, clean, demo, end, makeOrder, open, orders, season, server, withdraw } from "./workhelp.js";

const axe = readFileSync(new URL("../../node_modules/axe-core/axe.min.js", import.meta.url), "utf8");

before(begin);
after(end);

test("a sheet typed in: whole rows, vines that were otherwise, once each, on the day of the sheet", async () => {
	const order = await makeOrder({ day: "2026-07-10" });
	const stand = await demo.stand(order.block, season);
	const run = order.rows[1];
	const inRow = stand.rows.find((r) => r.id === run.row);
	assert.ok(inRow);
	const living = Array.from({ length: inRow.count }, (_, k) => inRow.first + k).filter((i) => ![5, 6].includes(stand.condition[i]));
	const [gone, other] = [living[2], living[3]];
	const { page, context, noted } = await open(address("sheet", `&order=${order.id}`));
	await page.click('[data-key="record"]');
	assert.match((await page.textContent("#sheet-fault")) ?? "", /Tick a row/);
	await page.check("#row-done-0");
	await page.check("#row-done-1");
	await page.fill("#row-to-2", "9999");
	await page.click('[data-key="record"]');
	assert.match((await page.textContent("#sheet-fault")) ?? "", /has no such vine/);
	const third = stand.rows.find((r) => r.id === order.rows[2].row);
	assert.ok(third && order.rows[2].start === "near");
	await page.fill("#row-to-2", String(stand.number[third.first + 9]));
	await page.click('[data-key="odd-add"]');
	await page.selectOption("#odd-0-row", String(run.row));
	await page.fill("#odd-0-number", "9999");
	await page.click('[data-key="record"]');
	assert.match((await page.textContent("#sheet-fault")) ?? "", /has no such vine/);
	await page.fill("#odd-0-number", String(stand.number[gone]));
	await page.press("#odd-0-number", "Enter");
	await page.waitForSelector("#odd-1-number:focus");
	assert.equal(await page.inputValue("#odd-1-row"), String(run.row), "the next line begins in the same row");
	await page.keyboard.type(String(stand.number[other]));
	await page.selectOption("#odd-1-what", "nodes");
	await page.fill("#odd-1-nodes", "7");
	// Pressed twice, as somebody does who sees nothing happen.
	await page.$eval('[data-key="record"]', (b) => [b, b].forEach((one) => /** @type {HTMLElement} */ (one).click()));
	await until(page, "what was recorded to be sent", () => document.documentElement.dataset.waiting === "0" && /Recorded: 3 rows, 2 vines otherwise/.test(document.querySelector("#toast")?.textContent ?? ""));
	const made = async (/** @type {number} */ i) => (await demo.json(`/api/vines/${stand.id[i]}`)).events.filter((/** @type {any} */ e) => e.device.startsWith("page-") && !e.voided);
	assert.deepEqual((await made(gone)).map((/** @type {any} */ e) => [e.kind, e.value.condition, e.by, e.at]), [["condition", "missing", "North", "2026-07-10T15:00:00Z"]]);
	assert.deepEqual((await made(other)).map((/** @type {any} */ e) => [e.kind, e.value.nodes]), [["pruned", 7]]);
	assert.deepEqual((await made(living[5])).map((/** @type {any} */ e) => [e.kind, e.value.nodes]), [["pruned", undefined]]);
	const now = (await orders()).find((/** @type {any} */ o) => o.id === order.id);
	const alive = (/** @type {number} */ from, /** @type {number} */ n) => Array.from({ length: n }, (_, k) => from + k).filter((i) => ![5, 6].includes(stand.condition[i])).length;
	const firstRow = stand.rows.find((r) => r.id === order.rows[0].row);
	assert.ok(firstRow);
	assert.equal(now.done, alive(firstRow.first, firstRow.count) + living.length - 1 + alive(third.first, 10));
	await page.click(".toast-act");
	await until(page, "the undo to be sent", () => document.documentElement.dataset.waiting === "0");
	const end = Date.now() + 10_000;
	while ((await orders()).find((/** @type {any} */ o) => o.id === order.id).done !== 0) {
		assert.ok(Date.now() < end, "taken back");
		await new Promise((resolve) => setTimeout(resolve, 100));
	}
	await withdraw(order.id);
	assert.deepEqual(noted, clean);
	await context.close();
});

test("sheets: each order begins a page and is whole, A4 and Letter, black on white", async () => {
	const [a, b] = [await makeOrder({ day: "2026-09-01", note: "Mind the ditch." }), await makeOrder({ day: "2026-09-01", crew: "South", operation: "tying" })];
	const at = `${server.address}/print/orders?season=${season}&day=2026-09-01`;
	const ready = (/** @type {import("playwright-core").Page} */ page) => until(page, "the sheets", () => document.documentElement.dataset.sheets === "ready");
	const { page, context, noted } = await openPage(browser, at, { width: 1160, height: 900, ground: "dark" });
	await ready(page);
	assert.deepEqual(await page.$$eval(".sheet", (list) => list.map((s) => /** @type {HTMLElement} */ (s).dataset.order)), [a.id, b.id]);
	const one = page.locator(".sheet").first();
	const text = (await one.textContent()) ?? "";
	assert.match(text, new RegExp(`Pruning · block ${a.code}.*North · Tuesday, September 1, 2026.*Mind the ditch`, "s"));
	assert.match(text, /Local work-safety rules apply/);
	assert.deepEqual(await one.locator("tbody th").allTextContents(), a.rows.map((/** @type {any} */ r) => r.label));
	assert.equal(await one.locator(".box").count(), 3);
	assert.deepEqual(await one.locator(".plan-step").allTextContents().then((l) => l.sort()), ["1", "2", "3"]);
	assert.equal(await one.locator(".plan-ordered").count(), 3);
	const runs = (await demo.json(`/api/blocks/${a.block}/pruning/runs?season=${season}&goal=balance&change=6`)).rows?.find((/** @type {any} */ r) => r.row === a.rows[0].row);
	if (runs) assert.match(text, new RegExp(runs.pieces[0].text.replace(/[()+.]/g, "\\$&")));
	await page.evaluate(axe);
	assert.deepEqual(await page.evaluate(async () => (await /** @type {any} */ (globalThis).axe.run(document, { resultTypes: ["violations"] })).violations.map((/** @type {any} */ v) => v.id)), []);
	for (const [format, width] of /** @type {[string, number][]} */ ([["A4", 703], ["Letter", 725]])) {
		const pdf = (await page.pdf({ format })).toString("latin1");
		assert.equal(pdf.match(/\/Type\s*\/Page\b/g)?.length, 2, `${format}: two orders, two pages`);
		await page.setViewportSize({ width, height: 1000 });
		await page.emulateMedia({ media: "print", colorScheme: "dark" });
		const seen = await page.evaluate(() => ({
			wide: document.documentElement.scrollWidth - innerWidth, cut: [...document.querySelectorAll("table")].filter((t) => t.getBoundingClientRect().right > innerWidth).length,
			paper: getComputedStyle(document.body).backgroundColor, ink: getComputedStyle(document.body).color, buttons: [...document.querySelectorAll("button, a")].filter((x) => x.checkVisibility()).length,
		}));
		assert.deepEqual(seen, { wide: 0, cut: 0, paper: "rgb(255, 255, 255)", ink: "rgb(0, 0, 0)", buttons: 0 }, format);
		await page.emulateMedia({ media: null });
	}
	await page.goto(`${at}&crew=South`);
	await ready(page);
	assert.equal(await page.locator(".sheet").count(), 1);
	await page.goto(`${server.address}/print/orders?season=${season}&day=2020-01-01`);
	await page.waitForSelector("#none");
	await withdraw(a.id);
	await withdraw(b.id);
	assert.deepEqual(noted, clean);
	await context.close();
});
